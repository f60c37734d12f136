#![doc = include_str!("../README.md")]

mod copy;
mod crc;
mod form;
mod name;
mod read;
mod whom;
mod write;

pub use copy::Copy;
pub use read::{Fault, Unpacked, is_pack, unpack};
pub use whom::Whom;
pub use write::{Packed, pack};

/// Raised when a pack has what an earlier version does not know: from 2 on texts that are kept apart, and what is left out. A job
/// that has neither makes the same bytes as ever.
const FORMAT: u64 = 2;
const ABOUT: &str = "pack.json";
const EXTRACT: &str = "book-extract.jsonl";
/// The folder of the job in a pack, whatever it is called in the shop.
const JOB: &str = "job/";
/// A job of years with a photo at every step has some hundreds.
const MOST_FILES: usize = 10_000;
/// Programs that count in 31 bits open no more.
const LARGEST: u64 = (1 << 31) - 1;

fn about(format: u64) -> String {
    format!("{{\"format\":{format}}}\n")
}
