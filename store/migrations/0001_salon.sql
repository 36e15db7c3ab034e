-- The salon. Conventions of every table:
--   id            16 characters of Crockford's base 32, random, made by the store
--   rev           version of a row that people edit; an update names the version it was made from
--   …_at          an instant, UTC, fixed width 2026-11-25T09:30:00.000Z, so that text order is time order
--   on_day, …_day a civil day of the salon's calendar, YYYY-MM-DD
--   trashed_at    set: in the trash. Nothing is deleted by a person's tap.
-- Empty text means "not said"; NULL is used only where a foreign key, a unique index or an order needs it.

PRAGMA application_id = 1416126836; -- the letters "That": tells our file from another program's

-- Words that may grow, as rows, so that a new zone is one INSERT in a new migration and needs no table rebuilt.
CREATE TABLE zone (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO zone VALUES
  ('skull'),('brows'),('cheek'),('beard'),('ears'),
  ('throat'),('crest'),('neck'),('shoulder'),('forechest'),
  ('withers'),('back'),('loin'),('ribs'),('rump'),
  ('underline'),('belly'),('tail'),('thigh'),('foreleg'),('hindleg'),('feet');

CREATE TABLE point (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO point VALUES
  ('nose'),('eye'),('occiput'),('withers'),('mid_back'),('tail_set'),('buttock'),
  ('prosternum'),('elbow'),('hock'),('front_paw'),('hind_paw');

CREATE TABLE tool (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO tool VALUES
  ('fingers'),('finger_cots'),('knife_fine'),('knife_medium'),('knife_coarse'),
  ('stone'),('undercoat_rake'),('blending_shears'),('scissors'),('clipper');

-- One row: how this salon writes lengths, days and words.
CREATE TABLE settings (
  one        INTEGER PRIMARY KEY CHECK (one = 1),
  rev        INTEGER NOT NULL DEFAULT 1 CHECK (rev >= 1),
  salon_name TEXT NOT NULL DEFAULT '',
  zone       TEXT NOT NULL DEFAULT 'UTC',             -- IANA name of the time zone
  units      TEXT NOT NULL DEFAULT 'mm' CHECK (units IN ('mm','in')),
  lang       TEXT NOT NULL DEFAULT 'en',
  theme      TEXT NOT NULL DEFAULT '' CHECK (theme IN ('','light','dark'))
) STRICT;
INSERT INTO settings (one) VALUES (1);

CREATE TABLE dog (
  id                TEXT PRIMARY KEY,
  rev               INTEGER NOT NULL CHECK (rev >= 1),
  name              TEXT NOT NULL CHECK (name <> ''),
  name_key          TEXT NOT NULL CHECK (name_key <> ''), -- the name as it is looked up: one case, one spacing
  client            TEXT NOT NULL,
  profile           TEXT NOT NULL,
  texture           TEXT NOT NULL CHECK (texture IN ('','harsh','medium','soft')),
  withers_mm        REAL NOT NULL CHECK (withers_mm BETWEEN 0 AND 2000), -- height; 0 unknown
  -- The four answers that start a dog, and the day they were given.
  answered_day      TEXT NOT NULL,
  last_worked_day   TEXT NOT NULL,
  rolled            INTEGER NOT NULL CHECK (rolled IN (0,1)),
  undercoat         TEXT NOT NULL CHECK (undercoat IN ('','none','some','heavy')),
  longest_withers_mm REAL NOT NULL CHECK (longest_withers_mm BETWEEN 0 AND 1000),
  sensitive         TEXT NOT NULL CHECK (json_valid(sensitive)),          -- zones, a JSON list
  notes             TEXT NOT NULL,
  next_day          TEXT NOT NULL,
  every_days        INTEGER NOT NULL CHECK (every_days >= 0),
  minutes           INTEGER NOT NULL CHECK (minutes >= 0),
  share_ok          INTEGER NOT NULL CHECK (share_ok IN (0,1)),
  added_at          TEXT NOT NULL,
  trashed_at        TEXT
) STRICT;
CREATE UNIQUE INDEX dog_name ON dog (name_key) WHERE trashed_at IS NULL;

CREATE TABLE session (
  id         TEXT PRIMARY KEY,
  rev        INTEGER NOT NULL CHECK (rev >= 1),
  dog        TEXT NOT NULL REFERENCES dog,
  on_day     TEXT NOT NULL CHECK (length(on_day) = 10),
  minutes    INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 1440),
  loft       TEXT NOT NULL CHECK (loft IN ('','none','some','woolly')),
  note       TEXT NOT NULL,
  trashed_at TEXT,
  UNIQUE (id, dog)                                        -- so that photos and readings can only point at a session of their own dog
) STRICT;
-- A dog is on the table once a day; photos pair with sessions by the local day.
CREATE UNIQUE INDEX session_day ON session (dog, on_day) WHERE trashed_at IS NULL;

CREATE TABLE session_work (
  session    TEXT NOT NULL REFERENCES session ON DELETE CASCADE,
  zone       TEXT NOT NULL REFERENCES zone,
  do         TEXT NOT NULL CHECK (do IN ('','card','take','strip','tidy','scissor','clip','leave')),
  share      REAL NOT NULL CHECK (share BETWEEN 0 AND 1),
  top_layer  INTEGER NOT NULL CHECK (top_layer IN (0,1)),
  tool       TEXT REFERENCES tool,                        -- NULL: not said
  ripeness   TEXT NOT NULL CHECK (ripeness IN ('','not_ready','coming','ready','blown')),
  hair_check TEXT NOT NULL CHECK (hair_check IN ('','whole','cut','sticky_root')),
  skin       TEXT NOT NULL CHECK (skin IN ('','fine','pink','raised','broken')),
  cover      TEXT NOT NULL CHECK (cover IN ('','full','thin','skin_shows')),
  remark     TEXT NOT NULL,
  PRIMARY KEY (session, zone)
) STRICT, WITHOUT ROWID;

-- A photo file as it came, one a salon. The file photos/<first two>/<sha256> exists before its row does.
CREATE TABLE original (
  sha256         TEXT PRIMARY KEY CHECK (length(sha256) = 64),
  bytes          INTEGER NOT NULL CHECK (bytes > 0),
  format         TEXT NOT NULL,
  width_px       INTEGER NOT NULL CHECK (width_px > 0),   -- upright
  height_px      INTEGER NOT NULL CHECK (height_px > 0),  -- upright
  orientation    INTEGER NOT NULL CHECK (orientation BETWEEN 1 AND 8),
  camera         TEXT NOT NULL,
  has_gps        INTEGER NOT NULL CHECK (has_gps IN (0,1)),
  icc            TEXT NOT NULL,
  file_moment    TEXT NOT NULL CHECK (json_valid(file_moment)),    -- what the file itself says
  suggest_moment TEXT NOT NULL CHECK (json_valid(suggest_moment)), -- ModifyDate; never used silently
  added_at       TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE photo (
  id            TEXT PRIMARY KEY,
  rev           INTEGER NOT NULL CHECK (rev >= 1),
  dog           TEXT NOT NULL REFERENCES dog,
  sha256        TEXT NOT NULL REFERENCES original,
  file          TEXT NOT NULL,
  session       TEXT,                                     -- NULL: unpaired
  taken_at      TEXT,                                     -- NULL: not known
  taken_local   TEXT NOT NULL,                            -- wall clock 2026-11-25T09:30:00, '' not known
  offset_min    INTEGER NOT NULL,
  offset_known  INTEGER NOT NULL CHECK (offset_known IN (0,1)),
  taken_source  TEXT NOT NULL CHECK (taken_source IN ('user','exif+offset','exif+gps','exif','exif-digitized','xmp','iptc','filename','none')),
  taken_flags   TEXT NOT NULL CHECK (json_valid(taken_flags)),
  phase         TEXT NOT NULL CHECK (phase IN ('','start','during','end')),
  phase_said    INTEGER NOT NULL CHECK (phase_said IN (0,1)),
  side          TEXT NOT NULL CHECK (side IN ('','left','right','front','rear','above')),
  coat_state    TEXT NOT NULL CHECK (coat_state IN ('','brushed_down_dry','brushed_up','damp','chalked','as_came')),
  facing        TEXT NOT NULL CHECK (facing IN ('','left','right')),
  width_px      INTEGER NOT NULL CHECK (width_px > 0),
  height_px     INTEGER NOT NULL CHECK (height_px > 0),
  ready         INTEGER NOT NULL CHECK (ready IN (0,1)),  -- its derivatives exist
  trouble       TEXT NOT NULL,
  added_at      TEXT NOT NULL,
  trashed_at    TEXT,
  FOREIGN KEY (session, dog) REFERENCES session (id, dog)
) STRICT;
-- The same photo is on a dog's timeline once; a trashed one comes back instead of being stored beside itself.
CREATE UNIQUE INDEX photo_once ON photo (dog, sha256);
CREATE INDEX photo_order ON photo (dog, taken_local, added_at);
CREATE INDEX photo_sha ON photo (sha256);
CREATE INDEX photo_session ON photo (session) WHERE session IS NOT NULL;

CREATE TABLE landmark (
  photo TEXT NOT NULL REFERENCES photo ON DELETE CASCADE,
  point TEXT NOT NULL REFERENCES point,
  x_px  REAL NOT NULL,                                    -- of the upright photo; centre of the top left pixel = 0, 0
  y_px  REAL NOT NULL,
  PRIMARY KEY (photo, point)
) STRICT, WITHOUT ROWID;

CREATE TABLE reading (
  id         TEXT PRIMARY KEY,
  dog        TEXT NOT NULL REFERENCES dog,
  session    TEXT,                                        -- NULL: not in a session
  zone       TEXT NOT NULL REFERENCES zone,
  on_day     TEXT NOT NULL CHECK (length(on_day) = 10),
  length_mm  REAL NOT NULL CHECK (length_mm BETWEEN 0 AND 1000),
  sd_mm      REAL NOT NULL CHECK (sd_mm > 0),
  trashed_at TEXT,
  FOREIGN KEY (session, dog) REFERENCES session (id, dog)
) STRICT;
CREATE INDEX reading_dog ON reading (dog, on_day);

CREATE TABLE show (
  id         TEXT PRIMARY KEY,
  rev        INTEGER NOT NULL CHECK (rev >= 1),
  dog        TEXT NOT NULL REFERENCES dog,
  name       TEXT NOT NULL CHECK (name <> ''),
  on_day     TEXT NOT NULL CHECK (length(on_day) = 10),
  priority   INTEGER NOT NULL CHECK (priority BETWEEN 1 AND 3),
  trashed_at TEXT
) STRICT;
CREATE INDEX show_dog ON show (dog, on_day);

CREATE TABLE show_target (
  show   TEXT NOT NULL REFERENCES show ON DELETE CASCADE,
  zone   TEXT NOT NULL REFERENCES zone,
  min_mm REAL NOT NULL CHECK (min_mm >= 0),
  max_mm REAL NOT NULL CHECK (max_mm = 0 OR max_mm >= min_mm), -- 0: no upper bound asked
  PRIMARY KEY (show, zone)
) STRICT, WITHOUT ROWID;

-- A client's page. Only the hash of its token is kept: who reads this file cannot open the page.
CREATE TABLE link (
  id           TEXT PRIMARY KEY,
  dog          TEXT NOT NULL REFERENCES dog,
  for_whom     TEXT NOT NULL,
  token_hash   TEXT NOT NULL UNIQUE CHECK (length(token_hash) = 64),
  made_at      TEXT NOT NULL,
  expires_at   TEXT NOT NULL,
  withdrawn_at TEXT
) STRICT;
CREATE INDEX link_dog ON link (dog);

-- Work that outlives the process. A job is safe to do twice.
CREATE TABLE job (
  id            TEXT PRIMARY KEY,
  kind          TEXT NOT NULL CHECK (kind <> ''),
  key           TEXT NOT NULL,
  attempts      INTEGER NOT NULL DEFAULT 0,               -- claims so far
  due_at        TEXT,                                     -- NULL: given up
  claimed_until TEXT,                                     -- set: somebody is at it; past: he died
  error         TEXT NOT NULL DEFAULT '',                 -- of the last attempt
  UNIQUE (kind, key)
) STRICT;
CREATE INDEX job_due ON job (due_at) WHERE due_at IS NOT NULL;
