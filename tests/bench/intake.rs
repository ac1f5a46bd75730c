//! Intake alone, typed frames made: `cargo bench --bench intake -- FOLDER`
//! reads a folder of canonical exports once and says what it holds.
//! `tests/bench/intake.py` times it beside polars' own typed reading.

#![allow(clippy::print_stdout, clippy::expect_used)]

use std::path::Path;
use tallycoat::intake;
use tallycoat::settings::shop::Shop;

fn main() {
    // Cargo adds an option of its own.
    let Some(folder) = std::env::args().skip(1).find(|a| !a.starts_with("--")) else {
        println!("no folder given; see tests/bench/intake.py");
        return;
    };
    let folder = Path::new(&folder);
    let shop = Shop::read(folder).expect("settings");
    let read = intake::read(folder, &shop, &mut |_| {}).expect("exports");
    for (table, frame) in read.frames.iter() {
        println!("{table}: {} rows", frame.height());
    }
}
