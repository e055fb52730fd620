-- The workshop's record: one SQLite file. This text is the schema document and the first migration.
-- Units end the names: wall_mm is millimetres. Dates are YYYY-MM-DD, times are UTC as 2026-03-01T10:15:00Z.
-- Nothing is changed or deleted: a correction is a new entry that supersedes an old one.
-- Names of people and photos have no place here; `owner` is the one free text about a person, and it can be wiped.

CREATE TABLE car (
    ref                TEXT PRIMARY KEY NOT NULL              -- the workshop's own reference
                       CHECK (length(ref) BETWEEN 1 AND 40 AND ref NOT GLOB '*[^A-Za-z0-9._-]*'),
    first_registration TEXT NOT NULL,                         -- date, age zero
    owner              TEXT CHECK (length(owner) >= 1),       -- free text, wiped by `forget`
    case_toml          TEXT NOT NULL                          -- the case: member, tube, coating, storage, use
) STRICT;

CREATE TABLE entry (
    id                INTEGER PRIMARY KEY CHECK (id >= 1),
    recorded_at       TEXT NOT NULL,                          -- when it was written down, UTC
    car               TEXT NOT NULL REFERENCES car (ref),
    kind              TEXT NOT NULL
                      CHECK (kind IN ('inspection', 'treatment', 'rework', 'quote', 'storage', 'note')),
    date              TEXT NOT NULL,                          -- when it happened
    location          TEXT,                                   -- where on the member
    what              TEXT,                                   -- what was done, quoted or changed; a key of case files for a treatment or rework
    grade_scale       TEXT CHECK (grade_scale IN ('Ri', 'D610')), -- ISO 4628-3 or ASTM D610
    grade             INTEGER,                                -- Ri 0 (no rust) to 5; D610 10 (no rust) to 0
    wall_mm           REAL CHECK (wall_mm > 0),               -- wall reading
    gauge             TEXT,                                   -- what it was read with
    cleaned_and_sound INTEGER CHECK (cleaned_and_sound IN (0, 1)),
    inspector         TEXT,                                   -- a code, no name
    amount            REAL CHECK (amount >= 0),               -- money, in the workshop's currency
    remark            TEXT,
    supersedes        INTEGER UNIQUE REFERENCES entry (id) CHECK (supersedes < id), -- the entry this one corrects
    CHECK ((grade_scale IS NULL) = (grade IS NULL)),
    CHECK (grade BETWEEN 0 AND CASE grade_scale WHEN 'Ri' THEN 5 ELSE 10 END)
) STRICT;

CREATE INDEX entry_by_car ON entry (car, date, id);

CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never changed; add one that supersedes'); END;

CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never deleted; add one that supersedes'); END;

CREATE TRIGGER entry_corrects_its_like BEFORE INSERT ON entry WHEN NEW.supersedes IS NOT NULL
BEGIN
    SELECT RAISE(ABORT, 'an entry supersedes an entry of the same car and kind')
    WHERE NOT EXISTS (SELECT 1 FROM entry WHERE id = NEW.supersedes AND car = NEW.car AND kind = NEW.kind);
END;

CREATE TRIGGER car_is_never_deleted BEFORE DELETE ON car
BEGIN SELECT RAISE(ABORT, 'cars are never deleted; the owner can be wiped'); END;

CREATE TRIGGER car_is_never_changed BEFORE UPDATE ON car
WHEN NEW.ref IS NOT OLD.ref OR NEW.first_registration IS NOT OLD.first_registration
    OR NEW.case_toml IS NOT OLD.case_toml OR NEW.owner IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'of a car only the owner can be wiped'); END;

-- Every entry with the one that corrects it, if any.
CREATE VIEW history AS
    SELECT entry.*, later.id AS superseded_by
    FROM entry LEFT JOIN entry AS later ON later.supersedes = entry.id;

-- What holds now.
CREATE VIEW current_entry AS SELECT * FROM history WHERE superseded_by IS NULL;
