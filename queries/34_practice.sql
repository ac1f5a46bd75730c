-- Which job of each person's it was: the count of coated jobs by practice.
-- grain: one row per coated job in view and person who worked on it
-- reads: coated (from 02), coatings, jobs, spell_counts (from 00)
-- note: most jobs are one spell, whose row needs no sum
-- columns:
--   job_key     the job's key
--   applied_by  the person
--   nth         1 for the first coated job that the person worked on, counted
--               over all history by the day the job was finished
WITH spell AS (
  SELECT w.job_key AS job_key, w.applied_by AS applied_by, n.spells AS spells
  FROM coatings AS w
  JOIN spell_counts AS n ON n.job_key = w.job_key
  WHERE w.applied_by IS NOT NULL
),
worked AS (
  SELECT job_key AS job_key, applied_by AS applied_by FROM spell WHERE spells = 1
  UNION ALL
  SELECT job_key AS job_key, applied_by AS applied_by
  FROM spell
  WHERE spells > 1
  GROUP BY job_key, applied_by
),
numbered AS (
  SELECT
    w.job_key AS job_key,
    w.applied_by AS applied_by,
    ROW_NUMBER() OVER (PARTITION BY j.shop, w.applied_by ORDER BY j.finished_on, j.job_key) AS nth
  FROM worked AS w
  JOIN jobs AS j ON j.job_key = w.job_key
)
SELECT n.job_key AS job_key, n.applied_by AS applied_by, n.nth AS nth
FROM numbered AS n
JOIN coated AS c ON c.job_key = n.job_key
ORDER BY job_key, applied_by
