//! The price list, entry by entry, against what such work takes.
//!
//! ```text
//! cost   = mL × cost per mL + minutes × loaded wage + consumables + reserve
//! under  where  list less tax × (1 − floor margin) − fees  <  cost
//! ```
//!
//! of a full job of the class on the finish, from the fits. The chance that an
//! entry is under comes from the cost's own uncertainty
//! ([`crate::fits::uncertain`]): that of the coating used, of its cost and of
//! the minutes. Wage, loading and consumables are taken as known, and so is
//! the cost per mL where it comes from constants.toml or from one bottle.

mod acceptance;

use super::floor::Basis;
use super::money::{with_tax, without_tax};
use super::price::PriceCurve;
use crate::estimate::{Estimate, NotEnough};
use crate::fits::uncertain::Uncertain;
use crate::money::Minor;
use serde::Serialize;

/// Chance above which an entry is called under its floor.
pub const UNDER: f64 = 0.9;
/// Chance above which it is called likely under.
pub const LIKELY: f64 = 0.5;
/// Level of the cost's interval.
pub const LEVEL: f64 = 0.95;

/// How an entry stands to its floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Chance over [`UNDER`].
    Under,
    /// Chance over [`LIKELY`].
    LikelyUnder,
    /// Neither.
    Covers,
    /// The cost of such work is not known.
    NotEnough,
}

/// An entry before it is judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Class.
    pub class: String,
    /// Finish.
    pub finish: String,
    /// List price of a full job, tax as the shop writes prices.
    pub list: Minor,
    /// Expected cost before card fees [minor units].
    pub cost: Result<Uncertain, NotEnough>,
    /// Jobs that the cost rests on.
    pub rests_on: u64,
    /// The window's coated jobs at this entry: each one's share of a full one.
    pub sold: Vec<f64>,
}

/// What is known of an entry whose cost is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Expected cost before card fees [minor units].
    pub cost: Estimate,
    /// The price at which that leaves the floor margin, tax as the shop
    /// writes prices.
    pub floor: Minor,
    /// Chance that the margin at list price is under the floor.
    pub chance_under: f64,
    /// The floor rounded up as the shop rounds; the list price where that
    /// covers.
    pub mend_to: Minor,
    /// What the mended price would have brought on the jobs sold in the
    /// window, less tax and card fees.
    pub would_bring: Minor,
    /// What it would have left more after costs, had as many said yes to it as
    /// the answers to other prices let expect.
    pub would_leave: Result<Minor, NotEnough>,
}

/// An entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Class.
    pub class: String,
    /// Finish.
    pub finish: String,
    /// List price of a full job, tax as the shop writes prices.
    pub list: Minor,
    /// Coated jobs of the window sold at it, partial ones too.
    pub sold: u64,
    /// What is known.
    pub judged: Result<Judged, NotEnough>,
    /// How it stands.
    pub verdict: Verdict,
}

impl Entry {
    /// What mending it would have brought over the window.
    pub fn would_bring(&self) -> Minor {
        self.judged.as_ref().map_or(Minor::ZERO, |j| j.would_bring)
    }
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceList {
    /// In the order of classes and finishes handed in.
    pub entries: Vec<Entry>,
    /// Entries of a long list that are not judged: their class or finish is
    /// too rare to be told apart.
    pub others: u64,
    /// Months of the window.
    pub months: u64,
}

impl PriceList {
    /// Entries of one verdict.
    pub fn of(&self, verdict: Verdict) -> impl Iterator<Item = &Entry> {
        self.entries.iter().filter(move |e| e.verdict == verdict)
    }

    /// What mending all entries of one verdict would have brought.
    pub fn would_bring(&self, verdict: Verdict) -> Minor {
        self.of(verdict).map(Entry::would_bring).sum()
    }

