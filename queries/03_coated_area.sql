-- Film area by finish of the coated jobs in view.
-- grain: one row per coated job and finish
-- reads: coated (from 02), surfaces
-- columns:
--   job_key  the job's key
--   finish   the finish
--   area     film area of that finish [m2]; surfaces win over the job's line
WITH carried AS (
  SELECT job_key AS job_key, COUNT(*) AS parts FROM surfaces GROUP BY job_key
),
pieces AS (
  SELECT c.job_key AS job_key, c.finish AS finish, c.area AS area
  FROM coated AS c
  LEFT JOIN carried AS k ON k.job_key = c.job_key
  WHERE k.parts IS NULL AND c.finish IS NOT NULL AND c.area IS NOT NULL
  UNION ALL
  SELECT s.job_key AS job_key, s.finish AS finish, SUM(s.area) AS area
  FROM surfaces AS s
  JOIN coated AS c ON c.job_key = s.job_key
  GROUP BY s.job_key, s.finish
)
SELECT job_key AS job_key, finish AS finish, area AS area
FROM pieces
ORDER BY job_key, finish
