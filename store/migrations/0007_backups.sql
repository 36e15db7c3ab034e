-- When the salon was last copied, and how that went.
SELECT 1;
