-- Where the scale of a photo comes from: the table marker, the camera's focal length, two marks on the tape line. Comb
-- readings of how far the coat stands off. The salon's own spread. Photos of several dogs, until they are filed.

ALTER TABLE original ADD COLUMN focal_px REAL NOT NULL DEFAULT 0 CHECK (focal_px >= 0);                 -- px of the upright photo; 0 not known
ALTER TABLE original ADD COLUMN marker TEXT NOT NULL DEFAULT 'null' CHECK (json_valid(marker));         -- what a look for the marker has found; null: not looked for yet
ALTER TABLE photo ADD COLUMN tape TEXT NOT NULL DEFAULT 'null' CHECK (json_valid(tape));                -- {"a":[x,y],"b":[x,y],"mm":500}; null: not pointed at

ALTER TABLE reading ADD COLUMN of TEXT NOT NULL DEFAULT 'length' CHECK (of IN ('length','depth'));      -- length_mm is of this
ALTER TABLE reading ADD COLUMN phase TEXT NOT NULL DEFAULT '' CHECK (phase IN ('','start','during','end')); -- of a depth: when in the session; '' the start

-- One dog stood up several times without any work.
CREATE TABLE salon_check (
  id         TEXT PRIMARY KEY,
  dog        TEXT NOT NULL REFERENCES dog,
  on_day     TEXT NOT NULL CHECK (length(on_day) = 10),
  photos     TEXT NOT NULL CHECK (json_valid(photos)), -- IDs, in the order in which she was stood up
  floor      TEXT NOT NULL CHECK (json_valid(floor)),  -- standard deviations of one standing-up
  added_at   TEXT NOT NULL,
  trashed_at TEXT
) STRICT;

-- Photos whose dog has not been said yet. Each is an original like any other; it gets a row in photo when it is filed,
-- and its row here goes in the same step.
CREATE TABLE heap (
  id         TEXT PRIMARY KEY,
  sha256     TEXT NOT NULL REFERENCES original,
  file       TEXT NOT NULL,                            -- the name it came under
  said_dog   TEXT REFERENCES dog,                      -- a person's choice before all are confirmed; NULL: none
  added_at   TEXT NOT NULL,
  trashed_at TEXT
) STRICT;
CREATE UNIQUE INDEX heap_once ON heap (sha256);
