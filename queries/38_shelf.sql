-- Bottles that are not emptied and were not opened in the window: unopened
-- ones on the shelf, and ones that have been open for longer than that.
-- grain: one row per bottle with a volume and without a day it was emptied
-- reads: bottles; window_months (month_no)
-- columns:
--   shop, bottle  as recorded
--   product       as recorded, '' where it is not
--   opened_no     year * 12 + month - 1 of the day it was opened, NULL where it
--                 is unopened
--   volume        what it holds [mL]
--   cost          landed cost [minor units], NULL where not recorded
WITH waiting AS (
  SELECT
    shop AS shop, bottle AS bottle, COALESCE(product, '') AS product,
    EXTRACT(YEAR FROM opened_on) * 12 + EXTRACT(MONTH FROM opened_on) - 1 AS opened_no,
    volume AS volume, cost AS cost
  FROM bottles
  WHERE emptied_on IS NULL AND volume > 0
)
SELECT
  b.shop AS shop,
  b.bottle AS bottle,
  b.product AS product,
  b.opened_no AS opened_no,
  b.volume AS volume,
  b.cost AS cost
FROM waiting AS b
LEFT JOIN window_months AS w ON w.month_no = b.opened_no
WHERE w.month_no IS NULL
ORDER BY shop, bottle
