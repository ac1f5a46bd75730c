-- Film area of a full job, by vehicle class.
-- grain: one row per vehicle class that has full jobs with an area
-- reads: jobs
-- columns:
--   vehicle_class  the class
--   jobs           full jobs with an area
--   area           their median area [m2]
SELECT
  vehicle_class AS vehicle_class,
  COUNT(*) AS jobs,
  MEDIAN(area) AS area
FROM jobs
WHERE coverage = 'full' AND area IS NOT NULL
GROUP BY vehicle_class
ORDER BY vehicle_class
