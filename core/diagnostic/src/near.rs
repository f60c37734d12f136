//! "Did you mean": the name that was most likely meant, and whether that is certain enough to write it.

use crate::Diagnostic;
use crate::source::Place;

/// A name longer than this is no slip of the finger.
const LONGEST_NAME: usize = 200;

/// A beginning shorter than this says nothing of the rest.
const SHORTEST_BEGINNING: usize = 4;

/// A name shorter than this is near to too many others.
const SHORTEST_CERTAIN: usize = 3;

/// What was most likely meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Near {
    /// The candidate.
    pub name: String,
    /// One slip of the finger, or the case of letters, and no other candidate is as near or nearly so.
    pub certain: bool,
}

impl Near {
    /// The candidate nearest to what was written, if any is near enough to be meant, in whatever case; else the one that goes on
    /// where the other ends. Of several the first in the alphabet, since candidates may come in any order.
    pub fn of<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<Self> {
        let (name, certain) = find(written, candidates)?;
        Some(Self { name: name.to_owned(), certain })
    }
}

/// The name alone.
pub fn nearest<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    find(written, candidates).map(|(name, _)| name)
}

fn find<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<(&'a str, bool)> {
    if written.len() > LONGEST_NAME {
        return None;
    }
    let letters = written.chars().count();
    let limit = (letters / 3).clamp(1, 3);
    let lower = written.to_lowercase();
    let goes_on = |shorter: &str, longer: &str| shorter.len() >= SHORTEST_BEGINNING && longer.starts_with(shorter);
    let mut all: Vec<(usize, &str)> = candidates
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST_NAME)
        .map(|candidate| (strsim::osa_distance(&lower, &candidate.to_lowercase()), candidate))
        .collect();
    all.sort();
    all.dedup();
    let near = all.iter().filter_map(|(distance, candidate)| {
        let near = *distance <= limit && (*distance < letters || letters > 1);
        if near || candidate.to_lowercase() == lower {
            Some((*distance, *candidate))
        } else {
            let goes_on = goes_on(written, candidate) || goes_on(candidate, written);
            goes_on.then_some((LONGEST_NAME + distance, *candidate))
        }
    });
    let (distance, name) = near.min()?;
    let alone = all.iter().all(|(other, candidate)| *candidate == name || *other > distance + 1);
    // A digit is a name of its own: `bay-2` is no slip for `bay-3`.
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    let certain = distance <= 1 && alone && letters >= SHORTEST_CERTAIN && digits(written) == digits(name);
    Some((name, certain))
}

/// Whether two names differ by one slip of the finger.
pub fn one_slip(written: &str, meant: &str) -> bool {
    written.len() <= LONGEST_NAME && meant.len() <= LONGEST_NAME && strsim::osa_distance(written, meant) <= 1
}

/// A change of a text that is certain to be meant.
#[derive(Clone, Debug, PartialEq)]
pub struct Mend {
    /// What is written over.
    pub place: Place,
    /// What stands there then.
    pub write: String,
}

impl Diagnostic {
    /// With the question whether the nearest candidate was meant; with other advice where none is near.
    pub fn nearest<'a>(
        self,
        written: &str,
        candidates: impl IntoIterator<Item = &'a str>,
        otherwise: impl Into<String>,
    ) -> Self {
        match Near::of(written, candidates) {
            Some(near) => self.meant(written, &near),
            None => self.help(otherwise),
        }
    }

    /// With the question whether the nearest candidate was meant, if one is near.
    pub fn near<'a>(self, written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Self {
        match Near::of(written, candidates) {
            Some(near) => self.meant(written, &near),
            None => self,
        }
    }

    /// With the question whether this was meant.
    pub fn meant(mut self, written: &str, near: &Near) -> Self {
        self.meant = Some(near.name.clone());
        if near.certain {
            self = self.mend_word(written, &near.name);
        }
        let name = &near.name;
        self.help(format!("did you mean `{name}`?"))
    }

    /// Nothing is certain: what it is compared with is as likely misspelt.
    pub fn unsure(mut self) -> Self {
        self.mend = None;
        self
    }

    /// With a change of its own place.
    pub fn mend(mut self, write: impl Into<String>) -> Self {
        self.mend = Some(Mend { place: self.place.clone(), write: write.into() });
        self
    }

    /// With a change of one word in its own place, where that word stands there, and once.
    pub fn mend_word(mut self, word: &str, write: &str) -> Self {
        let text = self.place.text();
        let part = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
        let whole =
            |at: &usize| !text[..*at].ends_with(part) && !text[at + word.len()..].starts_with(part) && !word.is_empty();
        let mut found = text.match_indices(word).map(|(at, _)| at).filter(whole);
        if let (Some(at), None) = (found.next(), found.next()) {
            self.mend = Some(Mend { place: self.place.slice(at..at + word.len()), write: write.to_owned() });
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Code;
    use crate::source::Source;

    #[test]
    fn a_suggestion_does_not_hang_on_the_order_of_the_candidates() {
        let names = ["kelvin", "mark", "marl", "mart", "bark"];
        let mut turned = names;
        for _ in 0..names.len() {
            turned.rotate_left(1);
            assert_eq!(nearest("marx", turned), Some("mark"), "{turned:?}");
        }
        assert_eq!(nearest(&"x".repeat(1 << 20), [&*"x".repeat(1 << 20)]), None);
    }

    #[test]
    fn only_a_slip_that_can_mean_one_name_alone_is_certain() {
        for (written, names, certain) in [
            ("heigt", &["height", "count"][..], true),
            ("Height", &["height"], true),
            ("marx", &["mark", "marl"], false),
            ("marks", &["mark", "marsh"], false),
            ("bay-2", &["bay-3"], false),
            ("bay-12", &["bay-21"], false),
            ("m", &["mm"], false),
            ("hite", &["height"], false),
        ] {
            assert_eq!(Near::of(written, names.iter().copied()).is_some_and(|near| near.certain), certain, "{written}");
        }
    }

    #[test]
    fn a_word_is_mended_where_it_stands_once() {
        let text = "needs: [a.heigt, heigt-of-heigt]\n";
        let source = Source::new("a.yaml", text);
        let mended = |from: usize, to: usize, word: &str| {
            let problem = Diagnostic::error(Code::UnknownName, &Place::new(&source, from..to), "x");
            problem.mend_word(word, "height").mend.map(|mend| (mend.place.range(), mend.write))
        };
        assert_eq!(mended(8, 15, "heigt"), Some((10..15, "height".to_owned())));
        assert_eq!(mended(17, 31, "heigt"), None, "part of a longer name");
        assert_eq!(mended(0, 5, "heigt"), None);
    }
}
