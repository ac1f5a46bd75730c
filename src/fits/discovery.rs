//! Raising several things at once without raising many wrongly.
//!
//! [`benjamini_hochberg`] (JRSS B 1995;57:289-300,
//! doi:10.1111/j.2517-6161.1995.tb02031.x): of m tests sorted by tail area,
//! the k-th is raised where some j ≥ k has p_(j) ≤ j q/m; adjusted
//! p_(k) = min over j ≥ k of m p_(j)/j. At most a share q of those raised is
//! then false on average, for independent tests.
//!
//! [`by_chance`]: things are raised in order of their (posterior) chance of
//! being true, as long as the mean chance of error among those raised stays
//! within a limit, and none under a least chance. (The Bayes rule for the
//! posterior false discovery rate; Müller, Parmigiani, Robert and Rousseau,
//! JASA 2004;99:990-1001, doi:10.1198/016214504000001646, without the least
//! chance, which is this program's own.)
//!
//! Everything is returned in the order of the input. When it misleads: tail
//! areas or chances that are wrong to begin with.

use crate::fits::error::FitError;

/// One test among several.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adjusted {
    /// Its tail area.
    pub p: f64,
    /// The smallest q at which it would be raised.
    pub adjusted: f64,
    /// Whether it is raised at the q asked for.
    pub raised: bool,
}

/// What is raised, and how often that is wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Raised {
    /// For each of the input, whether it is raised.
    pub raised: Vec<bool>,
    /// Mean chance of error among the raised; 0 where none is.
    pub mean_error: f64,
}

/// The rule of [`by_chance`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// Largest mean chance of error among the raised (default 0.1).
    pub mean_error: f64,
    /// Least chance of anything raised (default 0.8).
    pub least_chance: f64,
}

impl Default for Rule {
    fn default() -> Self {
        Self {
            mean_error: 0.10,
            least_chance: 0.80,
        }
    }
}

/// Benjamini and Hochberg's step-up at `q`.
///
/// # Errors
/// [`FitError::OutOfRange`] for a tail area outside 0..1 (or not a number),
/// [`FitError::Parameter`] likewise for `q`.
pub fn benjamini_hochberg(p: &[f64], q: f64) -> Result<Vec<Adjusted>, FitError> {
    check_share("q", q)?;
    check_shares("tail areas", p)?;
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let tests = p.len() as f64;
    let mut adjusted = vec![1.0_f64; p.len()];
    let mut least = 1.0_f64;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(p[i] * tests / (rank + 1) as f64);
        adjusted[i] = least;
    }
    let each = p.iter().zip(&adjusted);
    Ok(each
        .map(|(&p, &adjusted)| Adjusted {
            p,
            adjusted,
            raised: adjusted <= q,
        })
        .collect())
}

/// Raises by chance; equal chances in the order of the input.
///
/// # Errors
/// [`FitError::OutOfRange`] for a chance outside 0..1 (or not a number),
/// [`FitError::Parameter`] likewise for the rule.
pub fn by_chance(chances: &[f64], rule: Rule) -> Result<Raised, FitError> {
    check_share("mean error", rule.mean_error)?;
    check_share("least chance", rule.least_chance)?;
    check_shares("chances", chances)?;
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|&a, &b| chances[b].total_cmp(&chances[a]));
    let mut out = Raised {
        raised: vec![false; chances.len()],
        mean_error: 0.0,
    };
    let mut errors = 0.0;
    for (before, &i) in order.iter().enumerate() {
        errors += 1.0 - chances[i];
        let mean = errors / (before + 1) as f64;
        // Errors come in rising order, so their mean rises too: once over,
        // always over.
        if mean > rule.mean_error || chances[i] < rule.least_chance {
            break;
        }
        out.raised[i] = true;
        out.mean_error = mean;
    }
    Ok(out)
}

fn check_share(what: &'static str, found: f64) -> Result<(), FitError> {
    if (0.0..=1.0).contains(&found) {
        return Ok(());
    }
    Err(FitError::Parameter {
        what,
        found,
        expected: "a share from 0 to 1",
    })
}

fn check_shares(what: &'static str, values: &[f64]) -> Result<(), FitError> {
    match values.iter().position(|v| !(0.0..=1.0).contains(v)) {
        None => Ok(()),
        Some(row) => Err(FitError::OutOfRange {
            what,
            row,
            found: values[row],
            expected: "a share from 0 to 1",
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_are_raised_until_the_mean_error_is_used_up() {
        let chances = [0.5, 0.99, 0.85, 0.95, 0.82];
        // Errors in order: .01, .05, .15, .18: means .01, .03, .07, .0975.
        let raised = by_chance(&chances, Rule::default()).unwrap();
        assert_eq!(raised.raised, [false, true, true, true, true]);
        assert!((raised.mean_error - 0.0975).abs() < 1e-12);
        // Alone, 0.85 is an error of 0.15: too much.
        let alone = by_chance(&[0.85, 0.1], Rule::default()).unwrap();
        assert_eq!(alone.raised, [false, false]);
        assert_eq!(alone.mean_error, 0.0);
        // Under the least chance nothing is carried by the others.
        let carried = by_chance(&[1.0, 1.0, 1.0, 0.79], Rule::default()).unwrap();
        assert_eq!(carried.raised, [true, true, true, false]);
    }

    #[test]
    fn the_order_of_the_input_changes_nothing() {
        let p = [0.04, 0.001, 0.2, 0.03, 0.012];
        let turned: Vec<f64> = p.iter().rev().copied().collect();
        let mut back = benjamini_hochberg(&turned, 0.05).unwrap();
        back.reverse();
        assert_eq!(back, benjamini_hochberg(&p, 0.05).unwrap());
    }

    #[test]
    fn what_is_no_share_is_refused() {
        assert!(matches!(
            by_chance(&[0.9, f64::NAN], Rule::default()),
            Err(FitError::OutOfRange { row: 1, .. })
        ));
        assert!(benjamini_hochberg(&[0.5], 1.5).is_err());
        assert!(benjamini_hochberg(&[-0.1], 0.05).is_err());
        assert_eq!(benjamini_hochberg(&[], 0.05), Ok(vec![]));
    }
}
