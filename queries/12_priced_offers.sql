-- What was asked for the coating, and what became of the offer.
-- grain: one row per shop, vehicle class, coverage, finish, other finish, seller,
--        sample, priced and price among the film jobs of the window that the
--        coating suits and that are known to have been offered it
-- reads: jobs, surfaces, carried (from 09), window_months (month_no)
-- columns:
--   shop, vehicle_class, coverage, sold_by, sample
--                   as recorded, '' where it is not
--   finish          the job's finish, the first by name where it carries several,
--                   '' where none is recorded
--   other_finish    the last by name where it carries several, else ''
--   priced          1 where a price is written down, else 0
--   price           asked before discount [minor units]; 0 where priced is 0
--   offers          film jobs
--   accepted        of these, left with the coating on
--   discount        taken off the accepted ones [minor units]
--   with_area       of the offers, those with a film area
--   area            their film area [m2], summed
--   other_area      of it, on finishes other than the first [m2]; 0
--                   where one is named
WITH asked AS (
  SELECT
    job_key, shop, vehicle_class, coverage, finish, sold_by, sample, area, coated,
    coating_price, coating_discount,
    EXTRACT(YEAR FROM finished_on) * 12 + EXTRACT(MONTH FROM finished_on) - 1 AS month_no
  FROM jobs
  WHERE offered AND CASE WHEN excluded THEN 0 ELSE 1 END = 1
),
inside AS (
  SELECT
    a.job_key AS job_key, a.shop AS shop, a.vehicle_class AS vehicle_class,
    a.coverage AS coverage, a.finish AS finish, a.sold_by AS sold_by,
    a.sample AS sample, a.area AS area, a.coated AS coated,
    a.coating_price AS coating_price, a.coating_discount AS coating_discount
  FROM asked AS a
  JOIN window_months AS w ON w.month_no = a.month_no
),
others AS (
  SELECT
    s.job_key AS job_key,
    SUM(CASE WHEN s.finish = k.lowest THEN 0.0 ELSE s.area END) AS area
  FROM surfaces AS s
  JOIN carried AS k ON k.job_key = s.job_key
  WHERE k.lowest < k.highest
  GROUP BY s.job_key
),
known AS (
  SELECT
    j.shop AS shop,
    COALESCE(j.vehicle_class, '') AS vehicle_class,
    COALESCE(j.coverage, '') AS coverage,
    CASE WHEN k.parts IS NULL THEN COALESCE(j.finish, '') ELSE k.lowest END AS finish,
    CASE WHEN k.lowest < k.highest THEN k.highest ELSE '' END AS other_finish,
    COALESCE(j.sold_by, '') AS sold_by,
    COALESCE(j.sample, '') AS sample,
    CASE WHEN j.coated THEN 1 ELSE 0 END AS coated,
    CASE WHEN j.coating_price IS NULL THEN 0 ELSE 1 END AS priced,
    COALESCE(j.coating_price, 0) AS price,
    CASE WHEN j.coated THEN COALESCE(j.coating_discount, 0) ELSE 0 END AS discount,
    CASE WHEN k.parts IS NULL THEN j.area ELSE k.area END AS area,
    COALESCE(o.area, 0.0) AS other_area
  FROM inside AS j
  LEFT JOIN carried AS k ON k.job_key = j.job_key
  LEFT JOIN others AS o ON o.job_key = j.job_key
)
SELECT
  n.shop AS shop,
  n.vehicle_class AS vehicle_class,
  n.coverage AS coverage,
  n.finish AS finish,
  n.other_finish AS other_finish,
  n.sold_by AS sold_by,
  n.sample AS sample,
  n.priced AS priced,
  n.price AS price,
  COUNT(*) AS offers,
  SUM(n.coated) AS accepted,
  SUM(n.discount) AS discount,
  COUNT(n.area) AS with_area,
  COALESCE(SUM(n.area), 0.0) AS area,
  SUM(n.other_area) AS other_area
FROM known AS n
GROUP BY n.shop, n.vehicle_class, n.coverage, n.finish, n.other_finish, n.sold_by, n.sample, n.priced, n.price
ORDER BY shop, vehicle_class, coverage, finish, other_finish, sold_by, sample, priced, price
