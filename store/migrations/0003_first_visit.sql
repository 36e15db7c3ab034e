-- What an owner tells of her dog's coat and what the first pinch test said; kinds of coat of the salon's own; what an hour
-- on the table costs.

ALTER TABLE dog ADD COLUMN ever_clipped INTEGER NOT NULL DEFAULT 0 CHECK (ever_clipped IN (0,1));
ALTER TABLE dog ADD COLUMN neutered INTEGER NOT NULL DEFAULT 0 CHECK (neutered IN (0,1));
ALTER TABLE dog ADD COLUMN coat_change INTEGER NOT NULL DEFAULT 0 CHECK (coat_change IN (0,1)); -- an illness or a medicine that changes the coat, neither is named
ALTER TABLE dog ADD COLUMN pinched TEXT NOT NULL DEFAULT 'null' CHECK (json_valid(pinched));    -- the first pinch test: its day, and ripeness by group of zones

ALTER TABLE settings ADD COLUMN hour_cents INTEGER NOT NULL DEFAULT 0 CHECK (hour_cents >= 0);  -- hundredths of the currency; 0: no price is told
ALTER TABLE settings ADD COLUMN currency TEXT NOT NULL DEFAULT '';                              -- as the salon writes it

-- A dog's profile column names a built-in kind of coat, or one of these by its ID.
CREATE TABLE profile (
  id         TEXT PRIMARY KEY,
  rev        INTEGER NOT NULL CHECK (rev >= 1),
  name       TEXT NOT NULL CHECK (name <> ''),
  name_key   TEXT NOT NULL CHECK (name_key <> ''),
  doc        TEXT NOT NULL CHECK (json_valid(doc)), -- the whole kind of coat, each value with its source
  added_at   TEXT NOT NULL,
  trashed_at TEXT
) STRICT;
CREATE UNIQUE INDEX profile_name ON profile (name_key) WHERE trashed_at IS NULL;
