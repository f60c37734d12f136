#![doc = include_str!("../README.md")]

pub mod answers;
pub mod feed;
pub mod headless;
mod listen;
mod logs;
pub mod terminal;
