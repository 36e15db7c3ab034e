-- When the salon was last copied by the schedule, and how that went. A run that died leaves no row: it is due again.

CREATE TABLE backup_run (
  id       TEXT PRIMARY KEY,
  dest     TEXT NOT NULL CHECK (dest <> ''),
  begun_at TEXT NOT NULL,
  ended_at TEXT NOT NULL,
  snapshot TEXT NOT NULL,                                     -- '' where it failed
  photos   INTEGER NOT NULL CHECK (photos >= 0),              -- in the backup
  copied   INTEGER NOT NULL CHECK (copied >= 0),              -- by this run
  bytes    INTEGER NOT NULL CHECK (bytes >= 0),               -- copied by this run
  damaged  INTEGER NOT NULL CHECK (damaged >= 0),             -- photos of the salon
  lost     INTEGER NOT NULL CHECK (lost >= 0),                -- of these, not in the backup either
  trouble  TEXT NOT NULL CHECK (json_valid(trouble))          -- the sentence that says why it failed; null: it did not
) STRICT;
CREATE INDEX backup_run_dest ON backup_run (dest, begun_at);
