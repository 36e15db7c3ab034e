-- What a device has sent once already, by a key that it made itself: a request whose answer got lost on the way is sent again,
-- and must not act twice. The row is written in the step that acts; the answer after it.

CREATE TABLE once (
  key    TEXT PRIMARY KEY,
  person TEXT NOT NULL,             -- who sent it; '' where nobody has an account
  asked  TEXT NOT NULL,             -- SHA-256 of the request
  at     TEXT NOT NULL,
  answer TEXT NOT NULL DEFAULT ''   -- '': it acted, and what was answered is not known
) STRICT, WITHOUT ROWID;

CREATE INDEX once_at ON once (at);
