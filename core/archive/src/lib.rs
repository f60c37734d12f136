#![doc = include_str!("../README.md")]

pub mod table;

pub use table::{LIST, schema};

#[cfg(feature = "parquet")]
mod add;
#[cfg(feature = "parquet")]
mod again;
#[cfg(feature = "parquet")]
mod against;
#[cfg(feature = "parquet")]
mod cell;
#[cfg(feature = "parquet")]
mod columns;
#[cfg(feature = "parquet")]
mod hide;
#[cfg(feature = "parquet")]
mod key;
#[cfg(feature = "parquet")]
mod list;
#[cfg(feature = "parquet")]
mod rows;
#[cfg(feature = "parquet")]
mod whole;

#[cfg(feature = "parquet")]
pub use add::{Added, Source, add};
#[cfg(feature = "parquet")]
pub use against::{Judged, Wanted, against};
