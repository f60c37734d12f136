#![doc = include_str!("../README.md")]

mod act;
mod entered;
mod folder;
mod judge;
mod kept;
mod keygen;
mod patterns;
mod signers;
mod sshsig;
mod statement;
#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test says by failing what was wrong")]
mod tests;
mod timestamp;
mod to_sign;

pub use act::{Deed, deeds, heads};
pub use entered::{After, Entered, InBook, file_hash};
pub use folder::{Beside, FOLDER, LARGEST, all_beside, is_name, keep, name_of, named};
pub use judge::{Signed, Standing, Stray, signed};
pub use kept::{Unsigned, kept};
pub use keygen::{probe, sign};
pub use signers::{Signers, Trust};
pub use sshsig::{Key, Signature};
pub use statement::{Statement, read};
pub use to_sign::to_sign;

/// What a signature is for: nothing that was signed for another purpose can pass for one of these. OpenSSH asks for the form
/// NAME@DOMAIN; there is no domain of this project.
pub const NAMESPACE: &str = "act@standpipe";
