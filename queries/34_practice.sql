-- Which job of each person's it was: the count of coated jobs by practice.
-- grain: one row per coated job in view and person who worked on it
-- reads: coated (from 02), coatings, jobs
-- columns:
--   job_key     the job's key
--   applied_by  the person
--   nth         1 for the first coated job that the person worked on, counted
--               over all history by the day the job was finished
WITH spell AS (
  SELECT
    w.job_key AS job_key,
    w.applied_by AS applied_by,
    j.shop AS at_shop,
    j.finished_on AS finished_on
  FROM coatings AS w
  JOIN jobs AS j ON j.job_key = w.job_key
  WHERE w.applied_by IS NOT NULL
),
worked AS (
  SELECT job_key AS job_key, applied_by AS applied_by, at_shop AS at_shop, MIN(finished_on) AS finished_on
  FROM spell
  GROUP BY job_key, applied_by, at_shop
),
counted AS (
  SELECT
    job_key AS job_key,
    applied_by AS applied_by,
    ROW_NUMBER() OVER (PARTITION BY at_shop, applied_by ORDER BY finished_on, job_key) AS nth
  FROM worked
)
SELECT n.job_key AS job_key, n.applied_by AS applied_by, n.nth AS nth
FROM counted AS n
JOIN coated AS c ON c.job_key = n.job_key
ORDER BY job_key, applied_by
