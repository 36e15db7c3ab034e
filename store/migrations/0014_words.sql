-- The salon's language is "" until somebody chooses one: each browser is then answered in the language that it asks for.
-- Until now there was English alone, and nobody had chosen it.
UPDATE settings SET lang = '';
