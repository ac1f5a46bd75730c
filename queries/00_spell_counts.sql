-- How many spells of coating work each job has: a job of one, as most are, needs
-- no sum.
-- grain: one row per job that has spells of coating work
-- reads: coatings
-- columns:
--   job_key  the job's key
--   spells   spells of work
SELECT job_key AS job_key, COUNT(*) AS spells
FROM coatings
GROUP BY job_key
ORDER BY job_key
