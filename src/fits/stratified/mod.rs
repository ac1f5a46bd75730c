//! One comparison pooled over strata: Mantel and Haenszel.
//!
//! Question: among offers alike in all that splits them into strata (finish,
//! seller), how much oftener is the coating taken when the sample is shown
//! one way (group A) than another (group B)?
//!
//! In stratum k, A says yes a_k of n1_k, B says yes c_k of n0_k; b = n1 − a,
//! d = n0 − c, n = n1 + n0, m1 = a + c, m0 = b + d.
//!
//! - Odds ratio: OR = ΣR/ΣS, R = ad/n, S = bc/n. Variance of its logarithm
//!   by Robins, Breslow and Greenland (Biometrics 1986;42:311-323,
//!   doi:10.2307/2531052): with P = (a+d)/n and Q = (b+c)/n,
//!   ΣPR/2(ΣR)² + Σ(PS+QR)/2ΣRΣS + ΣQS/2(ΣS)².
//! - Risk difference: RD = Σ(a n0 − c n1)/n ÷ Σ n1 n0/n. Interval by Miettinen
//!   and Nurminen's score with these weights ([`score`]). Beside it
//!   ([`sato`]) the variance by Sato (Biometrics 1989;45:1323-1324):
//!   (RD ΣP' + ΣQ') / (Σ n1 n0/n)² with
//!   P' = (n1² c − n0² a + n1 n0 (n0 − n1)/2)/n², Q' = (a d + c b)/2n; its
//!   interval covers too little where strata are small.
//! - Test: (|Σa − Σ n1 m1/n| − ½)² / Σ n1 n0 m1 m0/(n²(n−1)) on chi-square 1.
//! - Sameness over strata: Breslow and Day's chi-square.
//!
//! All counts are offers. Where no stratum contradicts the trend (ΣS = 0 or
//! ΣR = 0) the pooled odds ratio is infinite or zero; the end of its interval
//! that exists is then exact (conditional on the margins, one-sided tail of
//! half of 1 − level), and no cell is padded.
//!
//! When it misleads: the pooled figure is an average; where the strata truly
//! differ ([`Pooled::sameness`]) it describes none of them. It adjusts for
//! the strata alone.

use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;

mod exact;
mod score;
mod tests_of;

pub use tests_of::ChiSquare;

/// The offers of one stratum.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stratum {
    /// Its name, for the record ("matte, P003").
    pub name: String,
    /// Group A's acceptances.
    pub a_yes: u64,
    /// Group A's offers.
    pub a_offers: u64,
    /// Group B's acceptances.
    pub b_yes: u64,
    /// Group B's offers.
    pub b_offers: u64,
}

/// The pooled odds ratio, A over B.
#[derive(Debug, Clone, PartialEq)]
pub enum OddsRatio {
    /// With Robins, Breslow and Greenland's interval.
    Known(Estimate),
    /// Infinite: in every stratum that tells, all of A said yes or none of B did. Only the
    /// lower end exists.
    AtLeast {
        /// Exact lower limit.
        low: f64,
        /// Level of the two-sided interval that the limit belongs to.
        level: f64,
        /// Offers it rests on.
        n: u64,
    },
    /// Zero: in every stratum that tells, none of A said yes or all of B did. Only the upper
    /// end exists.
    AtMost {
        /// Exact upper limit.
        high: f64,
        /// Level of the two-sided interval that the limit belongs to.
        level: f64,
        /// Offers it rests on.
        n: u64,
    },
    /// No stratum holds both groups and both answers.
    NotEnough(NotEnough),
}

/// The comparison pooled over strata, and which strata said nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Pooled {
    /// Odds ratio, A over B.
    pub odds_ratio: OddsRatio,
    /// Difference of acceptance, A − B, as a share, with its score interval.
    pub difference: Figure,
    /// Mantel-Haenszel test of no difference, with continuity correction;
    /// absent where no stratum tells.
    pub test: Option<ChiSquare>,
    /// The same without the correction.
    pub test_uncorrected: Option<ChiSquare>,
    /// Breslow-Day test that the odds ratio is the same in every stratum;
    /// absent with fewer than two strata that tell, or an OR of 0 or ∞.
    pub sameness: Option<ChiSquare>,
    /// Strata that inform the odds ratio.
    pub strata_used: usize,
    /// Strata with offers in one group only: no comparison.
    pub one_group: Vec<String>,
    /// Strata in which everybody gave the same answer: they inform the
    /// difference, not the odds ratio.
    pub one_answer: Vec<String>,
}

