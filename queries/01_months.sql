-- How many film jobs each month had, and what became of the offer.
-- grain: one row per shop and month in which a film job was finished
-- reads: jobs
-- columns:
--   shop           the shop's key, '' where there is only one
--   month_no       year * 12 + month - 1
--   finished       film jobs finished
--   eligible       of these, the ones that the coating suits (not excluded)
--   offered        eligible, and known to have been offered
--   offer_unknown  eligible, and nobody wrote down whether it was offered
--   coated         eligible, and left with the coating on
--   coated_offered coated among offered
WITH dated AS (
  SELECT
    shop AS shop,
    EXTRACT(YEAR FROM finished_on) * 12 + EXTRACT(MONTH FROM finished_on) - 1 AS month_no,
    CASE WHEN excluded THEN 0 ELSE 1 END AS eligible,
    CASE WHEN offered THEN 1 ELSE 0 END AS offered,
    CASE WHEN offered IS NULL THEN 1 ELSE 0 END AS unknown,
    CASE WHEN coated THEN 1 ELSE 0 END AS coated
  FROM jobs
)
SELECT
  shop AS shop,
  month_no AS month_no,
  COUNT(*) AS finished,
  SUM(eligible) AS eligible,
  SUM(eligible * offered) AS offered,
  SUM(eligible * unknown) AS offer_unknown,
  SUM(eligible * coated) AS coated,
  SUM(eligible * offered * coated) AS coated_offered
FROM dated
GROUP BY shop, month_no
ORDER BY shop, month_no
