//! The job machine on small procedures of its own: what it asks, what it refuses, what it records.

// What tests share is outside of any `#[test]`, where clippy does not allow it by itself.
#![allow(clippy::unwrap_used)]

mod bench;

mod addresses;
mod amended;
mod calls;
mod confidence;
mod corrections;
mod gates;
mod limits;
mod open;
mod overlays;
mod people;
mod readers;
mod reopened;
mod rounds;
mod scale_ends;
mod staleness;
mod undone;
mod unknowns;
mod variants;
