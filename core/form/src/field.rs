//! One field of a form: what it takes, and the question that asks for it.

use std::error::Error;
use std::fmt;
use std::ops::Range;

use schemars::JsonSchema;
use serde::Deserialize;

use super::sign::words;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems};
use standpipe_quantity::Kind;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, ReadFault, Units, close};
use standpipe_yaml::{At, Node, Style};

#[derive(Debug, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = one_kind)]
pub(super) struct RawField {
    /// What kind of value it takes: `text`, `truth`, `count`, `number`, `date`, `person`, `table`, a quantity, `range
    /// of` one, `list of` these, or a record.
    ///
    /// Example: `is: range of temperature`
    pub is: Option<At<String>>,
    /// The choices, where there are only these; in place of `is:`.
    ///
    /// Example: `one_of: [wet, dry]`
    pub one_of: Option<Vec<At<String>>>,
    /// It must be given, if only as `unknown`.
    ///
    /// Example: `required: true`
    #[serde(default)]
    pub required: bool,
    /// The usual range of values; outside it, `check` warns and a person is asked again.
    ///
    /// Example: `plausible: 2..14 L`
    #[schemars(with = "Option<standpipe_yaml::told::Span>")]
    pub plausible: Option<At<String>>,
    /// The question to a person.
    ///
    /// Example: `ask: How long does it run out?`
    pub ask: Option<String>,
    /// More about it, for those who want to know.
    ///
    /// Example: `help: From the edge of the plug`
    pub help: Option<String>,
}

fn one_kind(schema: &mut schemars::Schema) {
    standpipe_yaml::told::exactly_one(schema, &["is", "one_of"]);
}

/// One field of a form.
#[derive(Clone, Debug)]
pub struct Field {
    /// As scripts see it: `body.height`; `weights.*` stands for any name.
    pub path: String,
    /// What it takes.
    pub kind: Kind,
    /// It must be written down, if only as `unknown`.
    pub required: bool,
    /// What lies outside is hardly possible.
    pub plausible: Option<(Quantity, Quantity)>,
    /// The question that asks for it.
    pub ask: Option<String>,
    /// What helps to answer it.
    pub help: Option<String>,
    /// Where its name stands.
    pub place: Place,
}

/// A text that does not fit its field.
#[derive(Clone, Debug)]
#[must_use = "a fault that nobody gets"]
pub struct Unfit {
    /// What kind of fault it is.
    pub code: Code,
    /// What was found.
    pub message: String,
    /// Bytes of the text.
    pub range: Range<usize>,
    /// What was expected.
    pub expected: Option<String>,
    /// What to do.
    pub help: Option<String>,
    /// What is certain to be meant by these bytes.
    pub mend: Option<String>,
}

impl Unfit {
    fn new(text: &str, message: impl Into<String>) -> Self {
        Self {
            code: Code::UnfitValue,
            message: message.into(),
            range: 0..text.len(),
            expected: None,
            help: None,
            mend: None,
        }
    }

    /// `place` covers the text that was read.
    pub fn at(self, place: &Place) -> Diagnostic {
        let mut diagnostic = Diagnostic::error(self.code, &place.slice(self.range), self.message);
        diagnostic.expected = self.expected;
        diagnostic.help = self.help;
        if let Some(write) = self.mend {
            diagnostic = diagnostic.mend(write);
        }
        diagnostic
    }
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        match &self.expected {
            Some(expected) => write!(f, "; expected {expected}"),
            None => Ok(()),
        }
    }
}

impl Error for Unfit {}

impl From<ReadFault> for Unfit {
    fn from(fault: ReadFault) -> Self {
        let expected = (!fault.choices.is_empty()).then(|| fault.choices.join(", "));
        Self {
            code: fault.code,
            message: fault.message,
            range: fault.range,
            expected,
            help: fault.help,
            mend: fault.mend.map(String::from),
        }
    }
}

impl Field {
    /// What it takes, in words: `a temperature`.
    pub fn expected(&self) -> String {
        self.kind.expected()
    }

    /// The question of the form, or one made of the field's name.
    pub fn question(&self) -> String {
        self.ask.clone().unwrap_or_else(|| {
            let words = self.path.replace(['.', '_'], " ");
            let mut letters = words.chars();
            letters.next().map_or(words.clone(), |first| format!("{}{}?", first.to_uppercase(), letters.as_str()))
        })
    }

    /// The choices, where there are only these.
    pub fn options(&self) -> Vec<String> {
        match &self.kind {
            Kind::OneOf(options) => options.clone(),
            _ => Vec::new(),
        }
    }

    /// Reads what somebody typed or wrote. `unknown` is a value.
    pub fn read(&self, text: &str, units: &Units) -> Result<Value, Unfit> {
        read(&self.kind, text, units)
    }

    /// Reads a value from a file, item by item; what does not fit is reported and stays unknown.
    pub(super) fn read_node(&self, node: &Node, units: &Units, problems: &mut Problems) -> Value {
        let value = read_node(&self.kind, node, units, problems);
        self.report_implausible(&value, &node.head(), problems);
        value
    }

    fn report_implausible(&self, value: &Value, place: &Place, problems: &mut Problems) {
        let Some((low, high)) = &self.plausible else { return };
        if let Some(odd) = outside(value, low, high) {
            let message = format!("{} for `{}` is hardly possible", words(&odd), self.path);
            problems.push(
                Diagnostic::warning(Code::ImplausibleValue, place, message)
                    .expected(words(&Value::Range(low.clone(), high.clone())))
                    .help("check number and unit; if it is right, widen `plausible:` in the form"),
            );
        }
    }