/// A stratum's numbers as the formulas name them.
#[derive(Debug, Clone, Copy)]
struct Cells {
    a: f64,
    b: f64,
    c: f64,
    d: f64,
    n1: f64,
    n0: f64,
    n: f64,
}

impl Cells {
    fn new(s: &Stratum) -> Self {
        let (n1, n0) = (s.a_offers as f64, s.b_offers as f64);
        let (a, c) = (s.a_yes as f64, s.b_yes as f64);
        Self {
            a,
            b: n1 - a,
            c,
            d: n0 - c,
            n1,
            n0,
            n: n1 + n0,
        }
    }

    /// Mantel and Haenszel's weight of the stratum in the difference.
    fn weight(&self) -> f64 {
        self.n1 * self.n0 / self.n
    }

    fn compares(&self) -> bool {
        self.n1 > 0.0 && self.n0 > 0.0
    }

    fn tells(&self) -> bool {
        self.compares() && self.a + self.c > 0.0 && self.b + self.d > 0.0
    }
}

/// Pools the strata, with intervals at `level`.
///
/// # Errors
/// [`FitError::Parameter`] for a level outside (0, 1);
/// [`FitError::OutOfRange`] for more acceptances than offers. Too little data
/// is no error: see [`OddsRatio::NotEnough`] and [`Figure::NotEnough`].
pub fn pool(strata: &[Stratum], level: f64) -> Result<Pooled, FitError> {
    check(strata, level)?;
    let cells: Vec<Cells> = strata.iter().map(Cells::new).collect();
    let comparing: Vec<Cells> = cells.iter().filter(|c| c.compares()).copied().collect();
    let telling: Vec<Cells> = cells.iter().filter(|c| c.tells()).copied().collect();
    let odds_ratio = odds_ratio(&telling, level)?;
    Ok(Pooled {
        difference: difference(&comparing, level),
        test: tests_of::mantel_haenszel(&telling, 0.5),
        test_uncorrected: tests_of::mantel_haenszel(&telling, 0.0),
        sameness: tests_of::breslow_day(&telling, &odds_ratio),
        odds_ratio,
        strata_used: telling.len(),
        one_group: names(strata, &cells, |c| !c.compares()),
        one_answer: names(strata, &cells, |c| c.compares() && !c.tells()),
    })
}

/// Refuses a level out of range and impossible counts.
fn check(strata: &[Stratum], level: f64) -> Result<(), FitError> {
    check_level(level)?;
    for (row, s) in strata.iter().enumerate() {
        for (yes, offers) in [(s.a_yes, s.a_offers), (s.b_yes, s.b_offers)] {
            if yes > offers {
                return Err(FitError::OutOfRange {
                    what: "acceptances of a stratum",
                    row,
                    found: yes as f64,
                    expected: "no more than its offers",
                });
            }
        }
    }
    Ok(())
}

/// Names of the strata with offers whose cells answer to `which`.
fn names(strata: &[Stratum], cells: &[Cells], which: impl Fn(&Cells) -> bool) -> Vec<String> {
    let pairs = strata.iter().zip(cells);
    pairs
        .filter(|(_, c)| which(c))
        .map(|(s, _)| s.name.clone())
        .collect()
}

/// ΣR/ΣS with its interval, or the one end that exists.
fn odds_ratio(telling: &[Cells], level: f64) -> Result<OddsRatio, FitError> {
    if telling.is_empty() {
        let of = "strata with both groups and both answers";
        return Ok(OddsRatio::NotEnough(NotEnough::new(0, 1, of)));
    }
    let n = offers(telling);
    let tail = (1.0 - level) / 2.0;
    let r: f64 = telling.iter().map(|k| k.a * k.d / k.n).sum();
    let s: f64 = telling.iter().map(|k| k.b * k.c / k.n).sum();
    if s == 0.0 {
        let low = exact::lowest(telling, tail)?;
        return Ok(OddsRatio::AtLeast { low, level, n });
    }
    if r == 0.0 {
        let high = exact::highest(telling, tail)?;
        return Ok(OddsRatio::AtMost { high, level, n });
    }
    let (value, half) = (
        r / s,
        normal_margin(level) * log_variance(telling, r, s).sqrt(),
    );
    Ok(OddsRatio::Known(Estimate {
        value,
        low: value * (-half).exp(),
        high: value * half.exp(),
        level,
        n,
    }))
}

