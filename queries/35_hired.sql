-- When the people on the list were hired.
-- grain: one row per person with a hire date
-- reads: people
-- columns:
--   shop, person  the person's key
--   started_on    the first day of work
SELECT
  shop AS shop,
  person AS person,
  started_on AS started_on
FROM people
WHERE started_on IS NOT NULL
ORDER BY shop, person
