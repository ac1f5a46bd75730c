-- What the coated jobs in view took, by the bottle that their spells name.
-- grain: one row per coated job, bottle and product named
-- reads: coated (from 02), coatings, spell_counts (from 00)
-- note: most jobs are one spell, whose row needs no sum
-- columns:
--   job_key     the job's key
--   bottle      the bottle named, '' where none is
--   product     the product named, '' where none is
--   spells      spells of work
--   unmeasured  of these, the ones whose use was not measured
--   used        coating used by the measured ones [mL]
WITH spell AS (
  SELECT
    w.job_key AS job_key,
    COALESCE(w.bottle, '') AS bottle,
    COALESCE(w.product, '') AS product,
    CASE WHEN w.used IS NULL THEN 1 ELSE 0 END AS unmeasured,
    COALESCE(w.used, 0) AS used,
    n.spells AS spells
  FROM coatings AS w
  JOIN coated AS c ON c.job_key = w.job_key
  JOIN spell_counts AS n ON n.job_key = w.job_key
),
summed AS (
  SELECT
    job_key AS job_key,
    bottle AS bottle,
    product AS product,
    CAST(1 AS BIGINT) AS spells,
    CAST(unmeasured AS BIGINT) AS unmeasured,
    used AS used
  FROM spell
  WHERE spells = 1
  UNION ALL
  SELECT
    job_key AS job_key,
    bottle AS bottle,
    product AS product,
    CAST(COUNT(*) AS BIGINT) AS spells,
    CAST(SUM(unmeasured) AS BIGINT) AS unmeasured,
    SUM(used) AS used
  FROM spell
  WHERE spells > 1
  GROUP BY job_key, bottle, product
)
SELECT
  job_key AS job_key,
  bottle AS bottle,
  product AS product,
  spells AS spells,
  unmeasured AS unmeasured,
  used AS used
FROM summed
ORDER BY job_key, bottle, product
