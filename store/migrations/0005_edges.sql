-- The dog's edge in a photo, found by the program, corrected and confirmed by a person; and the outline that is wanted of a
-- dog, drawn once.

CREATE TABLE edge (
  photo     TEXT PRIMARY KEY REFERENCES photo ON DELETE CASCADE,
  rev       INTEGER NOT NULL CHECK (rev >= 1),
  polygon   TEXT NOT NULL CHECK (json_valid(polygon)),   -- [[x, y], …], px of the upright photo, closed
  holes     TEXT NOT NULL CHECK (json_valid(holes)),     -- [[[x, y], …], …]
  method    TEXT NOT NULL,                               -- where the first guess came from
  confirmed TEXT NOT NULL CHECK (json_valid(confirmed)), -- zones whose contour a person has looked at and found right
  look_only TEXT NOT NULL CHECK (json_valid(look_only)), -- zone → why it is not to be measured here
  maker     INTEGER NOT NULL CHECK (maker >= 0),         -- version of what found it
  saved_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE target_line (
  dog      TEXT PRIMARY KEY REFERENCES dog ON DELETE CASCADE,
  rev      INTEGER NOT NULL CHECK (rev >= 1),
  photo    TEXT NOT NULL REFERENCES photo,               -- the photo it was drawn on
  lines    TEXT NOT NULL CHECK (json_valid(lines)),      -- [[[x, y], …], …], px of that photo, open
  saved_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;
