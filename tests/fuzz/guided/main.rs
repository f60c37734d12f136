//! One target, named by `STANDPIPE_TARGET`, under libFuzzer.

#![no_main]
// As in tests.
#![allow(clippy::unwrap_used)]

#[path = "../targets/mod.rs"]
mod targets;

use std::sync::OnceLock;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    static TARGET: OnceLock<fn(&[u8])> = OnceLock::new();
    let target = TARGET.get_or_init(|| {
        let wanted = std::env::var("STANDPIPE_TARGET").expect("STANDPIPE_TARGET names a target");
        targets::TARGETS.iter().find(|(name, _)| *name == wanted).expect("a target of that name").1
    });
    target(bytes);
});
