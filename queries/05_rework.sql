-- What callbacks of coating work cost on the coated jobs in view.
-- grain: one row per coated job that came back for coating work
-- reads: coated (from 02), callbacks
-- columns:
--   job_key    the job's key
--   callbacks  how often it came back
--   minutes    hands-on minutes spent [min]
--   used       coating used [mL]
--   cost       other cost [minor units]
SELECT
  b.job_key AS job_key,
  COUNT(*) AS callbacks,
  SUM(COALESCE(b.minutes, 0)) AS minutes,
  SUM(COALESCE(b.used, 0)) AS used,
  SUM(COALESCE(b.cost, 0)) AS cost
FROM callbacks AS b
JOIN coated AS c ON c.job_key = b.job_key
WHERE b.cause IN ('high_spot', 'line', 'missed_area', 'haze', 'colour_complaint')
GROUP BY b.job_key
ORDER BY job_key
