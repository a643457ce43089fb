-- +goose Up
-- What people entered, in the order the store received it. Never updated.
CREATE TABLE entry (
    sequence    INTEGER PRIMARY KEY,
    id          TEXT    NOT NULL UNIQUE,
    kind        TEXT    NOT NULL,
    version     INTEGER NOT NULL,
    device      TEXT    NOT NULL,
    counter     INTEGER NOT NULL,
    sent        TEXT    NOT NULL, -- canonical JSON as received, before the store's own fields
    whole       TEXT    NOT NULL, -- canonical JSON with sequence, server time and previous hash
    hash        TEXT    NOT NULL  -- SHA-256 of whole
) STRICT;

CREATE INDEX entry_by_device ON entry (device, counter);

-- Raw files kept in the folder "recordings" under their hash.
CREATE TABLE raw (
    sha256 TEXT PRIMARY KEY,
    size   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What was computed, by the id of its derivation. May be dropped and made again.
CREATE TABLE result (
    derivation TEXT PRIMARY KEY,
    body       TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE result;
DROP TABLE raw;
DROP TABLE entry;
