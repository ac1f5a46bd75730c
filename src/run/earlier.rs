//! The review of the month before, where the folder holds one: an input like
//! any other, so the same folder gives the same bytes.

use crate::findings::restated::{Counted, Earlier, Earned};
use crate::money::Minor;
use crate::settings::month::Month;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Reads `reviews/<month>/review.json` of a folder; `None` where there is no
/// review of that month that this program can read.
pub(super) fn read(folder: &Path, month: Month) -> Option<Earlier> {
    let place = folder.join("reviews").join(month.to_string());
    let text = fs::read(place.join("review.json")).ok()?;
    parse(&serde_json::from_slice(&text).ok()?, month)
}

fn parse(review: &Value, month: Month) -> Option<Earlier> {
    let ours = review["format"] == "tallycoat-review" && review["version"] == 1;
    if !ours || review["month"].as_str() != Some(month.to_string().as_str()) {
        return None;
    }
    let counted = |m: &Value| {
        Some(Counted {
            month: Month::parse(m["month"].as_str()?)?,
            eligible: m["eligible"].as_u64()?,
            coated: m["coated"].as_u64()?,
        })
    };
    let months = review["attach"]["months"].as_array()?;
    let money = &review["margin"];
    let earned = || {
        Some(Earned {
            jobs: money["coated_jobs"].as_u64()?,
            net_price: Minor(money["net_price"].as_i64()?),
            contribution: Minor(money["contribution"].as_i64()?),
        })
    };
    Some(Earlier {
        month,
        counts: months.iter().map(counted).collect::<Option<_>>()?,
        earned: earned(),
    })
}
