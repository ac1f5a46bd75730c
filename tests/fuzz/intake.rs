//! Coverage-guided fuzzing of intake: whatever the bytes, what `properties`
//! says must hold. README.md tells how to run it.

#![no_main]

#[allow(dead_code)]
#[path = "../suite/intake_properties.rs"]
mod properties;

use std::process::abort;
use std::sync::LazyLock;

static SETUPS: LazyLock<Vec<properties::Setup>> = LazyLock::new(|| {
    // Ends the process where it panics, so that libFuzzer sees that stack.
    let told = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        told(panic);
        abort();
    }));
    properties::setups()
});

/// What libFuzzer calls with each case.
///
/// # Safety
/// `case` must be the first of `size` bytes; libFuzzer's are.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn LLVMFuzzerTestOneInput(case: *const u8, size: usize) -> i32 {
    let case = match size {
        0 => &[],
        // SAFETY: as the caller promises.
        _ => unsafe { std::slice::from_raw_parts(case, size) },
    };
    properties::hold(&SETUPS, case);
    0
}
