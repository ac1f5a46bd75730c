-- What the surfaces of each job say together: read by the queries after it
-- alone, and no table of its own anywhere else.
-- grain: one row per job that has surfaces
-- reads: surfaces
-- columns:
--   job_key  the job's key
--   parts    its surfaces
--   lowest   the first of their finishes by name; NULL where none is recorded
--   highest  the last of them
--   area     film area of all of them [m2]; those not recorded are left out,
--            NULL where none is
SELECT
  job_key AS job_key,
  COUNT(*) AS parts,
  MIN(finish) AS lowest,
  MAX(finish) AS highest,
  SUM(area) AS area
FROM surfaces
GROUP BY job_key
ORDER BY job_key
