-- Where the film was found failed: on level panels or on upright ones.
-- grain: one row per orientation and coated or not
-- reads: jobs, inspections
-- columns:
--   orientation  horizontal or vertical
--   coated       1 where the vehicle left with the coating on
--   jobs         jobs with a look at such panels
--   failed       of these, jobs on which such panels were found failed
WITH looked AS (
  SELECT
    i.job_key AS job_key,
    i.orientation AS orientation,
    MAX(CASE WHEN i.condition = 'failed' THEN 1 ELSE 0 END) AS failed
  FROM inspections AS i
  WHERE i.orientation IS NOT NULL
  GROUP BY i.job_key, i.orientation
)
SELECT
  l.orientation AS orientation,
  CASE WHEN j.coated THEN 1 ELSE 0 END AS coated,
  COUNT(*) AS jobs,
  SUM(l.failed) AS failed
FROM looked AS l
JOIN jobs AS j ON j.job_key = l.job_key
GROUP BY l.orientation, CASE WHEN j.coated THEN 1 ELSE 0 END
ORDER BY orientation, coated