/// Robins, Breslow and Greenland's variance of log OR.
fn log_variance(telling: &[Cells], r: f64, s: f64) -> f64 {
    let term = |k: &Cells| {
        let (rk, sk) = (k.a * k.d / k.n, k.b * k.c / k.n);
        let (p, q) = ((k.a + k.d) / k.n, (k.b + k.c) / k.n);
        p * rk / (2.0 * r * r) + (p * sk + q * rk) / (2.0 * r * s) + q * sk / (2.0 * s * s)
    };
    telling.iter().map(term).sum()
}

/// What there is no difference without.
fn no_stratum() -> Figure {
    NotEnough::new(0, 1, "strata with offers in both groups").into()
}

/// RD, as its formula has it.
fn pooled_difference(comparing: &[Cells]) -> f64 {
    let weight: f64 = comparing.iter().map(Cells::weight).sum();
    let gap = |k: &Cells| (k.a * k.n0 - k.c * k.n1) / k.n;
    comparing.iter().map(gap).sum::<f64>() / weight
}

/// The pooled difference with its score interval.
fn difference(comparing: &[Cells], level: f64) -> Figure {
    if comparing.is_empty() {
        return no_stratum();
    }
    let value = pooled_difference(comparing);
    let ends = score::ends(comparing, value, normal_margin(level));
    Figure::from(Estimate {
        value,
        low: ends.low,
        high: ends.high,
        level,
        n: offers(comparing),
    })
}

/// The pooled difference with Sato's interval, cut at −1 and 1: for many
/// offers a stratum, and for comparison with published figures.
///
/// # Errors
/// As [`pool`].
pub fn sato(strata: &[Stratum], level: f64) -> Result<Figure, FitError> {
    check(strata, level)?;
    let cells = strata.iter().map(Cells::new);
    let comparing: Vec<Cells> = cells.filter(Cells::compares).collect();
    if comparing.is_empty() {
        return Ok(no_stratum());
    }
    let weight: f64 = comparing.iter().map(Cells::weight).sum();
    let value = pooled_difference(&comparing);
    let variance = sato_sum(&comparing, value) / (weight * weight);
    // Zero where each group of each stratum is of one mind: the formula then
    // claims certainty, from two offers as from two hundred.
    if variance <= 1e-14 {
        let of = "strata in which a group gave both answers";
        return Ok(NotEnough::new(0, 1, of).into());
    }
    let half = normal_margin(level) * variance.sqrt();
    Ok(Figure::from(Estimate {
        value,
        low: (value - half).max(-1.0),
        high: (value + half).min(1.0),
        level,
        n: offers(&comparing),
    }))
}

/// RD ΣP' + ΣQ'.
fn sato_sum(comparing: &[Cells], rd: f64) -> f64 {
    let term = |k: &Cells| {
        let balance = k.n1 * k.n0 * (k.n0 - k.n1) / 2.0;
        let p = (k.n1 * k.n1 * k.c - k.n0 * k.n0 * k.a + balance) / (k.n * k.n);
        rd * p + (k.a * k.d + k.c * k.b) / (2.0 * k.n)
    };
    comparing.iter().map(term).sum()
}

