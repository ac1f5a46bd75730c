//! Both groups at chosen times, for the table and the sentence.

use super::{Followed, Look, MONTH, Point, Sound};
use crate::fits::survival::km::Curve;

/// Most times at which the table gives the shares.
const LOOKS: usize = 8;

/// Months between looks, so that there are at most [`LOOKS`].
fn every(until: f64) -> f64 {
    let steps = [1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 60.0];
    let fits = |s: &&f64| until / (MONTH * **s) < LOOKS as f64;
    steps
        .iter()
        .find(fits)
        .copied()
        .unwrap_or_else(|| (until / MONTH / LOOKS as f64).ceil())
}

pub(super) fn looks(curves: &[Option<Curve>; 2], groups: [&Followed; 2]) -> Vec<Look> {
    let until = groups.iter().map(|g| g.until).fold(0.0, f64::max);
    let step = every(until);
    let last = (until / (MONTH * step)).floor() as usize;
    let [coated, bare] = curves;
    let look = |i: usize| {
        let months = step * i as f64;
        Look {
            months,
            coated: sound(coated.as_ref(), groups[0], months * MONTH),
            bare: sound(bare.as_ref(), groups[1], months * MONTH),
        }
    };
    (0..=last).map(look).collect()
}

fn sound(curve: Option<&Curve>, group: &Followed, days: f64) -> Sound {
    let at_risk = curve.map_or(0, |c| c.at_risk(days));
    let all = Point {
        days,
        share: 1.0,
        low: 1.0,
        high: 1.0,
        at_risk,
    };
    let before = group.points.partition_point(|p| p.days <= days);
    let step = before.checked_sub(1).and_then(|i| group.points.get(i));
    let point = step.map_or(all, |p| Point {
        days,
        at_risk,
        ..*p
    });
    Sound {
        at_risk,
        share: (at_risk > 0).then_some(point),
    }
}
