//! Links the program at a fixed address: a run on one intent lasts a few milliseconds, and moving a binary of
//! this size to a random one is a tenth of them. No unsafe code is here that a known address could help to misuse.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    if std::env::var("TARGET").is_ok_and(|target| target.ends_with("linux-gnu")) {
        println!("cargo:rustc-link-arg-bins=-no-pie");
    }
}
