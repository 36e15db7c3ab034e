-- People, their sign-ins and tokens, and who changed what.
SELECT 1;
