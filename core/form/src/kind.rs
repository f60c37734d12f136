//! What kind of value a field takes.

use standpipe_diagnostic::{Code, Diagnostic, nearest};
use standpipe_quantity::{Name, Units};
use standpipe_yaml::At;

/// What a field takes.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// Words.
    Text,
    /// `true` or `false`.
    Flag,
    /// A whole number, 0 or more.
    Count,
    /// A number without a unit.
    Number,
    /// One value of a quantity.
    Quantity(Name),
    /// From one quantity to another of this family.
    Range(Name),
    /// Several of a kind.
    List(Box<Kind>),
    /// Id of a table.
    Table,
    /// Name of a record of the form.
    Record(String),
    /// One of these words.
    OneOf(Vec<String>),
}

const SIMPLE: [(&str, Kind); 5] = [
    ("text", Kind::Text),
    ("flag", Kind::Flag),
    ("count", Kind::Count),
    ("number", Kind::Number),
    ("table", Kind::Table),
];

impl Kind {
    /// Reads `list of text`, `range of temperature` or the name of a record.
    pub(super) fn parse(text: &At<String>, records: &[&str], units: &Units) -> Result<Kind, Box<Diagnostic>> {
        Self::parse_words(text.trim(), records, units).map_err(|(word, help)| {
            let message = format!("there is no kind of value `{word}`");
            Box::new(
                Diagnostic::error(Code::FaultyForm, &text.place, message)
                    .expected("text, flag, count, number, table, a quantity, range of ..., list of ... or a record of this form")
                    .help(help),
            )
        })
    }

    fn parse_words(text: &str, records: &[&str], units: &Units) -> Result<Kind, (String, String)> {
        if let Some(rest) = text.strip_prefix("list of ") {
            return Ok(Kind::List(Box::new(Self::parse_words(rest.trim(), records, units)?)));
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
            Kind::Flag => "`true` or `false`".into(),
            Kind::Count => "a whole number".into(),
            Kind::Number => "a number".into(),
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
    pub(super) fn is_taken(name: &str, units: &Units) -> bool {
        SIMPLE.iter().any(|(taken, _)| *taken == name) || units.family(name).is_some()
    }
}

fn unknown<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> (String, String) {
    let help = match nearest(word, known) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "choices from a list are written `one_of: [a, b]`; `standpipe show units` lists the quantities".into(),
    };
    (word.to_string(), help)
}
