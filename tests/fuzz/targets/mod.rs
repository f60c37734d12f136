//! What is fuzzed: each target takes bytes, and panics where a promise is broken.

#[path = "../choices.rs"]
mod choices;
#[path = "../workshop.rs"]
mod workshop;

mod answers;
mod documents;
mod expressions;
mod journals;
mod logs;
mod packs;
mod pages;
mod plugins;
mod quantities;
mod requests;
mod rows;
mod scripts;
mod signatures;
mod signers;
mod stamps;
mod tables;

/// A target by its name.
pub type Target = (&'static str, fn(&[u8]));

pub const TARGETS: [Target; 16] = [
    ("answers", answers::run),
    ("documents", documents::run),
    ("expressions", expressions::run),
    ("journals", journals::run),
    ("logs", logs::run),
    ("packs", packs::run),
    ("pages", pages::run),
    ("plugins", plugins::run),
    ("quantities", quantities::run),
    ("requests", requests::run),
    ("rows", rows::run),
    ("scripts", scripts::run),
    ("signatures", signatures::run),
    ("signers", signers::run),
    ("stamps", stamps::run),
    ("tables", tables::run),
];
