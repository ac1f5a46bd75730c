-- What the coated jobs in view came back for.
-- grain: one row per coated job and cause of a callback
-- reads: coated (from 02), callbacks
-- columns:
--   job_key    the job's key
--   cause      as recorded, '' where it is not
--   callbacks  how often the job came back for it
--   minutes    hands-on minutes spent [min]
--   used       coating used [mL]
--   cost       other cost [minor units]
SELECT
  b.job_key AS job_key,
  COALESCE(b.cause, '') AS cause,
  COUNT(*) AS callbacks,
  SUM(COALESCE(b.minutes, 0)) AS minutes,
  SUM(COALESCE(b.used, 0)) AS used,
  SUM(COALESCE(b.cost, 0)) AS cost
FROM callbacks AS b
JOIN coated AS c ON c.job_key = b.job_key
GROUP BY b.job_key, COALESCE(b.cause, '')
ORDER BY job_key, cause
