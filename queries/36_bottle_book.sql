-- Bottles opened in the window, as bought, each with its key.
-- grain: one row per bottle with a volume that was opened in a month of the
--        window
-- reads: bottles; window_months (month_no)
-- columns:
--   shop, bottle  as recorded
--   product       as recorded, '' where it is not
--   opened_no     year * 12 + month - 1 of the day it was opened
--   emptied_no    the same of the day it was emptied, NULL where it is open
--   volume        what it held [mL]
--   left_over     thrown away [mL], 0 where none is recorded
--   cost          landed cost [minor units], NULL where not recorded
WITH dated AS (
  SELECT
    shop AS shop, bottle AS bottle, COALESCE(product, '') AS product,
    EXTRACT(YEAR FROM opened_on) * 12 + EXTRACT(MONTH FROM opened_on) - 1 AS opened_no,
    EXTRACT(YEAR FROM emptied_on) * 12 + EXTRACT(MONTH FROM emptied_on) - 1 AS emptied_no,
    volume AS volume, COALESCE(left_over, 0) AS left_over, cost AS cost
  FROM bottles
  WHERE opened_on IS NOT NULL AND volume > 0
)
SELECT
  d.shop AS shop,
  d.bottle AS bottle,
  d.product AS product,
  d.opened_no AS opened_no,
  d.emptied_no AS emptied_no,
  d.volume AS volume,
  d.left_over AS left_over,
  d.cost AS cost
FROM dated AS d
JOIN window_months AS w ON w.month_no = d.opened_no
ORDER BY shop, bottle
