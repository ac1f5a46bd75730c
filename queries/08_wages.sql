-- Wages of the people on the list.
-- grain: one row per person with an hourly cost
-- reads: people
-- columns:
--   shop, person  the person's key
--   hourly_cost   wage before loading [minor units per hour]
SELECT
  shop AS shop,
  person AS person,
  hourly_cost AS hourly_cost
FROM people
WHERE hourly_cost IS NOT NULL
ORDER BY shop, person
