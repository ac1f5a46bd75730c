-- The spells of coating work on the jobs in view, with the workspace and what
-- followed.
-- grain: one row per spell of coating work on a coated job in view
-- reads: coated (from 02), coatings
-- columns:
--   job_key              the job's key
--   paused_minutes       pauses within the spell [min]
--   air_temperature      [C]
--   surface_temperature  [C]
--   relative_humidity    [%]
--   started_at           start of the work
--   ended_at             end of the work
--   released_at          the vehicle left the workspace
--   rain                 1 rain on that day, 0 none, NULL not recorded
--   held_overnight       1 stayed inside overnight, 0 did not, NULL not recorded
SELECT
  w.job_key AS job_key,
  w.paused_minutes AS paused_minutes,
  w.air_temperature AS air_temperature,
  w.surface_temperature AS surface_temperature,
  w.relative_humidity AS relative_humidity,
  w.started_at AS started_at,
  w.ended_at AS ended_at,
  w.released_at AS released_at,
  CASE WHEN w.rain IS NULL THEN NULL WHEN w.rain THEN 1 ELSE 0 END AS rain,
  CASE WHEN w.held_overnight IS NULL THEN NULL WHEN w.held_overnight THEN 1 ELSE 0 END AS held_overnight
FROM coatings AS w
JOIN coated AS c ON c.job_key = w.job_key
ORDER BY job_key, ended_at, released_at, paused_minutes
