-- What became of the offer, by what was offered to whom and how.
-- grain: one row per shop, vehicle class, film, finish, seller and sample among
--        the film jobs of the window that the coating suits
-- reads: jobs, carried (from 09), window_months (month_no)
-- columns:
--   shop, vehicle_class, film, sold_by, sample
--                   as recorded, '' where it is not
--   finish          the job's one finish, '' where it carries several or none
--   two_tone        1 where it carries several, else 0
--   eligible        film jobs that the coating suits
--   offered         of these, known to have been offered
--   offer_unknown   of these, nobody wrote down whether it was offered
--   coated          of these, left with the coating on
--   coated_offered  coated among offered
--   coated_refused  coated, though written down as not offered
WITH dated AS (
  SELECT
    j.shop AS shop,
    COALESCE(j.vehicle_class, '') AS vehicle_class,
    COALESCE(j.film, '') AS film,
    COALESCE(j.sold_by, '') AS sold_by,
    COALESCE(j.sample, '') AS sample,
    CASE
      WHEN k.parts IS NULL THEN COALESCE(j.finish, '')
      WHEN k.lowest = k.highest THEN k.lowest
      ELSE ''
    END AS finish,
    CASE WHEN k.lowest < k.highest THEN 1 ELSE 0 END AS two_tone,
    EXTRACT(YEAR FROM j.finished_on) * 12 + EXTRACT(MONTH FROM j.finished_on) - 1 AS month_no,
    CASE WHEN j.excluded THEN 0 ELSE 1 END AS eligible,
    CASE WHEN j.offered THEN 1 ELSE 0 END AS offered,
    CASE WHEN j.offered IS NULL THEN 1 ELSE 0 END AS unknown,
    CASE WHEN j.coated THEN 1 ELSE 0 END AS coated
  FROM jobs AS j
  LEFT JOIN carried AS k ON k.job_key = j.job_key
)
SELECT
  d.shop AS shop,
  d.vehicle_class AS vehicle_class,
  d.film AS film,
  d.finish AS finish,
  d.two_tone AS two_tone,
  d.sold_by AS sold_by,
  d.sample AS sample,
  COUNT(*) AS eligible,
  SUM(d.offered) AS offered,
  SUM(d.unknown) AS offer_unknown,
  SUM(d.coated) AS coated,
  SUM(d.offered * d.coated) AS coated_offered,
  SUM((1 - d.offered - d.unknown) * d.coated) AS coated_refused
FROM dated AS d
JOIN window_months AS w ON w.month_no = d.month_no
WHERE d.eligible = 1
GROUP BY d.shop, d.vehicle_class, d.film, d.finish, d.two_tone, d.sold_by, d.sample
ORDER BY shop, vehicle_class, film, finish, two_tone, sold_by, sample
