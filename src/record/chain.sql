-- Second migration: checksums, by which a changed, lost or exchanged row shows, and keys of requests, by which one that is
-- sent again stores nothing twice.

CREATE TABLE request (
    key         TEXT PRIMARY KEY NOT NULL CHECK (length(key) BETWEEN 1 AND 100), -- chosen by whoever sends the request
    contents    TEXT NOT NULL CHECK (length(contents) = 64),  -- SHA-256 of the entries as they were sent
    first_entry INTEGER NOT NULL REFERENCES entry (id),       -- what was stored then
    last_entry  INTEGER NOT NULL REFERENCES entry (id) CHECK (last_entry >= first_entry)
) STRICT;

-- One row for each car, entry and request, in the order they were stored.
CREATE TABLE checksum (
    number INTEGER PRIMARY KEY CHECK (number >= 1),           -- 1, 2, 3 ... without a gap
    kind   TEXT NOT NULL CHECK (kind IN ('car', 'entry', 'request')),
    of_row TEXT NOT NULL,                                     -- reference, number or key of the row
    sum    TEXT NOT NULL CHECK (length(sum) = 64),            -- SHA-256 of the sum before, the kind and the row without owner
    UNIQUE (kind, of_row)
) STRICT;

-- Where the chain ends: without it rows lost at its end would not show.
CREATE TABLE chain (
    only  INTEGER PRIMARY KEY CHECK (only = 1),
    count INTEGER NOT NULL,                                   -- rows of `checksum`
    head  TEXT NOT NULL                                       -- the last sum
) STRICT;

INSERT INTO chain (only, count, head) VALUES (1, 0, '');

CREATE TRIGGER request_is_never_changed BEFORE UPDATE ON request
BEGIN SELECT RAISE(ABORT, 'requests are never changed'); END;

CREATE TRIGGER request_is_never_deleted BEFORE DELETE ON request
BEGIN SELECT RAISE(ABORT, 'requests are never deleted'); END;

CREATE TRIGGER checksum_is_never_changed BEFORE UPDATE ON checksum
BEGIN SELECT RAISE(ABORT, 'checksums are never changed'); END;

CREATE TRIGGER checksum_is_never_deleted BEFORE DELETE ON checksum
BEGIN SELECT RAISE(ABORT, 'checksums are never deleted'); END;

CREATE TRIGGER chain_only_grows BEFORE UPDATE ON chain
WHEN NEW.only IS NOT OLD.only OR NEW.count IS NOT OLD.count + 1
BEGIN SELECT RAISE(ABORT, 'the chain grows by one row at a time'); END;

CREATE TRIGGER chain_is_never_deleted BEFORE DELETE ON chain
BEGIN SELECT RAISE(ABORT, 'the chain is never deleted'); END;
