-- Whether the new hair of the last pull shows is the first that can be known of how long it takes in this dog.

ALTER TABLE session_work ADD COLUMN new_hair TEXT NOT NULL DEFAULT '' CHECK (new_hair IN ('','not_out','out'));
