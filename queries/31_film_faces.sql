-- How long level and upright panels have been followed, and what ended it.
-- grain: one row per orientation, recorded or not, coated or not, day finished,
--        last day known and end
-- reads: jobs, surfaces, callbacks, inspections
-- columns:
--   orientation  horizontal or vertical
--   recorded     1 where the job's surfaces name such panels: they are followed
--                from the day the film work was finished; 0 where only a look
--                that found them failed does, so that nothing is known of how
--                many were sound
--   coated       1 where the vehicle left with the coating on
--   finished_on  the day the film work was finished
--   last_on      the first look that found such panels failed; else the first
--                failure of any panel, as what became of these is then not
--                known; else the last look that found the film sound; NULL
--                where nothing has been heard up to the data's end
--   failed       1 where such panels were found failed, 0 where not
--   jobs         film jobs that the coating suits, as in 30
-- Days are handed over as they are, as in 30.
WITH seen AS (
  SELECT job_key AS job_key, orientation AS orientation, MIN(seen_on) AS failed_on
  FROM inspections
  WHERE condition = 'failed' AND orientation IS NOT NULL
  GROUP BY job_key, orientation
),
panels AS (
  SELECT job_key AS job_key, orientation AS orientation, 1 AS recorded
  FROM surfaces
  WHERE orientation IS NOT NULL
  UNION ALL
  SELECT job_key AS job_key, orientation AS orientation, 0 AS recorded
  FROM seen
),
panel AS (
  SELECT job_key AS job_key, orientation AS orientation, MAX(recorded) AS recorded
  FROM panels
  GROUP BY job_key, orientation
),
failures AS (
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
    p.orientation AS orientation,
    p.recorded AS recorded,
    CASE WHEN j.coated THEN 1 ELSE 0 END AS coated,
    j.finished_on AS finished_on,
    COALESCE(s.failed_on, f.failed_on, l.seen_on) AS last_on,
    CASE WHEN s.job_key IS NULL THEN 0 ELSE 1 END AS failed
  FROM panel AS p
  JOIN jobs AS j ON j.job_key = p.job_key
  LEFT JOIN seen AS s ON s.job_key = p.job_key AND s.orientation = p.orientation
  LEFT JOIN failure AS f ON f.job_key = p.job_key
  LEFT JOIN look AS l ON l.job_key = p.job_key
  WHERE CASE WHEN j.excluded THEN 0 ELSE 1 END = 1
)
SELECT
  orientation AS orientation,
  recorded AS recorded,
  coated AS coated,
  finished_on AS finished_on,
  last_on AS last_on,
  failed AS failed,
  COUNT(*) AS jobs
FROM followed
GROUP BY orientation, recorded, coated, finished_on, last_on, failed
ORDER BY orientation, recorded, coated, finished_on, failed, last_on
