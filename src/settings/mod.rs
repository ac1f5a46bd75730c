//! Settings: the command line, `shop.toml` and `constants.toml` become checked
//! values once; nothing after this room reads flags or settings files.

pub mod adopt;
pub mod command;
pub mod constants;
pub mod contract;
mod error;
pub mod month;
pub mod questions;
mod raw;
pub mod shop;

pub use error::SettingsError;

use chrono::NaiveDate;

/// The day of a TOML date; `None` where it is a time alone.
fn date_of(d: &toml::value::Datetime) -> Option<NaiveDate> {
    let date = d.date.as_ref()?;
    NaiveDate::from_ymd_opt(
        i32::from(date.year),
        u32::from(date.month),
        u32::from(date.day),
    )
}
