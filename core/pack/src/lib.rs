#![doc = include_str!("../README.md")]

mod crc;
mod form;
mod name;
mod read;
mod write;

pub use read::{Fault, Unpacked, is_pack, unpack};
pub use write::{Packed, pack};

/// Raised when a pack of an earlier version would be read otherwise.
const FORMAT: u64 = 1;
const ABOUT: &str = "pack.json";
const EXTRACT: &str = "book-extract.jsonl";
/// The folder of the job in a pack, whatever it is called in the shop.
const JOB: &str = "job/";
/// A job of years with a photo at every step has some hundreds.
const MOST_FILES: usize = 10_000;
/// Programs that count in 31 bits open no more.
const LARGEST: u64 = (1 << 31) - 1;

fn about() -> String {
    format!("{{\"format\":{FORMAT}}}\n")
}
