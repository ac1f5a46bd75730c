//! Only for what its dependency's build script leaves: `libfuzzer.a`.
