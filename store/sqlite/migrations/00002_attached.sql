-- +goose Up
-- Voices and pictures, kept in the folder "attached" under their hash. Entries
-- hold the hash alone, so that what was said can be erased and the chain stands.
CREATE TABLE attached (
    sha256 TEXT PRIMARY KEY,
    size   INTEGER NOT NULL,
    erased INTEGER NOT NULL DEFAULT 0 CHECK (erased IN (0, 1))
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE attached;
