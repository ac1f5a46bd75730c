//! The one integration binary. Unit and property tests stand in their modules;
//! here stands what needs several rooms, files, or a source outside.
//!
//! * `layers`: imports run one way;
//! * `queries`: every query against expected tables;
//! * `reference_*`: published values and reference libraries;
//! * `twins_*`: slow, obvious twins of fast methods;
//! * `intake*`: messy files, line by line;
//! * `invent`: the demo data can be made again, byte for byte;
//! * `charts`: drawings against golden files;
//! * `truth`: true constants of invented shops, found again;
//! * `review`: the whole program, on the demo, the messy export and bad input;
//! * `page`: every sentence of the demo page against its table.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod charts;
mod invent;
mod layers;
mod queries;
mod review;
mod truth;
