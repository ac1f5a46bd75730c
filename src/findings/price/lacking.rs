//! The curve for others, or what is missing for it.

use super::{Price, PriceCurve, Recorded, Unsaid};
use crate::estimate::NotEnough;
use crate::findings::{Lacking, Missing};

impl Price {
    /// How acceptance goes with the price, or what is missing to say so.
    pub fn curve(&self) -> Result<&PriceCurve, NotEnough> {
        let said = self.said.as_ref().map(|a| &a.curve);
        said.map_err(|why| why.lacking(&self.recorded))
    }
}

impl Unsaid {
    /// What is missing.
    pub fn lacking(&self, r: &Recorded) -> NotEnough {
        let none = |of: &str| NotEnough::new(0, 1, of);
        match self {
            Self::NotWritten => NotEnough::new(
                r.declined_priced,
                r.declined,
                "declined offers with a price",
            ),
            Self::TooFew(n) | Self::Missing(Missing::TooFew(n)) => n.clone(),
            Self::NeverVaried => NotEnough::new(1, 2, "prices of offers alike"),
            Self::Missing(Missing::NoPrice(lacking)) => none(match lacking {
                Lacking::Constants => "dated records in constants.toml",
                Lacking::CoatingCost => "price of the coating",
                Lacking::Wage => "hourly cost",
            }),
        }
    }
}
