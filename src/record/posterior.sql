-- Third migration: what was learned from the grades of the record's own cars. The latest row counts.

CREATE TABLE posterior (
    id         INTEGER PRIMARY KEY CHECK (id >= 1),
    adopted_at TEXT NOT NULL,                                 -- when it was adopted, UTC
    contents   TEXT,                                          -- JSON: draws of the shared inputs; nothing where the priors hold again
    sha256     TEXT NOT NULL CHECK (length(sha256) = 64)      -- of the time and the contents
) STRICT;

CREATE TRIGGER posterior_is_never_changed BEFORE UPDATE ON posterior
BEGIN SELECT RAISE(ABORT, 'a posterior is never changed; adopt another one'); END;

CREATE TRIGGER posterior_is_never_deleted BEFORE DELETE ON posterior
BEGIN SELECT RAISE(ABORT, 'a posterior is never deleted; go back to the priors'); END;