    /// What the form calls plausible, where a value lies outside of it.
    pub fn usual(&self, value: &Value) -> Option<(&Quantity, &Quantity)> {
        let (low, high) = self.plausible.as_ref()?;
        outside(value, low, high).map(|_| (low, high))
    }
}

fn outside(value: &Value, low: &Quantity, high: &Quantity) -> Option<Value> {
    let is_outside = |si: f64| (si < low.si && !close(si, low.si)) || (si > high.si && !close(si, high.si));
    match value {
        Value::Number(number) if is_outside(*number) => Some(value.clone()),
        Value::Quantity(quantity) if is_outside(quantity.si) => Some(value.clone()),
        Value::Range(from, to) if is_outside(from.si) || is_outside(to.si) => Some(value.clone()),
        Value::List(items) => items.iter().find_map(|item| outside(item, low, high)),
        _ => None,
    }
}

fn read(kind: &Kind, text: &str, units: &Units) -> Result<Value, Unfit> {
    let word = text.trim();
    if word == "unknown" {
        return Ok(Value::Unknown);
    }
    if word.is_empty() {
        let mut unfit = Unfit::new(text, "nothing was given");
        unfit.expected = Some(kind.expected());
        unfit.help = Some("write `unknown` if nobody knows it".into());
        return Err(unfit);
    }
    let wrong = || {
        let mut unfit = Unfit::new(text, format!("`{word}` is not {}", kind.expected()));
        unfit.expected = Some(kind.expected());
        unfit.help = Some(format!("write {}, or `unknown`", kind.expected()));
        unfit
    };
    match kind {
        Kind::Text | Kind::Table | Kind::Person => Ok(Value::Text(word.to_string())),
        Kind::Truth => match word {
            "true" => Ok(Value::Truth(true)),
            "false" => Ok(Value::Truth(false)),
            _ => Err(wrong()),
        },
        Kind::Date => match word.parse::<jiff::civil::Date>() {
            Ok(day) => Ok(Value::Text(day.to_string())),
            Err(_) => Err(wrong()),
        },
        Kind::Count => match word.parse::<u32>() {
            Ok(count) if word.bytes().all(|b| b.is_ascii_digit()) => Ok(Value::Number(count.into())),
            _ => Err(wrong()),
        },
        Kind::Number => match units.read(text, None, None)? {
            Value::Number(number) => Ok(Value::Number(number)),
            _ => Err(wrong()),
        },
        Kind::Quantity(quantity) => Ok(units.read(text, Some(quantity), None)?),
        Kind::Range(quantity) => Ok(units.read_range(text, Some(quantity), None)?),
        Kind::OneOf(options) => match options.iter().find(|option| option.eq_ignore_ascii_case(word)) {
            Some(option) => Ok(Value::Text(option.clone())),
            None => {
                let mut unfit = wrong();
                unfit.message = format!("`{word}` is none of the choices");
                let near = Near::of(word, options.iter().map(String::as_str));
                unfit.mend = near.as_ref().filter(|near| near.certain && word == text).map(|near| near.name.clone());
                unfit.help = Some(match near {
                    Some(near) => format!("did you mean `{}`?", near.name),
                    None => format!("write one of: {}", options.join(", ")),
                });
                Err(unfit)
            }
        },
        Kind::List(kind) => {
            let mut list = Vec::new();
            let mut start = 0;
            for item in text.split(',') {
                let value = read(kind, item, units).map_err(|mut unfit| {
                    unfit.range = start + unfit.range.start..start + unfit.range.end;
                    unfit
                })?;
                list.push(value);
                start += item.len() + 1;
            }
            Ok(Value::List(list))
        }
        Kind::Record(name) => {
            let mut unfit = Unfit::new(text, format!("a `{name}` has several values"));
            unfit.help = Some("name one of its fields".into());
            Err(unfit)
        }
    }
}

fn read_node(kind: &Kind, node: &Node, units: &Units, problems: &mut Problems) -> Value {
    if let (Kind::List(kind), Some(items)) = (kind, node.as_list()) {
        return Value::List(items.iter().map(|item| read_node(kind, item, units, problems)).collect());
    }
    let Some(scalar) = node.as_scalar() else {
        let message = format!("expected {}, found {}", kind.expected(), node.described());
        problems.push(
            Diagnostic::error(Code::UnfitValue, &node.head(), message)
                .help(format!("write {}, or `unknown`", kind.expected())),
        );
        return Value::Unknown;
    };
    // Quoted, it is the word.
    if scalar.text == "unknown" && !scalar.is_plain() && *kind == Kind::Text {
        return Value::Text("unknown".into());
    }
    if matches!(kind, Kind::List(_)) && scalar.text != "unknown" {
        problems.push(
            Diagnostic::error(
                Code::UnfitValue,
                &node.place,
                format!("expected {}, found {}", kind.expected(), node.described()),
            )
            .help(format!("write `[{}]`", scalar.text)),
        );
        return Value::Unknown;
    }
    let text = match scalar.style {
        Style::Plain | Style::SingleQuoted | Style::DoubleQuoted => scalar.text.as_str(),
        Style::Literal | Style::Folded => scalar.text.trim_end(),
    };
    read(kind, text, units).unwrap_or_else(|unfit| {
        problems.push(unfit.at(&node.text_place()));
        Value::Unknown
    })
}
