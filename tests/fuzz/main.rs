//! One short round of every fuzzer: all that was kept, and a few hundred inputs made from it by a fixed seed. A long round,
//! guided by what of the program it reaches: `sh tests/fuzz/long.sh TARGET SECONDS`.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

mod targets;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use targets::TARGETS;

/// What one input may take, in a build that is hardly optimised and on a machine that does other things too.
const PATIENCE: Duration = Duration::from_secs(20);

/// xorshift: Marsaglia 2003; any generator would do.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % limit.max(1) as u64).unwrap()
    }
}

fn kept(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths.into_iter().map(|path| (path.clone(), fs::read(path).unwrap())).collect()
}

/// A few bytes changed, left out, put in or taken from another.
fn changed(one: &[u8], other: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = one.to_vec();
    for _ in 0..=random.below(4) {
        let at = random.below(bytes.len() + 1);
        match random.below(4) {
            0 if at < bytes.len() => bytes[at] = random.below(256) as u8,
            1 => drop(bytes.drain(at..(at + random.below(8)).min(bytes.len()))),
            2 => bytes.insert(at, random.below(256) as u8),
            _ => {
                let from = random.below(other.len() + 1);
                let piece = &other[from..(from + random.below(32)).min(other.len())];
                drop(bytes.splice(at..at, piece.iter().copied()));
            }
        }
    }
    bytes
}

fn round(name: &str, made: usize) {
    let (_, run) = TARGETS.iter().find(|(known, _)| *known == name).unwrap();
    let kept = kept(name);
    assert!(!kept.is_empty(), "{name} has no corpus");
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let tried = |what: &str, bytes: &[u8]| {
        let begun = Instant::now();
        if let Err(fault) = catch_unwind(AssertUnwindSafe(|| run(bytes))) {
            let found = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("found-{name}"));
            fs::write(&found, bytes).unwrap();
            let text = fault.downcast_ref::<String>().map_or("no text", String::as_str);
            panic!("{what}, which lies in {}: {text}", found.display());
        }
        assert!(begun.elapsed() < PATIENCE, "{what} takes {:?}", begun.elapsed());
    };
    for (path, bytes) in &kept {
        tried(&path.display().to_string(), bytes);
    }
    for number in 0..made {
        let (one, other) = (&kept[random.below(kept.len())].1, &kept[random.below(kept.len())].1);
        tried(&format!("input {number} of {name}"), &changed(one, other, &mut random));
    }
}

macro_rules! rounds {
    ($($target:ident: $made:expr;)*) => {
        $(#[test]
        fn $target() {
            round(stringify!($target), $made);
        })*

        #[test]
        fn every_target_has_a_round() {
            assert_eq!(TARGETS.map(|(name, _)| name), [$(stringify!($target)),*]);
        }
    };
}

rounds! {
    answers: 30;
    documents: 400;
    expressions: 400;
    journals: 40;
    logs: 300;
    packs: 400;
    pages: 60;
    plugins: 30;
    quantities: 1000;
    requests: 100;
    rows: 1000;
    scripts: 60;
    signatures: 500;
    signers: 500;
    stamps: 1000;
    tables: 500;
}
