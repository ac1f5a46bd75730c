//! Links libFuzzer, which `run` has built beforehand.

fn main() {
    println!("cargo:rerun-if-env-changed=LIBFUZZER");
    if let Ok(folder) = std::env::var("LIBFUZZER") {
        println!("cargo:rustc-link-search=native={folder}");
        println!("cargo:rustc-link-lib=static=fuzzer");
        println!("cargo:rustc-link-lib=stdc++");
    }
}
