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
//! * `constants`: bottles by days, published data as jobs, adopting and quoting;
//! * `truth`: true constants of invented shops, found again;
//! * `sales`: sales and money: published tables as jobs, what was planted, bad input;
//! * `review`: the whole program, on the demo, the messy export and bad input;
//! * `page`: every sentence of the demo page against its table.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr,
    unreachable_pub
)]

mod charts;
mod constants;
mod durability;
mod intake;
mod intake_polluted;
mod intake_random;
mod intake_spectrum;
mod invent;
mod layers;
mod page;
mod people;
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
mod truth;
mod twins_fits;
mod twins_rates;
