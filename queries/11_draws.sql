-- What the coated jobs in view drew from which bottle.
-- grain: one row per coated job and bottle that its spells name (NULL where
--        they name none), in shops that keep a list of bottles
-- reads: coated (from 02), coatings, jobs, bottle_spans (from 10), spell_counts (from 00)
-- note: most jobs are one spell, whose row needs no sum
-- columns:
--   job_key  the job's key
--   bottle   the bottle named, NULL where none is
--   day      the day of the first such spell; where none has a start, the day
--            the job was finished
--   minute   minute of that day at which it began, NULL where not recorded
--   used     drawn from it [mL]; NULL where one such spell is not measured
WITH keeping AS (
  SELECT DISTINCT shop AS keeper FROM bottle_spans
),
spell AS (
  SELECT
    w.job_key AS job_key,
    w.bottle AS bottle,
    w.started_at AS started_at,
    w.used AS used,
    n.spells AS spells
  FROM coatings AS w
  JOIN coated AS c ON c.job_key = w.job_key
  JOIN keeping AS k ON k.keeper = c.shop
  JOIN spell_counts AS n ON n.job_key = w.job_key
),
summed AS (
  SELECT job_key AS job_key, bottle AS bottle, started_at AS began, used AS used
  FROM spell
  WHERE spells = 1
  UNION ALL
  SELECT
    job_key AS job_key,
    bottle AS bottle,
    MIN(started_at) AS began,
    CASE WHEN SUM(CASE WHEN used IS NULL THEN 1 ELSE 0 END) = 0 THEN SUM(used) END AS used
  FROM spell
  WHERE spells > 1
  GROUP BY job_key, bottle
)
SELECT
  s.job_key AS job_key,
  s.bottle AS bottle,
  COALESCE(CAST(s.began AS DATE), j.finished_on) AS day,
  CAST(EXTRACT(HOUR FROM s.began) AS INTEGER) * 60
    + CAST(EXTRACT(MINUTE FROM s.began) AS INTEGER) AS minute,
  s.used AS used
FROM summed AS s
JOIN jobs AS j ON j.job_key = s.job_key
ORDER BY job_key, bottle
