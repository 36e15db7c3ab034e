-- How a dog bore a visit and how often it was interrupted for her sake; a visit may end without work, for a reason that
-- counts in her history. The last change of a session can be undone from any phone.

ALTER TABLE session ADD COLUMN tolerance TEXT NOT NULL DEFAULT '' CHECK (tolerance IN ('','stood_well','restless','needed_breaks','stopped'));
ALTER TABLE session ADD COLUMN breaks INTEGER NOT NULL DEFAULT 0 CHECK (breaks BETWEEN 0 AND 99);
ALTER TABLE session ADD COLUMN not_today TEXT NOT NULL DEFAULT '' CHECK (not_today IN ('','ill','sore_skin','in_season','afraid','other'));
ALTER TABLE session ADD COLUMN before TEXT NOT NULL DEFAULT 'null' CHECK (json_valid(before)); -- as it was before its last change
