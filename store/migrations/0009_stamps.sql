-- How often anything of a dog has changed, so that what is worked out of her may be kept in memory for as long as it holds.
-- Counted by the database itself: no writer, of this process or another, can forget to. The dog '' is what all share.

CREATE TABLE stamp (
  dog TEXT PRIMARY KEY,
  n   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TRIGGER stamp_dog_insert AFTER INSERT ON dog BEGIN
  INSERT INTO stamp VALUES (NEW.id, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_dog_update AFTER UPDATE ON dog BEGIN
  INSERT INTO stamp VALUES (NEW.id, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_dog_delete AFTER DELETE ON dog BEGIN
  INSERT INTO stamp VALUES (OLD.id, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_insert AFTER INSERT ON session BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_update AFTER UPDATE ON session BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_delete AFTER DELETE ON session BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_reading_insert AFTER INSERT ON reading BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_reading_update AFTER UPDATE ON reading BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_reading_delete AFTER DELETE ON reading BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_insert AFTER INSERT ON show BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_update AFTER UPDATE ON show BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_delete AFTER DELETE ON show BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_link_insert AFTER INSERT ON link BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_link_update AFTER UPDATE ON link BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_link_delete AFTER DELETE ON link BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_target_line_insert AFTER INSERT ON target_line BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_target_line_update AFTER UPDATE ON target_line BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_target_line_delete AFTER DELETE ON target_line BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_photo_insert AFTER INSERT ON photo BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_photo_update AFTER UPDATE ON photo BEGIN
  INSERT INTO stamp VALUES (NEW.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_photo_delete AFTER DELETE ON photo BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_salon_check_insert AFTER INSERT ON salon_check BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_salon_check_update AFTER UPDATE ON salon_check BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_salon_check_delete AFTER DELETE ON salon_check BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
-- What moves to another dog changes both.
CREATE TRIGGER stamp_photo_moved AFTER UPDATE OF dog ON photo WHEN OLD.dog <> NEW.dog BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_moved AFTER UPDATE OF dog ON session WHEN OLD.dog <> NEW.dog BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_reading_moved AFTER UPDATE OF dog ON reading WHEN OLD.dog <> NEW.dog BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_moved AFTER UPDATE OF dog ON show WHEN OLD.dog <> NEW.dog BEGIN
  INSERT INTO stamp VALUES (OLD.dog, 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_work_insert AFTER INSERT ON session_work BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM session WHERE id = NEW.session ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_work_update AFTER UPDATE ON session_work BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM session WHERE id = NEW.session ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_session_work_delete AFTER DELETE ON session_work BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM session WHERE id = OLD.session ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_landmark_insert AFTER INSERT ON landmark BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_landmark_update AFTER UPDATE ON landmark BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_landmark_delete AFTER DELETE ON landmark BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = OLD.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_edge_insert AFTER INSERT ON edge BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_edge_update AFTER UPDATE ON edge BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = NEW.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_edge_delete AFTER DELETE ON edge BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM photo WHERE id = OLD.photo ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_target_insert AFTER INSERT ON show_target BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = NEW.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_target_update AFTER UPDATE ON show_target BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = NEW.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_show_target_delete AFTER DELETE ON show_target BEGIN
  INSERT INTO stamp SELECT dog, 1 FROM show WHERE id = OLD.show ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_original_update AFTER UPDATE ON original BEGIN
  INSERT INTO stamp SELECT DISTINCT dog, 1 FROM photo WHERE sha256 = NEW.sha256 ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_settings_insert AFTER INSERT ON settings BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_settings_update AFTER UPDATE ON settings BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_settings_delete AFTER DELETE ON settings BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_profile_insert AFTER INSERT ON profile BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_profile_update AFTER UPDATE ON profile BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
CREATE TRIGGER stamp_profile_delete AFTER DELETE ON profile BEGIN
  INSERT INTO stamp VALUES ('', 1) ON CONFLICT (dog) DO UPDATE SET n = n + 1;
END;