    /// The entry called under that would have brought most; of equals the
    /// surest.
    pub fn worst(&self) -> Option<&Entry> {
        let sure = |e: &Entry| e.judged.as_ref().map_or(0.0, |j| j.chance_under);
        self.of(Verdict::Under).min_by(|a, b| {
            let money = b.would_bring().cmp(&a.would_bring());
            money.then_with(|| sure(b).total_cmp(&sure(a)))
        })
    }
}

/// Judges the entries. `months`: how many the window has; `curve`: how
/// acceptance goes with the price, as a multiple of the list price.
pub fn find(
    candidates: Vec<Candidate>,
    basis: &Basis<'_>,
    months: u64,
    curve: &Result<&PriceCurve, NotEnough>,
) -> PriceList {
    let entries = candidates.into_iter().map(|c| entry(c, basis, curve));
    let entries = entries.collect();
    PriceList {
        entries,
        others: 0,
        months,
    }
}

fn entry(c: Candidate, basis: &Basis<'_>, curve: &Result<&PriceCurve, NotEnough>) -> Entry {
    let judged = c.cost.clone().and_then(|cost| {
        let none = || {
            NotEnough::new(
                0,
                1,
                "floor margins and card fees that leave something of a price",
            )
        };
        judge(&c, cost, basis, curve).ok_or_else(none)
    });
    let verdict = match &judged {
        Err(_) => Verdict::NotEnough,
        Ok(j) if j.chance_under > UNDER => Verdict::Under,
        Ok(j) if j.chance_under > LIKELY => Verdict::LikelyUnder,
        Ok(_) => Verdict::Covers,
    };
    Entry {
        sold: c.sold.len() as u64,
        class: c.class,
        finish: c.finish,
        list: c.list,
        judged,
        verdict,
    }
}

fn judge(
    c: &Candidate,
    cost: Uncertain,
    basis: &Basis<'_>,
    curve: &Result<&PriceCurve, NotEnough>,
) -> Option<Judged> {
    let money = basis.money;
    let net = without_tax(c.list, money).as_f64();
    let fees = c.list.as_f64() * money.card_fee_share;
    let chance_under = cost.chance_over(net * (1.0 - money.floor_margin) - fees);
    let floor = with_tax(basis.price_for(cost.value, money.floor_margin)?, money);
    let mend_to = if chance_under > LIKELY {
        rounded_up(floor, basis)?.max(c.list)
    } else {
        c.list
    };
    Some(Judged {
        cost: cost.estimate(LEVEL, c.rests_on),
        floor,
        chance_under,
        mend_to,
        would_bring: would_bring(c, mend_to, basis),
        would_leave: acceptance::left(c, mend_to, cost.value, curve, basis),
    })
}

/// Up to the next multiple of the shop's rounding.
pub fn rounded_up(price: Minor, basis: &Basis<'_>) -> Option<Minor> {
    let step = basis.money.currency.minor(basis.money.price_rounding)?.0;
    if step <= 1 {
        return Some(price);
    }
    let over = price.0.rem_euclid(step);
    Some(if over == 0 {
        price
    } else {
        Minor(price.0 - over + step)
    })
}

/// What a job of this share of a full one is charged.
fn charged(full: Minor, share: f64, basis: &Basis<'_>) -> Minor {
    let part = Minor::nearest(full.as_f64() * share).unwrap_or(full);
    if share < 1.0 {
        basis.rule.minimum.map_or(part, |m| part.max(m))
    } else {
        part
    }
}

fn would_bring(c: &Candidate, mend_to: Minor, basis: &Basis<'_>) -> Minor {
    let more = |share: &f64| {
        let (new, old) = (
            charged(mend_to, *share, basis),
            charged(c.list, *share, basis),
        );
        let fees = (new - old).as_f64() * basis.money.card_fee_share;
        let net = without_tax(new, basis.money) - without_tax(old, basis.money);
        net - Minor::nearest(fees).unwrap_or_default()
    };
    c.sold.iter().map(more).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::list_price::Rule;
    use crate::findings::price::{Peak, PricePoint};
    use crate::measures::Measures;
    use crate::settings::constants::Constants;
    use crate::settings::shop::Money;
    use std::collections::BTreeMap;

    fn judged(list: i64, cost: Result<Uncertain, NotEnough>, sold: &[f64], money: &Money) -> Entry {
        let unsaid = Err(NotEnough::new(0, 9, "declined offers with a price"));
        by_answers(list, cost, sold, money, &unsaid)
    }

    fn by_answers(
        list: i64,
        cost: Result<Uncertain, NotEnough>,
        sold: &[f64],
        money: &Money,
        curve: &Result<&PriceCurve, NotEnough>,
    ) -> Entry {
        let names = Measures::default();
        let rule = Rule {
            names: &names,
            full_area: &BTreeMap::new(),
            minimum: Some(Minor(12_000)),
            currency: &money.currency,
        };
        let basis = Basis {
            rates: None,
            money,
            constants: &Constants::default(),
            rule: &rule,
            reserve: 0.0,
        };
        let candidate = Candidate {
            class: "van".into(),
            finish: "matte".into(),
            list: Minor(list),
            cost,
            rests_on: 40,
            sold: sold.to_vec(),
        };
        find(vec![candidate], &basis, 12, curve).entries.remove(0)
    }

    fn cost(value: f64, standard_error: f64) -> Result<Uncertain, NotEnough> {
        Ok(Uncertain {
            value,
            standard_error,
            df: f64::INFINITY,
        })
    }

    /// By hand: cost 156.00 needs 156 / 0.65 = 240.00. At 220 the floor
    /// leaves 143.00 for costs, 2.6 errors below. Two full jobs and a half one
    /// at 240: 20 + 20 + 0, as both halves fall to the minimum of 120.
    #[test]
    fn an_entry_under_its_floor_is_mended_by_hand() {
        let money = Money::default();
        let e = judged(22_000, cost(15_600.0, 500.0), &[1.0, 1.0, 0.5], &money);
        let j = e.judged.clone().unwrap();
        assert_eq!(
            (e.verdict, j.floor, j.mend_to),
            (Verdict::Under, Minor(24_000), Minor(24_000))
        );
        assert!(
            (j.chance_under - 0.995_338_811_976_281).abs() < 1e-9,
            "{}",
            j.chance_under
        );
        assert_eq!(j.would_bring, Minor(4_000));
        let rounded = judged(22_000, cost(15_601.0, 500.0), &[], &money)
            .judged
            .unwrap();
        assert_eq!(
            (rounded.floor, rounded.mend_to),
            (Minor(24_002), Minor(24_500))
        );
    }

    fn curve(points: &[[f64; 2]]) -> PriceCurve {
        let sure = |x: f64| Estimate {
            value: x,
            low: x,
            high: x,
            level: LEVEL,
            n: 90,
        };
        let point = |p: &[f64; 2]| PricePoint {
            price: p[0],
            acceptance: sure(p[1]),
            contribution: sure(0.0),
        };
        let points: Vec<PricePoint> = points.iter().map(point).collect();
        PriceCurve {
            best: points[0],
            points,
            peak: Peak::AtOrBeyondTop { tried: 1.0 },
            chance_top: 1.0,
            chance_bottom: 0.0,
            flat_from: 1.0,
            flat_to: 1.0,
            gain: None,
        }
    }

    /// By hand: list 200, mended to 240, cost 156, the minimum for a part 120;
    /// of offers at list 60 % say yes, at a fifth more 45 %. A full job leaves
    /// 0.75 x 84 - 44 = 19; half a job is charged 120 either way and at list
    /// 120, so nothing changes. With as many takers 40 and 0.
    #[test]
    fn fewer_takers_leave_less_by_hand() {
        let money = Money::default();
        let tried = curve(&[[0.9, 0.66], [1.1, 0.54], [1.3, 0.36]]);
        let of = |sold: &[f64], curve: &PriceCurve| {
            let found = by_answers(20_000, cost(15_600.0, 500.0), sold, &money, &Ok(curve));
            let j = found.judged.unwrap();
            assert_eq!(j.mend_to, Minor(24_000));
            j
        };
        assert_eq!(of(&[1.0], &tried).would_leave, Ok(Minor(1_900)));
        assert_eq!(of(&[1.0, 0.5], &tried).would_leave, Ok(Minor(1_900)));
        assert_eq!(of(&[], &tried).would_leave, Ok(Minor::ZERO));
        let flat = curve(&[[0.9, 0.6], [1.3, 0.6]]);
        let same = of(&[1.0, 1.0, 0.9], &flat);
        assert_eq!(same.would_leave, Ok(same.would_bring));
        // Nothing outside what was tried.
        for [low, high] in [[0.9, 1.1], [1.05, 1.4]] {
            let short = curve(&[[low, 0.6], [high, 0.5]]);
            assert!(of(&[1.0], &short).would_leave.is_err(), "{low} to {high}");
        }
        let unsaid = judged(20_000, cost(15_600.0, 500.0), &[1.0], &money);
        assert_eq!(unsaid.judged.unwrap().would_leave.unwrap_err().need, 9);
    }

    #[test]
    fn each_verdict_has_its_threshold() {
        let money = Money::default();
        let verdict = |value, error| judged(22_000, cost(value, error), &[], &money).verdict;
        assert_eq!(verdict(14_300.0 + 128.2, 100.0), Verdict::Under);
        assert_eq!(verdict(14_300.0 + 128.1, 100.0), Verdict::LikelyUnder);
        assert_eq!(verdict(14_301.0, 100.0), Verdict::LikelyUnder);
        assert_eq!(verdict(14_300.0, 100.0), Verdict::Covers);
        let none = judged(22_000, Err(NotEnough::new(0, 1, "jobs")), &[1.0], &money);
        assert_eq!(
            (none.verdict, none.would_bring()),
            (Verdict::NotEnough, Minor::ZERO)
        );
    }

    #[test]
    fn a_covering_entry_keeps_its_price_and_asks_for_nothing() {
        let e = judged(40_000, cost(15_600.0, 500.0), &[1.0; 9], &Money::default());
        let j = e.judged.unwrap();
        assert_eq!(
            (e.verdict, j.mend_to, j.would_bring),
            (Verdict::Covers, Minor(40_000), Minor::ZERO)
        );
    }

    /// With 25 % tax in prices and 2 % fees on what is charged: net 240 is
    /// charged as 300, of which 6 are fees; so cost 150 at a floor margin of
    /// 35 %: 240 − 84 − 6 = 150.
    #[test]
    fn tax_and_fees_are_on_what_is_charged() {
        let money = Money {
            prices_include_tax: true,
            tax_rate: 0.25,
            card_fee_share: 0.02,
            ..Money::default()
        };
        let j = judged(30_000, cost(15_000.0, 100.0), &[1.0], &money)
            .judged
            .unwrap();
        assert_eq!(j.floor, Minor(30_000));
        assert!((j.chance_under - 0.5).abs() < 1e-9);
    }
}
