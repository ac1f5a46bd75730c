//! A figure and how sure it is: the one shape in which every estimate travels.

use serde::Serialize;

/// An estimate with its interval.
///
/// `low..high` is made so that it holds the true figure `level` of the time
/// (0.95: about 19 times in 20); `n` is the number of jobs (or offers,
/// bottles, ...) that it rests on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// Best single value.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// Share of such intervals that hold the truth, e.g. `0.95`.
    pub level: f64,
    /// Observations that carry it.
    pub n: u64,
}

impl Estimate {
    /// True where `x` lies within the interval, ends included.
    pub fn holds(&self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }

    /// The same estimate with value and ends passed through `f`, which must
    /// not decrease (a change of unit, an exponential).
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self {
            value: f(self.value),
            low: f(self.low),
            high: f(self.high),
            ..self
        }
    }

    /// True where value and both ends are finite.
    pub fn is_finite(&self) -> bool {
        self.value.is_finite() && self.low.is_finite() && self.high.is_finite()
    }
}

/// Too little data for a figure: what there is, what it takes, of what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NotEnough {
    /// How many there are.
    pub have: u64,
    /// How many it takes.
    pub need: u64,
    /// What is counted, in the plural: "coated jobs".
    pub of: String,
}

impl NotEnough {
    /// `have` of the `need` that it takes, of `of`.
    pub fn new(have: u64, need: u64, of: impl Into<String>) -> Self {
        Self {
            have,
            need,
            of: of.into(),
        }
    }
}

/// An estimate, or how much is missing for one. Serialises to the flat
/// estimate, or to `{"not_enough": {have, need, of}}` in its place.
#[derive(Debug, Clone, PartialEq)]
pub enum Figure {
    /// It could be estimated.
    Known(Estimate),
    /// It could not, and this is what is missing.
    NotEnough(NotEnough),
}

impl Figure {
    /// The estimate, where there is one.
    pub fn known(&self) -> Option<&Estimate> {
        match self {
            Self::Known(e) => Some(e),
            Self::NotEnough(_) => None,
        }
    }

    /// What is missing, where it could not be estimated.
    pub fn not_enough(&self) -> Option<&NotEnough> {
        match self {
            Self::Known(_) => None,
            Self::NotEnough(n) => Some(n),
        }
    }

    /// The value alone, where there is one.
    pub fn value(&self) -> Option<f64> {
        self.known().map(|e| e.value)
    }

    /// As [`Estimate::map`], leaving what is not known alone.
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        match self {
            Self::Known(e) => Self::Known(e.map(f)),
            other => other,
        }
    }
}

impl From<Estimate> for Figure {
    fn from(e: Estimate) -> Self {
        Self::Known(e)
    }
}

impl From<NotEnough> for Figure {
    fn from(e: NotEnough) -> Self {
        Self::NotEnough(e)
    }
}

impl Serialize for Figure {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Missing<'a> {
            not_enough: &'a NotEnough,
        }
        match self {
            Self::Known(e) => e.serialize(to),
            Self::NotEnough(n) => Missing { not_enough: n }.serialize(to),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_known_figure_is_flat_and_a_missing_one_says_what_is_missing() {
        let e = Estimate {
            value: 1.5,
            low: 1.0,
            high: 2.0,
            level: 0.95,
            n: 48,
        };
        let known = serde_json::to_string(&Figure::from(e)).unwrap();
        assert_eq!(
            known,
            r#"{"value":1.5,"low":1.0,"high":2.0,"level":0.95,"n":48}"#
        );
        let missing = Figure::from(NotEnough::new(3, 10, "coated jobs"));
        assert_eq!(
            serde_json::to_string(&missing).unwrap(),
            r#"{"not_enough":{"have":3,"need":10,"of":"coated jobs"}}"#
        );
        assert_eq!(missing.value(), None);
        assert!(e.holds(1.0) && e.holds(2.0) && !e.holds(2.01));
    }
}
