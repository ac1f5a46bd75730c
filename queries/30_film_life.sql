-- How long the film of each job has been followed, and what ended it.
-- grain: one row per day finished, last day known, end, coated, film and finish
-- reads: jobs, carried (from 09), callbacks, inspections
-- columns:
--   finished_on  the day the film work was finished
--   last_on      the first film failure; else the last look that found the
--                film sound; NULL where neither is recorded: nothing has been
--                heard up to the data's end (or a failure bears no day)
--   failed       1 where the film failed, 0 where it did not
--   coated       1 where the vehicle left with the coating on
--   film         the film, '' where not recorded
--   finish       the job's one finish, from its surfaces where it has some, ''
--                where it has several or none
--   jobs         film jobs that the coating suits (not excluded): what left bare
--                as it could not be coated says nothing of the coating
-- A look that found the film failed counts as a failure on that day. Days are
-- handed over as they are; their differences are taken outside, as no two
-- engines agree on how to take them.
WITH failures AS (
  SELECT job_key AS job_key, reported_on AS failed_on
  FROM callbacks
  WHERE cause = 'film_failure'
  UNION ALL
  SELECT job_key AS job_key, seen_on AS failed_on
  FROM inspections
  WHERE condition = 'failed'
),
failure AS (
  SELECT job_key AS job_key, MIN(failed_on) AS failed_on
  FROM failures
  GROUP BY job_key
),
look AS (
  SELECT job_key AS job_key, MAX(seen_on) AS seen_on
  FROM inspections
  WHERE condition = 'sound'
  GROUP BY job_key
),
followed AS (
  SELECT
    j.finished_on AS finished_on,
    CASE WHEN f.job_key IS NULL THEN l.seen_on ELSE f.failed_on END AS last_on,
    CASE WHEN f.job_key IS NULL THEN 0 ELSE 1 END AS failed,
    CASE WHEN j.coated THEN 1 ELSE 0 END AS coated,
    COALESCE(j.film, '') AS film,
    CASE
      WHEN k.job_key IS NULL THEN COALESCE(j.finish, '')
      WHEN k.lowest = k.highest THEN k.lowest
      ELSE ''
    END AS finish
  FROM jobs AS j
  LEFT JOIN carried AS k ON k.job_key = j.job_key
  LEFT JOIN failure AS f ON f.job_key = j.job_key
  LEFT JOIN look AS l ON l.job_key = j.job_key
  WHERE CASE WHEN j.excluded THEN 0 ELSE 1 END = 1
)
SELECT
  finished_on AS finished_on,
  last_on AS last_on,
  failed AS failed,
  coated AS coated,
  film AS film,
  finish AS finish,
  COUNT(*) AS jobs
FROM followed
GROUP BY finished_on, last_on, failed, coated, film, finish
ORDER BY finished_on, coated, film, finish, failed, last_on
