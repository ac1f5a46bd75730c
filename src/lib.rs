//! Monthly review of a coating add-on, from a film shop's CSV exports.
//!
//! Data runs one way, and this list reads as that sentence:
//!
//! * [`settings`]: flags and files become checked values, once;
//! * [`intake`]: bytes become typed frames, a ledger of lines, a quarantine;
//! * [`measures`]: the SQL in `queries/` turns frames into plain tables;
//! * [`fits`]: slices of numbers become estimates with intervals;
//! * [`findings`]: tables and estimates become claims;
//! * [`charts`]: points, bands and labels become SVG;
//! * [`pages`]: findings and drawings become files.
//!
//! [`run`] is the only place where these meet. [`invent`] makes shops with a
//! known truth and shares nothing with the fits. [`disk`], [`estimate`],
//! [`money`] and [`units`] are leaves that any of them may use.

#![forbid(unsafe_code)]

pub mod charts;
pub mod disk;
mod error;
pub mod estimate;
pub mod findings;
pub mod fits;
pub mod intake;
pub mod invent;
pub mod measures;
pub mod money;
pub mod pages;
pub mod run;
pub mod settings;
mod threads;
pub mod units;
