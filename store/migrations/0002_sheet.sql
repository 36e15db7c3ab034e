-- A sheet is worked line by line, in the groomer's own order and perhaps by an assistant, and goes on where it was left
-- after the phone slept. A dog's rhythm has exceptions: a day skipped, another one instead, a short one. What was last
-- changed of her plan can be undone.

ALTER TABLE session ADD COLUMN sheet_order TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(sheet_order)); -- zones, the groomer's own order; [] the usual one
ALTER TABLE session ADD COLUMN ticked TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(ticked));           -- steps done that are no zone
ALTER TABLE session ADD COLUMN assistant TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(assistant));     -- zones that an assistant may work; [] no assistant
ALTER TABLE session ADD COLUMN looked_at TEXT; -- a teacher looked at the assistant's work as it stands
ALTER TABLE session ADD COLUMN begun_at TEXT;  -- the first step was done
ALTER TABLE session ADD COLUMN done_at TEXT;   -- all done

ALTER TABLE dog ADD COLUMN days TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(days));                   -- days on which her rhythm is not as usual
ALTER TABLE dog ADD COLUMN kept TEXT NOT NULL DEFAULT 'null' CHECK (json_valid(kept));                 -- the last change of the plan and what was before it
