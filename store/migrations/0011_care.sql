-- What is looked after besides the coat: nails, ears, eyes and pads, a puppy's first lessons, what somebody should look at;
-- the bag of a show; how long a pair of hands wants to work a day. A puppy grows, so the day she was born and the day her
-- height was read tell for how long a photo still shows her size.

ALTER TABLE dog ADD COLUMN born_day    TEXT NOT NULL DEFAULT ''; -- '' not said
ALTER TABLE dog ADD COLUMN withers_day TEXT NOT NULL DEFAULT ''; -- the day withers_mm was said; '' before it was noted

-- Done, or seen, on a day. The words may grow without a new table, so they are checked by the program.
CREATE TABLE care (
  dog      TEXT NOT NULL REFERENCES dog,
  what     TEXT NOT NULL CHECK (what <> ''),
  on_day   TEXT NOT NULL CHECK (length(on_day) = 10),
  noted_at TEXT NOT NULL,
  PRIMARY KEY (dog, what, on_day)
) STRICT, WITHOUT ROWID;

-- Where she has an interval of her own.
CREATE TABLE care_every (
  dog  TEXT NOT NULL REFERENCES dog,
  what TEXT NOT NULL CHECK (what <> ''),
  days INTEGER NOT NULL CHECK (days BETWEEN 0 AND 366), -- 0: not counted for her
  PRIMARY KEY (dog, what)
) STRICT, WITHOUT ROWID;

-- What is packed for a show.
CREATE TABLE bag (
  show TEXT NOT NULL REFERENCES show ON DELETE CASCADE,
  item TEXT NOT NULL CHECK (item <> ''),
  PRIMARY KEY (show, item)
) STRICT, WITHOUT ROWID;

-- Minutes a day that somebody wants to work with her hands at most; '' is whoever has no account.
CREATE TABLE hands (
  person  TEXT PRIMARY KEY,
  minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 1440) -- 0: no limit
) STRICT, WITHOUT ROWID;

CREATE TRIGGER stamp_care_insert AFTER INSERT ON care BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_care_update AFTER UPDATE ON care BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_care_delete AFTER DELETE ON care BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_care_every_insert AFTER INSERT ON care_every BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_care_every_update AFTER UPDATE ON care_every BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_care_every_delete AFTER DELETE ON care_every BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_bag_insert AFTER INSERT ON bag BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = NEW.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_bag_update AFTER UPDATE ON bag BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = NEW.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_bag_delete AFTER DELETE ON bag BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = OLD.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
