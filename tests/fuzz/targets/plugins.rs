//! Damaged plugins: a library of which one text was damaged is checked to the end, and every fault is a message.

use standpipe::case::Case;
use standpipe::check;
use standpipe::diagnostic::{Look, Problems, human};
use standpipe::library::Files;
use standpipe::plan::Parsed;
use standpipe::source::Source;

use super::choices::Choices;

const PIECES: [&str; 24] = [
    "\t", ": ", "- ", "{", "}", "[", "]", "\"", "'", "|", "!", "&", "*", "\n", "°", "..", "unknown", ",", "-1e999",
    "<<", "\n  ", "0", "~", "all(",
];

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let mut files = Files::built_in();
    let which = usize::from(choices.byte()) << 8 | usize::from(choices.byte());
    let count = files.list.len();
    let file = &mut files.list[which % count];
    let text = damaged(&file.source.text, &mut choices);
    file.source = Source::new(file.source.name.clone(), text);
    let mut problems = Problems::new();
    let parsed = Parsed::new(files, &mut problems);
    let stock = check::library(&parsed, None, &mut problems);
    Case::all(&parsed, &stock, &mut problems);
    let problems = check::once(problems);
    for problem in &problems {
        assert!(problem.place.range().end <= problem.place.source().text.len());
    }
    human(&problems, Look { color: false, width: 80, folded: false });
}

fn damaged(text: &str, choices: &mut Choices<'_>) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    for _ in 0..=choices.below(4) {
        let near = |choices: &mut Choices<'_>, length: usize| {
            (usize::from(choices.byte()) << 8 | usize::from(choices.byte())) % length.max(1)
        };
        let at = near(choices, letters.len());
        match choices.below(5) {
            0 => drop(letters.splice(at..at, choices.one(&PIECES).chars())),
            1 => {
                let end = (at + choices.below(30)).min(letters.len());
                letters.splice(at..end, []);
            }
            2 => drop(letters.splice(at..at, choices.text(12).chars())),
            3 if !letters.is_empty() => {
                let other = near(choices, letters.len());
                letters.swap(at, other);
            }
            _ => letters.truncate(at),
        }
    }
    letters.into_iter().collect()
}
