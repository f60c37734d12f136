//! What kind of value something takes: the words of `is:`, the same in forms, procedures, sheets and logs.

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near};

use super::value::Value;
use super::{Name, Units};

#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    Text,
    /// `true` or `false`.
    Truth,
    /// A whole number, 0 or more.
    Count,
    Number,
    /// A day of the calendar, as year-month-day.
    Date,
    /// Somebody, by name or id.
    Person,
    /// Id of a table.
    Table,
    /// One value of a quantity.
    Quantity(Name),
    Range(Name),
    List(Box<Kind>),
    /// Name of a record that is described elsewhere.
    Record(String),
    /// One of these: written `one_of:`, not `is:`.
    OneOf(Vec<String>),
}

const SIMPLE: [(&str, Kind); 7] = [
    ("text", Kind::Text),
    ("truth", Kind::Truth),
    ("count", Kind::Count),
    ("number", Kind::Number),
    ("date", Kind::Date),
    ("person", Kind::Person),
    ("table", Kind::Table),
];

/// Words that name no kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownKind {
    pub message: String,
    pub help: String,
    /// What is certain to be meant.
    pub mend: Option<String>,
}

impl UnknownKind {
    /// The message at its place.
    pub fn at(self, code: Code, place: &Place) -> Diagnostic {
        let problem = Diagnostic::error(code, place, self.message).expected(Self::EXPECTED).help(self.help);
        match self.mend {
            Some(write) => problem.mend(write),
            None => problem,
        }
    }

    /// What can stand there, in words.
    const EXPECTED: &str =
        "text, truth, count, number, date, person, table, a quantity, range of ..., list of ... or a record";
}

impl Kind {
    /// Reads `list of text`, `range of temperature` or the name of one of these records.
    pub fn parse(text: &str, records: &[&str], units: &Units) -> Result<Kind, UnknownKind> {
        let text = text.trim();
        if let Some(rest) = text.strip_prefix("list of ") {
            return match Self::parse(rest, records, units)? {
                Kind::List(_) => Err(UnknownKind {
                    message: "a list of lists is not a kind of value".into(),
                    help: "make the inner list a record, or the outer one".into(),
                    mend: None,
                }),
                inner => Ok(Kind::List(Box::new(inner))),
            };
        }
        if let Some(rest) = text.strip_prefix("range of ") {
            return match units.family(rest.trim()) {
                Some(family) => Ok(Kind::Range(family.name)),
                None => Err(unknown(rest.trim(), units.families().map(|family| &*family.name))),
            };
        }
        if let Some((_, kind)) = SIMPLE.iter().find(|(name, _)| *name == text) {
            return Ok(kind.clone());
        }
        if records.contains(&text) {
            return Ok(Kind::Record(text.to_string()));
        }
        match units.family(text) {
            Some(family) => Ok(Kind::Quantity(family.name)),
            None => {
                if let Some(inner) = text.strip_prefix("list ") {
                    return Err(UnknownKind {
                        message: format!("there is no kind of value `{text}`"),
                        help: format!("did you mean `list of {}`?", inner.trim()),
                        mend: None,
                    });
                }
                // A unit stands where its quantity is meant.
                if let Ok(Value::Quantity(of_unit)) = units.read(&format!("1 {text}"), None, None)
                    && let Some(family) = units.family_of(&of_unit)
                {
                    return Err(UnknownKind {
                        message: format!("there is no kind of value `{text}`"),
                        help: format!("did you mean `{}`? `{text}` is a unit of it", family.name),
                        // Only where it is a unit of nothing else is its quantity certain.
                        mend: of_unit.of.is_some().then(|| family.name.to_string()),
                    });
                }
                let quantities = units.families().map(|family| &*family.name);
                Err(unknown(
                    text,
                    quantities.chain(SIMPLE.iter().map(|(name, _)| *name)).chain(records.iter().copied()),
                ))
            }
        }
    }

    /// What has to be written, in words.
    pub fn expected(&self) -> String {
        match self {
            Kind::Text => "text".into(),
            Kind::Truth => "`true` or `false`".into(),
            Kind::Count => "a whole number".into(),
            Kind::Number => "a number".into(),
            Kind::Date => "a date, such as 2026-11-25".into(),
            Kind::Person => "the name of a person".into(),
            Kind::Quantity(quantity) => {
                let article = if quantity.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
                format!("{article} {} with its unit", quantity.replace('-', " "))
            }
            Kind::Range(quantity) => format!("a range of {}, `from..to` with its unit", quantity.replace('-', " ")),
            Kind::List(kind) => format!("a list, each item {}", kind.expected()),
            Kind::Table => "the id of a table".into(),
            Kind::Record(name) => format!("the keys of a `{name}`"),
            Kind::OneOf(options) => options.join(" | "),
        }
    }

    /// The kinds whose names a record may not take.
    pub fn is_taken(name: &str, units: &Units) -> bool {
        SIMPLE.iter().any(|(taken, _)| *taken == name) || units.family(name).is_some()
    }
}

fn unknown<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> UnknownKind {
    let near = Near::of(word, known);
    // `texts` may well be a list of them.
    let one = |near: &&Near| near.certain && word.strip_suffix('s') != Some(&near.name);
    let mend = near.as_ref().filter(one).map(|near| near.name.clone());
    let help = match near {
        Some(near) => format!("did you mean `{}`?", near.name),
        None => "choices from a list are written `one_of: [a, b]`; `standpipe show units` lists the quantities".into(),
    };
    UnknownKind { message: format!("there is no kind of value `{word}`"), help, mend }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_is_are_read() {
        let units = Units::standard();
        let kind = |text: &str| Kind::parse(text, &["fastening"], &units);
        for (text, expected) in [
            ("text", Kind::Text),
            ("truth", Kind::Truth),
            ("count", Kind::Count),
            ("number", Kind::Number),
            ("date", Kind::Date),
            ("person", Kind::Person),
            ("table", Kind::Table),
            ("volume", Kind::Quantity("volume".into())),
            ("range of temperature", Kind::Range("temperature".into())),
            ("list of text", Kind::List(Box::new(Kind::Text))),
            (" list of  range of volume ", Kind::List(Box::new(Kind::Range("volume".into())))),
            ("list of fastening", Kind::List(Box::new(Kind::Record("fastening".into())))),
        ] {
            assert_eq!(kind(text), Ok(expected), "{text}");
        }
    }

    #[test]
    fn a_word_that_names_no_kind_is_answered_with_the_nearest() {
        let units = Units::standard();
        for (text, message, help) in [
            ("flag", "`flag`", "one_of"),
            ("volum", "`volum`", "did you mean `volume`?"),
            ("range of text", "`text`", ""),
            ("list of list of text", "list of lists", "record"),
        ] {
            let unknown = Kind::parse(text, &[], &units).expect_err(text);
            assert!(unknown.message.contains(message) && unknown.help.contains(help), "{unknown:?}");
        }
    }
}
