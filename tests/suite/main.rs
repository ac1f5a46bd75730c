//! The one integration binary. Unit and property tests stand in their modules;
//! here stands what needs several rooms, files, or a source outside.
//!
//! * `layers`: imports run one way;
//! * `queries`: every query against expected tables;
//! * `reference_*`: published values and reference libraries;
//! * `twins_*`: slow, obvious twins of fast methods;
//! * `intake*`: messy files, line by line;
//! * `invent`: the demo data can be made again, byte for byte;
//! * `cells`: tables made elsewhere, and parts that add up to the whole;
//! * `chain`: several folders in one review;
//! * `chain_shops`: a chain's shops beside each other, and one by itself;
//! * `charts`: drawings against golden files;
//! * `constants`: bottles by days, published data as jobs, adopting and quoting;
//! * `truth`: true constants of invented shops, found again;
//! * `sales`: sales and money: published tables as jobs, what was planted, bad input;
//! * `review`: the whole program, on the demo, the messy export and bad input;
//! * `machine`: review.json by its schema, the tables by their Data Package;
//! * `own`: a shop's own questions;
//! * `year`: several months and their index;
//! * `sample`: reports/sample is what the demo gives;
//! * `faults`: runs killed, disks full, places and readers that refuse;
//! * `cardinalities`: many people, shops, classes, years;
//! * `page`: every sentence of the demo page against its table.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr,
    unreachable_pub
)]

mod cardinalities;
mod cells;
mod chain;
mod chain_shops;
mod charts;
mod constants;
mod durability;
mod faults;
mod intake;
mod intake_mended;
mod intake_million;
mod intake_polluted;
mod intake_properties;
mod intake_random;
mod intake_spectrum;
mod intake_values;
mod invent;
mod layers;
mod machine;
mod own;
mod page;
mod people;
mod person_page;
mod price;
mod queries;
mod reference_control;
mod reference_linear;
mod reference_mixed;
mod reference_proportion;
mod reference_rates;
mod reference_robust;
mod reference_survival;
mod reference_tables;
mod review;
mod sales;
mod sample;
mod truth;
mod twins_fits;
mod twins_rates;
mod words;
mod year;
