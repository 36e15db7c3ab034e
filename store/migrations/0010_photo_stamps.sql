-- How often anything of a dog's photos, their points and edges has changed, apart from the stamp of all that is hers: a log is no reason to read five
-- hundred photos again.

CREATE TABLE photo_stamp (
  dog TEXT PRIMARY KEY,
  n   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TRIGGER photo_stamp_photo_insert AFTER INSERT ON photo BEGIN
  INSERT INTO photo_stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_photo_update AFTER UPDATE ON photo BEGIN
  INSERT INTO photo_stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_photo_delete AFTER DELETE ON photo BEGIN
  INSERT INTO photo_stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_photo_moved AFTER UPDATE OF dog ON photo WHEN OLD.dog <> NEW.dog BEGIN
  INSERT INTO photo_stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_landmark_insert AFTER INSERT ON landmark BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_landmark_update AFTER UPDATE ON landmark BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_landmark_delete AFTER DELETE ON landmark BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = OLD.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_edge_insert AFTER INSERT ON edge BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_edge_update AFTER UPDATE ON edge BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_edge_delete AFTER DELETE ON edge BEGIN
  INSERT INTO photo_stamp SELECT dog, 1 FROM photo WHERE id = OLD.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER photo_stamp_original_update AFTER UPDATE ON original BEGIN
  INSERT INTO photo_stamp SELECT DISTINCT dog, 1 FROM photo WHERE sha256 = NEW.sha256 ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
-- A photo whose session is in the trash reads as one without. (Of a session that is deleted, its photos are updated.)
CREATE TRIGGER photo_stamp_session_trashed AFTER UPDATE OF trashed_at ON session WHEN OLD.trashed_at IS NOT NEW.trashed_at BEGIN
  INSERT INTO photo_stamp SELECT DISTINCT dog, 1 FROM photo WHERE session = NEW.id ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
