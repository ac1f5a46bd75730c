-- Bottles opened in the window, as bought.
-- grain: one row per bottle with a volume and a cost
-- reads: bottles; window_months (month_no)
-- columns:
--   shop, bottle, product  as recorded
--   month_no               year * 12 + month - 1 of the day it was opened
--   emptied                1 where it was emptied, 0 where it is open
--   volume                 what it held [mL]
--   left_over              thrown away [mL], 0 where none is recorded
--   cost                   landed cost [minor units]
WITH dated AS (
  SELECT
    shop, bottle, product, volume, left_over, cost, emptied_on,
    EXTRACT(YEAR FROM opened_on) * 12 + EXTRACT(MONTH FROM opened_on) - 1 AS month_no
  FROM bottles
  WHERE volume > 0 AND cost IS NOT NULL AND opened_on IS NOT NULL
)
SELECT
  d.shop AS shop,
  d.bottle AS bottle,
  d.product AS product,
  d.month_no AS month_no,
  CASE WHEN d.emptied_on IS NULL THEN 0 ELSE 1 END AS emptied,
  d.volume AS volume,
  COALESCE(d.left_over, 0) AS left_over,
  d.cost AS cost
FROM dated AS d
JOIN window_months AS w ON w.month_no = d.month_no
ORDER BY shop, bottle
