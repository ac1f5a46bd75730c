-- Bottles that were opened or emptied in the window, with what they held.
-- grain: one row per bottle with an opening day that was opened or emptied in
--        a month of the window
-- reads: bottles; window_months (month_no)
-- columns:
--   shop, bottle, product, lot
--                 as recorded
--   opened_on     the day it was opened
--   emptied_on    the day it was emptied, NULL where it is open
--   opened_no     year * 12 + month - 1 of the day it was opened
--   emptied_no    the same of the day it was emptied, NULL where it is open
--   volume        what it held [mL], NULL where not recorded
--   left_over     thrown away [mL], 0 where none is recorded
WITH dated AS (
  SELECT
    shop AS shop, bottle AS bottle, product AS product, lot AS lot, opened_on AS opened_on, emptied_on AS emptied_on,
    volume AS volume, COALESCE(left_over, 0) AS left_over,
    EXTRACT(YEAR FROM opened_on) * 12 + EXTRACT(MONTH FROM opened_on) - 1 AS opened_no,
    EXTRACT(YEAR FROM emptied_on) * 12 + EXTRACT(MONTH FROM emptied_on) - 1 AS emptied_no
  FROM bottles
  WHERE opened_on IS NOT NULL
)
SELECT
  shop AS shop,
  bottle AS bottle,
  product AS product,
  lot AS lot,
  opened_on AS opened_on,
  emptied_on AS emptied_on,
  opened_no AS opened_no,
  emptied_no AS emptied_no,
  volume AS volume,
  left_over AS left_over
FROM dated
WHERE opened_no IN (SELECT month_no FROM window_months)
  OR emptied_no IN (SELECT month_no FROM window_months)
ORDER BY shop, opened_on, bottle