/// Offers in these strata.
fn offers(cells: &[Cells]) -> u64 {
    cells.iter().map(|k| k.n).sum::<f64>() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stratum(name: &str, a: (u64, u64), b: (u64, u64)) -> Stratum {
        Stratum {
            name: name.to_owned(),
            a_yes: a.0,
            a_offers: a.1,
            b_yes: b.0,
            b_offers: b.1,
        }
    }

    #[test]
    fn strata_that_say_nothing_are_named_and_change_nothing() {
        let telling = stratum("gloss", (8, 20), (5, 25));
        let alone = pool(std::slice::from_ref(&telling), 0.95).unwrap();
        let with = pool(
            &[
                telling,
                stratum("no B", (3, 9), (0, 0)),
                stratum("empty", (0, 0), (0, 0)),
            ],
            0.95,
        )
        .unwrap();
        assert_eq!(with.one_group, ["no B", "empty"]);
        assert_eq!(with.odds_ratio, alone.odds_ratio);
        assert_eq!(with.difference, alone.difference);
        assert_eq!(with.strata_used, 1);
    }

    #[test]
    fn one_answer_pulls_the_difference_and_not_the_ratio() {
        let telling = stratum("gloss", (8, 20), (5, 25));
        let all_yes = stratum("matte", (10, 10), (10, 10));
        let alone = pool(std::slice::from_ref(&telling), 0.95).unwrap();
        let with = pool(&[telling, all_yes], 0.95).unwrap();
        assert_eq!(with.one_answer, ["matte"]);
        assert_eq!(with.odds_ratio, alone.odds_ratio);
        assert!(with.difference.value().unwrap() < alone.difference.value().unwrap());
    }

    /// For one table the exact limit is that of Fisher's conditional
    /// interval; R 4.2's `fisher.test(matrix(c(5,0,2,4),2))` is not at hand,
    /// so the limit is checked by its definition: the chance of the table
    /// seen, at that odds ratio, is the tail.
    #[test]
    fn without_a_contradiction_only_one_end_exists() {
        let up = stratum("x", (5, 5), (2, 6));
        let pooled = pool(std::slice::from_ref(&up), 0.95).unwrap();
        let OddsRatio::AtLeast { low, n, .. } = pooled.odds_ratio else {
            panic!("{:?}", pooled.odds_ratio)
        };
        assert_eq!(n, 11);
        // Noncentral hypergeometric, 5 from A and 6 from B, 7 yes in all:
        // A's yes run from 1 to 5 with weights C(5,j) C(6,7-j).
        let weights = [5.0 * 1.0, 10.0 * 6.0, 10.0 * 15.0, 5.0 * 20.0, 1.0 * 15.0];
        let sum: f64 = (1..).zip(weights).map(|(j, w)| w * low.powi(j)).sum();
        assert!((15.0 * low.powi(5) / sum - 0.025).abs() < 1e-12);

        let down = stratum("x", (0, 5), (4, 6));
        let mirrored = pool(&[down], 0.95).unwrap();
        let OddsRatio::AtMost { high, .. } = mirrored.odds_ratio else {
            panic!("{:?}", mirrored.odds_ratio)
        };
        assert!((high - 1.0 / low).abs() < 1e-9 * high, "{high} {low}");
    }

    #[test]
    fn a_difference_of_one_mind_claims_no_certainty() {
        let one_mind = [stratum("x", (2, 2), (0, 2))];
        let e = *pool(&one_mind, 0.95).unwrap().difference.known().unwrap();
        assert!(e.value == 1.0 && e.high == 1.0 && e.low < 0.1, "{e:?}");
        assert!(matches!(
            sato(&one_mind, 0.95).unwrap(),
            Figure::NotEnough(_)
        ));
        // Everybody said yes: no difference, but not for certain.
        let all_yes = pool(&[stratum("x", (4, 4), (3, 3))], 0.95).unwrap();
        let e = *all_yes.difference.known().unwrap();
        assert!(e.value == 0.0 && e.low < -0.3 && e.high > 0.3, "{e:?}");
        let nothing = pool(&[], 0.95).unwrap();
        assert!(matches!(nothing.odds_ratio, OddsRatio::NotEnough(_)));
        assert!(matches!(nothing.difference, Figure::NotEnough(_)));
        assert_eq!(nothing.test, None);
    }

    /// At no difference the score's variance is that of the Mantel-Haenszel
    /// test, so the level at which the interval touches 0 is the test's.
    #[test]
    fn the_interval_touches_none_where_the_test_says() {
        let strata = [
            stratum("a", (8, 20), (5, 25)),
            stratum("b", (3, 4), (1, 3)),
            stratum("c", (1, 1), (1, 2)),
        ];
        let test = pool(&strata, 0.95).unwrap().test_uncorrected.unwrap();
        let e = *pool(&strata, 1.0 - test.p)
            .unwrap()
            .difference
            .known()
            .unwrap();
        assert!(e.low.abs() < 1e-9 && e.value > 0.0, "{e:?}");
    }

    #[test]
    fn swapping_the_groups_mirrors_every_figure() {
        let strata = [
            stratum("a", (8, 20), (5, 25)),
            stratum("b", (3, 11), (1, 17)),
        ];
        let mirrored: Vec<Stratum> = strata
            .iter()
            .map(|s| stratum(&s.name, (s.b_yes, s.b_offers), (s.a_yes, s.a_offers)))
            .collect();
        let (x, y) = (pool(&strata, 0.95).unwrap(), pool(&mirrored, 0.95).unwrap());
        let (OddsRatio::Known(p), OddsRatio::Known(q)) = (x.odds_ratio, y.odds_ratio) else {
            panic!("both are known")
        };
        assert!((p.low * q.high - 1.0).abs() < 1e-12);
        let (p, q) = (x.difference.known().unwrap(), y.difference.known().unwrap());
        assert!((p.low + q.high).abs() < 1e-12);
    }

    #[test]
    fn impossible_counts_and_levels_are_refused() {
        let bad = pool(&[stratum("x", (3, 2), (0, 1))], 0.95);
        assert!(matches!(bad, Err(FitError::OutOfRange { row: 0, .. })));
        assert!(matches!(pool(&[], 1.0), Err(FitError::Parameter { .. })));
    }
}
