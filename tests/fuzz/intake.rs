//! Coverage-guided fuzzing of intake: whatever the bytes, what `properties`
//! says must hold. README.md tells how to run it.

#![no_main]

#[allow(dead_code)]
#[path = "../suite/intake_properties.rs"]
mod properties;

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static SETUPS: LazyLock<Vec<properties::Setup>> = LazyLock::new(properties::setups);

fuzz_target!(|case: &[u8]| properties::hold(&SETUPS, case));
