//! The curve for others, or what is missing for it.

use super::{LEAST_WRITTEN, Price, PriceCurve, Recorded, Unsaid};
use crate::estimate::NotEnough;
use crate::findings::{Lacking, Missing};

impl Price {
    /// How acceptance goes with the price, or what is missing to say so.
    pub fn curve(&self) -> Result<&PriceCurve, NotEnough> {
        let said = self.said.as_ref().map(|a| &a.curve);
        said.map_err(|why| why.lacking(&self.recorded))
    }
}

impl Recorded {
    /// Offers that still need a price written down: declined ones, or accepted
    /// ones where only those fall short.
    pub fn lacking(&self) -> NotEnough {
        let need = |of: u64| (LEAST_WRITTEN * of as f64).ceil() as u64;
        let declined = need(self.declined);
        if self.declined_priced < declined {
            let of = "declined offers with a price";
            return NotEnough::new(self.declined_priced, declined, of);
        }
        let of = "accepted offers with a price";
        NotEnough::new(self.accepted_priced, need(self.accepted), of)
    }

    /// Months until [`Self::lacking`] is filled if every such offer has its
    /// price written down from now on, at the pace of the last `months`.
    pub fn months_to_go(&self, months: u64) -> Option<u64> {
        let n = self.lacking();
        let all = match n.of.starts_with("declined") {
            true => self.declined,
            false => self.accepted,
        };
        let a_month = all as f64 / months.max(1) as f64;
        let more = n.need.saturating_sub(n.have) as f64;
        (a_month > 0.0).then(|| (more / a_month).ceil() as u64)
    }
}

impl Unsaid {
    /// What is missing.
    pub fn lacking(&self, r: &Recorded) -> NotEnough {
        let none = |of: &str| NotEnough::new(0, 1, of);
        match self {
            Self::NotWritten => r.lacking(),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_fifths_of_declined_offers_need_a_price_and_then_of_accepted_ones() {
        let mut r = Recorded {
            accepted: 296,
            accepted_priced: 296,
            declined: 171,
            ..Recorded::default()
        };
        let n = r.lacking();
        assert_eq!((n.have, n.need), (0, 137), "0.8 of 171 is 136.8");
        // 137 at 171 in 12 months: 9.6 months.
        assert_eq!(r.months_to_go(12), Some(10));
        r.declined_priced = 137;
        r.accepted_priced = 200;
        let n = r.lacking();
        assert!(n.of.starts_with("accepted"));
        assert_eq!((n.have, n.need), (200, 237));
        assert_eq!(r.months_to_go(12), Some(2));
        assert_eq!(Recorded::default().months_to_go(12), None);
    }
}
