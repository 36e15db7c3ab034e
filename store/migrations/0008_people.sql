-- People, their sign-ins and tokens, and who changed what. Of every secret only a hash is kept: of passwords a slow one
-- (argon2id), of what the program made itself at random SHA-256.

CREATE TABLE person (
  id            TEXT PRIMARY KEY,
  rev           INTEGER NOT NULL CHECK (rev >= 1),
  name          TEXT NOT NULL CHECK (name <> ''),
  name_key      TEXT NOT NULL CHECK (name_key <> ''),          -- the name as it signs in: one case, one spacing
  role          TEXT NOT NULL CHECK (role IN ('owner','groomer','reader')),
  password_hash TEXT NOT NULL CHECK (password_hash <> ''),
  added_at      TEXT NOT NULL,
  ended_at      TEXT                                            -- set: may not sign in; nobody is deleted, the changes name them
) STRICT;
CREATE UNIQUE INDEX person_name ON person (name_key) WHERE ended_at IS NULL;

CREATE TABLE invitation (
  id           TEXT PRIMARY KEY,
  for_whom     TEXT NOT NULL,
  role         TEXT NOT NULL CHECK (role IN ('groomer','reader')),
  token_hash   TEXT NOT NULL UNIQUE,
  made_at      TEXT NOT NULL,
  expires_at   TEXT NOT NULL,
  withdrawn_at TEXT,
  used_at      TEXT,
  person       TEXT REFERENCES person                           -- who came by it; NULL: nobody yet
) STRICT;

-- The one-time code that makes the first owner, or gives an owner a new password; a new one replaces the one before.
CREATE TABLE owner_code (
  one        INTEGER PRIMARY KEY CHECK (one = 1),
  code_hash  TEXT NOT NULL,
  expires_at TEXT NOT NULL
) STRICT;

-- Sign-ins of browsers. data is the session library's.
CREATE TABLE login (
  token_hash TEXT PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,                              -- named in lists, where the hash is not shown
  person     TEXT NOT NULL REFERENCES person,
  data       BLOB NOT NULL,
  agent      TEXT NOT NULL,                                     -- what the browser calls itself
  made_at    TEXT NOT NULL,
  seen_at    TEXT NOT NULL,                                     -- not written more than once a minute
  expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX login_person ON login (person);

-- Browsers that a person signed in from: their tries have a budget that strangers cannot use up.
CREATE TABLE browser (
  token_hash TEXT NOT NULL,
  person     TEXT NOT NULL REFERENCES person,
  seen_at    TEXT NOT NULL,
  PRIMARY KEY (token_hash, person)
) STRICT, WITHOUT ROWID;
CREATE INDEX browser_person ON browser (person, seen_at);

-- For programs.
CREATE TABLE api_token (
  id         TEXT PRIMARY KEY,
  person     TEXT NOT NULL REFERENCES person,
  name       TEXT NOT NULL,
  scope      TEXT NOT NULL CHECK (scope IN ('read','photos')),
  token_hash TEXT NOT NULL UNIQUE,
  made_at    TEXT NOT NULL,
  expires_at TEXT NOT NULL,
  used_at    TEXT,                                              -- not written more than once a minute
  ended_at   TEXT
) STRICT;
CREATE INDEX api_token_person ON api_token (person);

-- Who changed what; written in the transaction of the change itself, and never changed.
CREATE TABLE audit (
  id     INTEGER PRIMARY KEY,
  at     TEXT NOT NULL,
  person TEXT NOT NULL,                                         -- '' without an account
  name   TEXT NOT NULL,                                         -- as it was then
  token  TEXT NOT NULL,                                         -- of api_token; '' at a browser or the command line
  op     TEXT NOT NULL,
  kind   TEXT NOT NULL,                                         -- what key is of: 'dog', 'photo', …; '' of nothing
  key    TEXT NOT NULL,
  note   TEXT NOT NULL
) STRICT;
CREATE INDEX audit_person ON audit (person, id);
CREATE INDEX audit_key ON audit (key, id);
