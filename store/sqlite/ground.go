package sqlite

import (
	"context"
	"os"
	"path/filepath"

	"example.org/bookend/fault"
)

const (
	// GroundFile is the database's name in a ground's folder.
	GroundFile = "ground.db"

	// groundID marks the file as a ground of bookend ("bkgr" in ASCII).
	groundID = 0x626b6772
)

var ofGround = shelf{GroundFile, "ground", groundID}

// CreateGround makes a ground's folder and opens it. A folder that holds a
// ground already is a conflict; any other content is left alone.
func CreateGround(ctx context.Context, dir string) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, GroundFile)); err == nil {
		return nil, fault.New(fault.Conflict, "there is a ground already").At("%s", dir).WithHint("begin programmes in it: bookend new FOLDER")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fault.New(fault.Invalid, "making the folder: %w", err).At("%s", dir)
	}
	return open(ctx, dir, ofGround)
}

// OpenGround opens a ground's folder; a not-found fault where there is none.
func OpenGround(ctx context.Context, dir string) (*Store, error) {
	if !IsGround(dir) {
		return nil, fault.New(fault.NotFound, "no ground here: there is no %s", GroundFile).At("%s", dir).
			WithHint("go to a ground's folder, or make one: bookend ground new FOLDER")
	}
	return open(ctx, dir, ofGround)
}

// IsGround tells whether a folder is a ground's.
func IsGround(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, GroundFile))
	return err == nil
}

// GroundOf gives the folder of the ground that a programme's folder lies in;
// empty where it lies in none.
func GroundOf(dir string) string {
	full, err := filepath.Abs(dir)
	if err != nil {
		return ""
	}
	if up := filepath.Dir(full); IsGround(up) {
		return up
	}
	return ""
}
