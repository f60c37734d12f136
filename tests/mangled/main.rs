//! Damaged plugins and workshop files: every fault is a message, none a panic.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

use standpipe::case::Case;
use standpipe::check;
use standpipe::diagnostic::{Look, Problems, human};
use standpipe::library::{Files, Library, Shop};
use standpipe::plan::Parsed;
use standpipe::quantity::Units;
use standpipe::source::Source;

/// A small generator of repeatable "random" numbers (xorshift, Marsaglia 2003).
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % limit.max(1) as u64).unwrap()
    }
}

const PIECES: [&str; 20] = [
    "\t", ": ", "- ", "{", "}", "[", "]", "\"", "'", "|", "!", "&", "*", "\n", "°", "..", "unknown", ",", "-1e999",
    "<<",
];

fn mangle(text: &str, random: &mut Random) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    for _ in 0..=random.below(3) {
        let at = random.below(letters.len());
        match random.below(4) {
            0 => letters.truncate(at),
            1 => drop(letters.splice(at..at, PIECES[random.below(PIECES.len())].chars())),
            2 => {
                let end = (at + random.below(30)).min(letters.len());
                letters.splice(at..end, []);
            }
            _ if letters.is_empty() => {}
            _ => {
                let other = random.below(letters.len());
                letters.swap(at, other);
            }
        }
    }
    letters.into_iter().collect()
}

#[test]
fn a_damaged_plugin_is_reported_and_nothing_breaks() {
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let sound = Files::built_in();
    let data: Vec<usize> = (0..sound.list.len()).filter(|index| !sound.list[*index].path.ends_with(".rhai")).collect();
    for _ in 0..100 {
        let mut files = sound.clone();
        let file = &mut files.list[data[random.below(data.len())]];
        file.source = Source::new(file.source.name.clone(), mangle(&file.source.text, &mut random));
        let mut problems = Problems::new();
        let library = Library::load(files, &mut problems);
        let units = library.units(&mut problems);
        library.check(&units, &mut problems);
        human(&problems, Look { color: false, width: 80, folded: false });
    }
}

/// Scripts and cases too, and every document held against the others.
#[test]
fn a_damaged_plugin_can_be_checked_as_a_whole() {
    let mut random = Random(0xd1b5_4a32_d192_ed03);
    let sound = Files::built_in();
    for _ in 0..60 {
        let mut files = sound.clone();
        let index = random.below(files.list.len());
        let file = &mut files.list[index];
        file.source = Source::new(file.source.name.clone(), mangle(&file.source.text, &mut random));
        let mut problems = Problems::new();
        let parsed = Parsed::new(files, &mut problems);
        let stock = check::library(&parsed, None, &mut problems);
        Case::all(&parsed, &stock, &mut problems);
        human(&check::once(problems), Look { color: false, width: 80, folded: false });
    }
}

#[test]
fn a_damaged_workshop_file_is_reported_and_nothing_breaks() {
    let text = include_str!("../../examples/workshop/shop.yaml");
    let units = Units::standard();
    let mut random = Random(0x2545_f491_4f6c_dd1d);
    for _ in 0..800 {
        let text = mangle(text, &mut random);
        let mut problems = Problems::new();
        let shop = Shop::read(&Source::new("shop.yaml", text.clone()), &units, &mut problems);
        assert!(shop.is_some() || problems.iter().any(|p| p.is_error()), "refused without a word:\n{text}");
        human(&problems, Look { color: false, width: 80, folded: false });
    }
}
