//! A changed file is noticed by the compiler without help, a new one is not.
#![allow(clippy::print_stdout, reason = "a build script speaks to Cargo on stdout")]

fn main() {
    for folder in ["plugins", "scripts"] {
        println!("cargo::rerun-if-changed=../../{folder}");
    }
}
