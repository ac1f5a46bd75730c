-- The work that went into each coated job in view.
-- grain: one row per coated job that has spells of coating work
-- reads: coated (from 02), coatings
-- columns:
--   job_key     the job's key
--   spells      spells of work
--   people      different people who worked on it, unknown ones not counted
--   unnamed     spells whose person is not recorded
--   applied_by  the person, where it is one (the first by name where several)
--   minutes     hands-on minutes of all spells; NULL where one is not recorded
--   used        coating used by all spells [mL]; NULL where one is not measured
WITH spell AS (
  SELECT
    w.job_key AS job_key,
    w.applied_by AS applied_by,
    CASE WHEN w.applied_by IS NULL THEN 1 ELSE 0 END AS unnamed,
    w.minutes AS minutes,
    w.used AS used,
    CASE WHEN w.minutes IS NULL THEN 1 ELSE 0 END AS untimed,
    CASE WHEN w.used IS NULL THEN 1 ELSE 0 END AS unmeasured
  FROM coatings AS w
  JOIN coated AS c ON c.job_key = w.job_key
),
summed AS (
  SELECT
    job_key AS job_key,
    COUNT(*) AS spells,
    COUNT(DISTINCT applied_by) AS people,
    SUM(unnamed) AS unnamed,
    MIN(applied_by) AS applied_by,
    SUM(minutes) AS minutes,
    SUM(used) AS used,
    SUM(untimed) AS untimed,
    SUM(unmeasured) AS unmeasured
  FROM spell
  GROUP BY job_key
)
SELECT
  job_key AS job_key,
  spells AS spells,
  people AS people,
  unnamed AS unnamed,
  applied_by AS applied_by,
  CASE WHEN untimed = 0 THEN minutes END AS minutes,
  CASE WHEN unmeasured = 0 THEN used END AS used
FROM summed
ORDER BY job_key
