#![doc = include_str!("../README.md")]

mod ahead;
pub mod answers;
pub mod draft;
mod drive;
pub mod feed;
pub mod from_log;
pub mod headless;
mod listen;
mod live_reader;
mod logs;
mod new_job;
pub mod offer;
pub mod setting;
pub mod terminal;

pub use drive::{Driver, drive};
pub use live_reader::{LiveReader, NoOffer, Offer, Recent, Stands};
pub use logs::Logs;
pub use new_job::{JobKind, NewJob};
