//! The program as people run it: a file for each thing that is tried.

// What tests share is outside of any `#[test]`, where clippy does not allow it by itself.
#![allow(clippy::unwrap_used)]

mod amend;
mod apart;
mod archive;
#[cfg(feature = "archive")]
mod archive_against;
mod audit;
mod bad_input;
mod book;
mod calc;
mod cases;
mod chain;
mod check;
mod compare;
mod examples;
#[path = "../folders.rs"]
mod folders;
mod history;
mod journals;
mod keys;
mod kill;
mod level_methods;
mod level_shown;
mod logs;
mod made_cases;
mod mistakes;
mod new;
mod output;
mod overlays;
mod pack;
mod pages;
mod propose;
mod reader;
mod readme;
mod schema;
mod shop_repository;
mod short_unit;
mod simulate;
mod simulated_cases;
mod special_files;
mod stamps;
mod trade;
mod uncertainty;
