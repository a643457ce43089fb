package match

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/signal"
)

// openData gives a file of the open recordings, beside the checkout or where
// BOOKEND_DATA says; without it the test is skipped.
func openData(t *testing.T, name string) []byte {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "shared", "data")
	}
	b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
	if os.IsNotExist(err) {
		t.Skipf("the open data are not here (%s); set BOOKEND_DATA", name)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// column is a column of a table and what becomes of it.
type column struct {
	name  string
	role  signal.Role
	scale float64
}

// plain reads a comma-separated recording whose first columns are known, for tests
// of what comes after reading.
func plain(t *testing.T, name, timeColumn string, columns ...column) *signal.Recording {
	t.Helper()
	f := csv.NewReader(bytes.NewReader(openData(t, name)))
	rows, err := f.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	index := func(name string) int {
		for i, h := range rows[0] {
			if h == name {
				return i
			}
		}
		t.Fatalf("no column %q", name)
		return -1
	}
	n := len(rows) - 1
	values := func(name string) []float64 {
		k, out := index(name), make([]float64, n)
		for i, row := range rows[1:] {
			if out[i], err = strconv.ParseFloat(row[k], 64); err != nil {
				t.Fatal(err)
			}
		}
		return out
	}
	b := &signal.Base{T: values(timeColumn)}
	rec := &signal.Recording{Name: filepath.Base(name)}
	for _, c := range columns {
		v := values(c.name)
		for i := range v {
			v[i] *= c.scale
		}
		rec.Channels = append(rec.Channels, &signal.Channel{Name: c.name, Role: c.role, Base: b, Values: v, Valid: []signal.Span{{From: 0, To: n}}})
	}
	return rec
}

const deg = math.Pi / 180

// Laps of three real recordings, against crossings and lap times computed with
// numpy from the positions in the recordings' own plane (data/laps of the open
// data: agreement within 0.01 s is expected; lengths there are in that plane, 335 m
// above the ellipsoid, ours at height 0).
func TestLapsOfRealRecordings(t *testing.T) {
	type expected struct {
		GateENU   [2][2]float64 `json:"gate_enu_m"`
		Gate      [2][2]float64 `json:"gate_latlon_deg"`
		Direction [2]float64    `json:"direction_enu"`
		Crossing  []float64     `json:"crossing_gps_tow_s"`
		Lap       []float64     `json:"lap_time_s"`
		Length    []float64     `json:"lap_distance_m"`
		Offset    []float64     `json:"lateral_offset_m"`
	}
	var all map[string]expected
	if err := json.Unmarshal(openData(t, "laps/expected_laps.json"), &all); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"psu_loop_1.csv", "psu_loop_3.csv", "psu_loop_4.csv"} {
		t.Run(name, func(t *testing.T) {
			want := all[name]
			rec := plain(t, "laps/"+name, "gps_tow_s",
				column{"latitude_deg", signal.Latitude, deg}, column{"longitude_deg", signal.Longitude, deg},
				column{"v_north_mps", signal.VelocityNorth, 1}, column{"v_east_mps", signal.VelocityEast, 1})
			var posts course.Posts
			var err error
			for _, order := range [][2]int{{0, 1}, {1, 0}} { // which post is right follows from the direction
				a, b := want.GateENU[order[0]], want.GateENU[order[1]]
				if (b[0]-a[0])*-want.Direction[1]+(b[1]-a[1])*want.Direction[0] > 0 {
					r, l := want.Gate[order[0]], want.Gate[order[1]]
					posts, err = course.ParseGate(fmt.Sprintf("%v,%v,%v,%v", r[0], r[1], l[0], l[1]))
				}
			}
			if err != nil {
				t.Fatal(err)
			}
			c, err := course.New(posts)
			if err != nil {
				t.Fatal(err)
			}
			pieces, _, err := Cut(rec, c, lapSpec, nil)
			if err != nil {
				t.Fatal(err)
			}
			var laps []Piece
			for _, p := range pieces {
				if p.Kind == Timed {
					laps = append(laps, p)
				}
			}
			if len(laps) != len(want.Lap) {
				t.Fatalf("%d laps, want %d", len(laps), len(want.Lap))
			}
			for i, p := range laps {
				if math.Abs(p.ToS-p.FromS-want.Lap[i]) > 0.01 || math.Abs(p.FromS-want.Crossing[i]) > 0.01 {
					t.Errorf("lap %d: from %.4f, %.4f s; want from %.4f, %.4f s", i+1, p.FromS, p.ToS-p.FromS, want.Crossing[i], want.Lap[i])
				}
				if math.Abs(p.LengthM-want.Length[i]) > 0.1 {
					t.Errorf("lap %d: %.3f m, want %.3f m", i+1, p.LengthM, want.Length[i])
				}
				standing := name == "psu_loop_4.csv" && i == 0
				if p.Flags.Has(FlagStanding) != standing || p.Counts() == standing {
					t.Errorf("lap %d: flags %v", i+1, p.Flags)
				}
			}
			track, err := tracks(rec, c)
			if err != nil {
				t.Fatal(err)
			}
			// Offsets in the expected table count from the line of the second lap, to the
			// side that the gate's first post lies on: differences alone are compared.
			got := track[0].Crossings(c.Gates()[0])
			for i := range got {
				d, w := got[i].Offset-got[1].Offset, want.Offset[i]-want.Offset[1]
				if math.Abs(d-w) > 0.02 && math.Abs(d+w) > 0.02 {
					t.Errorf("crossing %d: offset %.3f, want ±%.3f", i+1, d, w)
				}
			}
		})
	}
}

// The real stop is one piece: the signal that is on while standing at the start lies
// before it, the fall to rest at 8.69 s and the rebound inside.
func TestARealStopIsOnePiece(t *testing.T) {
	rec := plain(t, "braking/roadview_abs_stop_1khz.csv", "time_s", column{"velocity_x_mps", signal.Speed, 1})
	v := rec.Channels[0]
	kept := &signal.Base{}
	var values []float64
	for i, x := range v.Base.T { // stamps that stand twice go, as with a reader
		if n := len(kept.T); n == 0 || x > kept.T[n-1] {
			kept.T, values = append(kept.T, x), append(values, v.Values[i])
		}
	}
	v.Base, v.Values, v.Valid = kept, values, []signal.Span{{From: 0, To: len(values)}}
	pieces, _, err := Cut(rec, nil, stopSpec, nil)
	if err != nil || len(pieces) != 1 {
		t.Fatal(err, pieces)
	}
	if p := pieces[0]; p.FromS < 0.55 || p.FromS > 2 || p.ToS < 8.8 || p.ToS > 10.7 {
		t.Errorf("%+v", p)
	}
}
