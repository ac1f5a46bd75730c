-- The work that went into each coated job in view.
-- grain: one row per coated job that has spells of coating work
-- reads: coated (from 02), coatings, spell_counts (from 00)
-- note: most jobs are one spell, whose row needs no sum
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
    w.minutes AS minutes,
    w.used AS used,
    n.spells AS spells
  FROM coatings AS w
  JOIN coated AS c ON c.job_key = w.job_key
  JOIN spell_counts AS n ON n.job_key = w.job_key
),
summed AS (
  SELECT
    job_key AS job_key,
    CAST(1 AS BIGINT) AS spells,
    CAST(CASE WHEN applied_by IS NULL THEN 0 ELSE 1 END AS BIGINT) AS people,
    CAST(CASE WHEN applied_by IS NULL THEN 1 ELSE 0 END AS BIGINT) AS unnamed,
    applied_by AS applied_by,
    minutes AS minutes,
    used AS used
  FROM spell
  WHERE spells = 1
  UNION ALL
  SELECT
    job_key AS job_key,
    CAST(COUNT(*) AS BIGINT) AS spells,
    CAST(COUNT(DISTINCT applied_by) AS BIGINT) AS people,
    CAST(SUM(CASE WHEN applied_by IS NULL THEN 1 ELSE 0 END) AS BIGINT) AS unnamed,
    MIN(applied_by) AS applied_by,
    CASE WHEN SUM(CASE WHEN minutes IS NULL THEN 1 ELSE 0 END) = 0 THEN SUM(minutes) END AS minutes,
    CASE WHEN SUM(CASE WHEN used IS NULL THEN 1 ELSE 0 END) = 0 THEN SUM(used) END AS used
  FROM spell
  WHERE spells > 1
  GROUP BY job_key
)
SELECT
  job_key AS job_key,
  spells AS spells,
  people AS people,
  unnamed AS unnamed,
  applied_by AS applied_by,
  minutes AS minutes,
  used AS used
FROM summed
ORDER BY job_key
