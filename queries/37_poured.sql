-- What the coated jobs in view took, by the bottle that their spells name.
-- grain: one row per coated job, bottle and product named
-- reads: coated (from 02), coatings
-- columns:
--   job_key     the job's key
--   bottle      the bottle named, '' where none is
--   product     the product named, '' where none is
--   spells      spells of work
--   unmeasured  of these, the ones whose use was not measured
--   used        coating used by the measured ones [mL]
SELECT
  w.job_key AS job_key,
  COALESCE(w.bottle, '') AS bottle,
  COALESCE(w.product, '') AS product,
  COUNT(*) AS spells,
  SUM(CASE WHEN w.used IS NULL THEN 1 ELSE 0 END) AS unmeasured,
  SUM(COALESCE(w.used, 0)) AS used
FROM coatings AS w
JOIN coated AS c ON c.job_key = w.job_key
GROUP BY w.job_key, COALESCE(w.bottle, ''), COALESCE(w.product, '')
ORDER BY job_key, bottle, product
