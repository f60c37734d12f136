//! What a step shows of a gate that is stricter than its own lines say: the limit that is shown must be the one that holds.

use super::raw::RawGate;
use super::template::{Part, Template};

/// A line for each condition that an overlay added, and one where what an instrument may be off counts against a reading.
pub(super) fn lines(gate: &RawGate) -> Vec<Template> {
    let added = gate.tightened.iter().map(|script| Template {
        parts: vec![Part::Text(format!("Stricter here: {}", spoken(script.text.trim())))],
        place: script.place.clone(),
    });
    let sure = gate.confidence.iter().map(|share| Template {
        parts: vec![Part::Text(format!("It must be sure to {}, by what the instrument may be off.", share.value))],
        place: share.place.clone(),
    });
    added.chain(sure).collect()
}

/// A condition as a person reads it: `tank_heat <= 44.degC` becomes `tank heat <= 44 degC`.
fn spoken(condition: &str) -> String {
    let letters: Vec<char> = condition.chars().collect();
    letters
        .iter()
        .enumerate()
        .map(|(at, letter)| {
            let before = at.checked_sub(1).is_some_and(|at| letters[at].is_ascii_digit());
            let unit = before && letters.get(at + 1).is_some_and(|next| next.is_alphabetic());
            match letter {
                '_' => ' ',
                '.' if unit => ' ',
                other => *other,
            }
        })
        .collect()
}
