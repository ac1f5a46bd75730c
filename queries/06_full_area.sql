-- Film area of a full job, by vehicle class.
-- grain: one row per vehicle class that has full jobs with an area
-- reads: jobs, surfaces
-- columns:
--   vehicle_class  the class
--   jobs           full jobs with an area
--   area           their median area [m2]; surfaces win over the job's line,
--                  unless the area of one of them is not recorded
WITH carried AS (
  SELECT
    job_key AS job_key,
    SUM(area) AS area,
    SUM(CASE WHEN area IS NULL THEN 1 ELSE 0 END) AS unknown
  FROM surfaces
  GROUP BY job_key
),
full_job AS (
  SELECT
    j.vehicle_class AS vehicle_class,
    CASE WHEN c.unknown = 0 THEN c.area ELSE j.area END AS area
  FROM jobs AS j
  LEFT JOIN carried AS c ON c.job_key = j.job_key
  WHERE j.coverage = 'full'
)
SELECT
  vehicle_class AS vehicle_class,
  COUNT(*) AS jobs,
  MEDIAN(area) AS area
FROM full_job
WHERE area IS NOT NULL
GROUP BY vehicle_class
ORDER BY vehicle_class
