-- The coated jobs that this review looks at, with what was charged.
-- grain: one row per coated job finished in a month of the table spans
-- reads: jobs; spans (month_no: the months in view)
-- columns:
--   job_key           the job's key
--   shop, job         its names
--   month_no          year * 12 + month - 1 of the day it was finished
--   vehicle_class, film, coverage, sold_by
--                     as recorded
--   finish            the job's one finish, NULL where surfaces carry it
--   area              film area [m2], as the job's own line says
--   coating_price     charged before discount [minor units]
--   coating_discount  taken off it [minor units], 0 where none is recorded
--   priced_on         the day whose constants the quote rested on
WITH dated AS (
  SELECT
    job_key, shop, job, vehicle_class, film, finish, coverage, sold_by, area,
    coating_price, coating_discount, quoted_on, finished_on,
    EXTRACT(YEAR FROM finished_on) * 12 + EXTRACT(MONTH FROM finished_on) - 1 AS month_no
  FROM jobs
  WHERE coated
)
SELECT
  d.job_key AS job_key,
  d.shop AS shop,
  d.job AS job,
  d.month_no AS month_no,
  d.vehicle_class AS vehicle_class,
  d.film AS film,
  d.coverage AS coverage,
  d.sold_by AS sold_by,
  d.finish AS finish,
  d.area AS area,
  d.coating_price AS coating_price,
  COALESCE(d.coating_discount, 0) AS coating_discount,
  COALESCE(d.quoted_on, d.finished_on) AS priced_on
FROM dated AS d
JOIN spans AS s ON s.month_no = d.month_no
ORDER BY job_key
