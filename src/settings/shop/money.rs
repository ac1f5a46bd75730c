//! How a shop's money is counted.

use super::super::error::{SettingsError, Source};
use super::super::raw::RawMoney;
use crate::money::Currency;

/// Money settings. Shares are of 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Money {
    /// The shop's currency.
    pub currency: Currency,
    /// Loaded labour = wage × this.
    pub labour_loading: f64,
    /// True where the shop set the loading itself.
    pub labour_loading_given: bool,
    /// Consumables per coated job, major units.
    pub consumables: f64,
    /// Card fees as a share of what is charged.
    pub card_fee_share: f64,
    /// A price covers the work where its margin is at least this share.
    pub floor_margin: f64,
    /// The margin that the shop aims at.
    pub target_margin: f64,
    /// Prices are rounded up to a multiple of this, major units.
    pub price_rounding: f64,
    /// No list price of a partial job falls under this, major units.
    pub minimum_price: Option<f64>,
    /// True where prices in the exports hold sales tax.
    pub prices_include_tax: bool,
    /// Sales tax as a share of the price without it.
    pub tax_rate: f64,
}

impl Default for Money {
    fn default() -> Self {
        Self {
            currency: Currency {
                code: "USD".into(),
                sign: "$".into(),
                decimals: 2,
            },
            labour_loading: 1.42,
            labour_loading_given: false,
            consumables: 0.0,
            card_fee_share: 0.0,
            floor_margin: 0.35,
            target_margin: 0.55,
            price_rounding: 5.0,
            minimum_price: None,
            prices_include_tax: false,
            tax_rate: 0.0,
        }
    }
}

pub(super) fn money(source: &Source, raw: RawMoney) -> Result<Money, SettingsError> {
    let usual = Money::default();
    let code = raw.currency.unwrap_or(usual.currency.code);
    let currency = Currency::of(&code).ok_or_else(|| {
        source.value(
            "money",
            "currency",
            format!("{code:?}"),
            "an ISO 4217 code of three capital letters, as \"USD\"",
        )
    })?;
    let number = |key: &str, given: Option<f64>, usual: f64, low: f64, below: f64| {
        let x = given.unwrap_or(usual);
        if x.is_finite() && low <= x && x < below {
            Ok(x)
        } else {
            let expected = format!("a number from {low} to under {below}");
            Err(source.value("money", key, x, expected))
        }
    };
    const ANY: f64 = 1.0e9;
    let minimum = raw.minimum_price;
    Ok(Money {
        currency,
        labour_loading: number("labour_loading", raw.labour_loading, 1.42, 1.0, 10.0)?,
        labour_loading_given: raw.labour_loading.is_some(),
        consumables: number("consumables", raw.consumables, 0.0, 0.0, ANY)?,
        card_fee_share: number("card_fee_share", raw.card_fee_share, 0.0, 0.0, 0.5)?,
        floor_margin: number("floor_margin", raw.floor_margin, 0.35, 0.0, 1.0)?,
        target_margin: number("target_margin", raw.target_margin, 0.55, 0.0, 1.0)?,
        price_rounding: number("price_rounding", raw.price_rounding, 5.0, 0.01, ANY)?,
        minimum_price: minimum
            .map(|m| number("minimum_price", Some(m), 0.0, 0.0, ANY))
            .transpose()?,
        prices_include_tax: raw.prices_include_tax.unwrap_or(false),
        tax_rate: number("tax_rate", raw.tax_rate, 0.0, 0.0, 1.0)?,
    })
}
