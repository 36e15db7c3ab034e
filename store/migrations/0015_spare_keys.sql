-- An owner's spare key: kept on paper, for the day when her password is forgotten or strangers use up every try at it.
CREATE TABLE spare_key (
  person   TEXT PRIMARY KEY REFERENCES person,
  key_hash TEXT NOT NULL UNIQUE,  -- SHA-256 of 140 random bits: nothing to be guessed, so it need not be slow
  made_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;
