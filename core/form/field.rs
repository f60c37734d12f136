//! One field of a form: what it is, what is plausible, how to ask for it.

use super::raw::RawField;
use crate::diagnostic::{Code, Diagnostic, Problems, nearest};
use crate::quantity::{Quantity, ReadFault, Units};
use crate::source::{At, Place};
use crate::value::Value;

#[derive(Clone, Debug)]
pub struct Field {
    pub kind: FieldKind,
    pub required: bool,
    pub plausible: Option<(Quantity, Quantity)>,
    pub ask: Option<String>,
    pub help: Option<String>,
    pub place: Place,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FieldKind {
    Text,
    Flag,
    Count,
    Number,
    Quantity(String),
    RangeOf(String),
    ListOf(Box<FieldKind>),
    OneOf(Vec<String>),
    /// Id of a table.
    Table,
    /// A record of this type.
    Record(String),
}

impl FieldKind {
    /// `text`, `range of volume`, `list of text`, the name of a quantity or of a record.
    pub fn parse(is: &At<String>, records: &[String], units: &Units, problems: &mut Problems) -> Option<Self> {
        parse_kind(is.trim(), &is.place, records, units, problems)
    }

    pub fn described(&self) -> String {
        match self {
            FieldKind::Text => "a text".to_owned(),
            FieldKind::Flag => "true or false".to_owned(),
            FieldKind::Count => "a whole number".to_owned(),
            FieldKind::Number => "a number".to_owned(),
            FieldKind::Quantity(quantity) => format!("a {quantity} with its unit"),
            FieldKind::RangeOf(quantity) => format!("a range of {quantity}, from..to with its unit"),
            FieldKind::ListOf(kind) => format!("a list, each {}", kind.described()),
            FieldKind::OneOf(options) => format!("one of: {}", options.join(", ")),
            FieldKind::Table => "the id of a table".to_owned(),
            FieldKind::Record(record) => format!("the entries of a {record}"),
        }
    }

    /// Reads a text that stands for one value.
    pub fn read(&self, text: &str, units: &Units) -> Result<Value, ReadFault> {
        let text = text.trim();
        let unfit = |message: String| ReadFault {
            code: Code::M003,
            message,
            range: 0..text.len(),
            choices: Vec::new(),
            help: None,
        };
        match self {
            FieldKind::Text | FieldKind::Table => Ok(Value::Text(text.to_owned())),
            FieldKind::Flag => match text {
                "true" => Ok(Value::Truth(true)),
                "false" => Ok(Value::Truth(false)),
                _ => Err(unfit(format!("`{text}` is neither true nor false"))),
            },
            FieldKind::Count => text
                .parse::<u32>()
                .map(|count| Value::Number(f64::from(count)))
                .map_err(|_| unfit(format!("`{text}` is not a whole number"))),
            FieldKind::Number => match units.read(text, None, None)? {
                Value::Number(number) => Ok(Value::Number(number)),
                _ => Err(unfit(format!("`{text}` is not a plain number"))),
            },
            FieldKind::Quantity(quantity) => units.read(text, Some(quantity), None),
            FieldKind::RangeOf(quantity) => units.read_range(text, Some(quantity), None),
            FieldKind::ListOf(kind) => {
                let items: Result<Vec<Value>, ReadFault> =
                    text.split(',').map(|item| kind.read(item, units)).collect();
                Ok(Value::List(items?))
            }
            FieldKind::OneOf(options) => {
                if options.iter().any(|option| option == text) {
                    return Ok(Value::Text(text.to_owned()));
                }
                let mut fault = unfit(format!("`{text}` is not one of the choices"));
                fault.choices = options.clone();
                fault.help = nearest(text, options.iter().map(String::as_str)).map(|near| format!("did you mean `{near}`?"));
                Err(fault)
            }
            FieldKind::Record(record) => Err(unfit(format!("a {record} has several entries"))),
        }
    }
}

fn parse_kind(is: &str, place: &Place, records: &[String], units: &Units, problems: &mut Problems) -> Option<FieldKind> {
    if let Some(quantity) = is.strip_prefix("range of ") {
        return known(quantity.trim(), place, units, problems).then(|| FieldKind::RangeOf(quantity.trim().to_owned()));
    }
    if let Some(item) = is.strip_prefix("list of ") {
        let item = parse_kind(item.trim(), place, records, units, problems)?;
        return Some(FieldKind::ListOf(Box::new(item)));
    }
    match is {
        "text" => Some(FieldKind::Text),
        "flag" => Some(FieldKind::Flag),
        "count" => Some(FieldKind::Count),
        "number" => Some(FieldKind::Number),
        "table" => Some(FieldKind::Table),
        record if records.iter().any(|name| name == record) => Some(FieldKind::Record(record.to_owned())),
        quantity => known(quantity, place, units, problems).then(|| FieldKind::Quantity(quantity.to_owned())),
    }
}

fn known(quantity: &str, place: &Place, units: &Units, problems: &mut Problems) -> bool {
    if units.family(quantity).is_some() {
        return true;
    }
    let words = ["text", "flag", "count", "number", "table"];
    let names = units.families().map(|family| &*family.name).chain(words);
    let near = nearest(quantity, names).map(str::to_owned);
    problems.push(
        Diagnostic::error(Code::M008, place, format!("`{quantity}` is not a kind of field"))
            .expected("text, flag, count, number, table, a quantity, a record of this form, `range of ..` or `list of ..`")
            .help(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`standpipe show quantity` lists the quantities".to_owned(),
            }),
    );
    false
}

impl Field {
    pub(super) fn check(
        path: &At<String>,
        raw: RawField,
        records: &[String],
        units: &Units,
        problems: &mut Problems,
    ) -> Option<Field> {
        let kind = match (&raw.is, &raw.one_of) {
            (Some(is), None) => FieldKind::parse(is, records, units, problems)?,
            (None, Some(options)) => FieldKind::OneOf(options.value.clone()),
            _ => {
                problems.push(
                    Diagnostic::error(Code::M008, &path.place, format!("`{}` does not say what it is", path.value))
                        .expected("either `is:` or `one_of:`"),
                );
                return None;
            }
        };
        let plausible = raw.plausible.and_then(|text| {
            let (FieldKind::Quantity(quantity) | FieldKind::RangeOf(quantity)) = &kind else {
                return plausible_count(&text, problems);
            };
            match units.read_range(&text, Some(quantity), None) {
                Ok(Value::Range(low, high)) => Some((low, high)),
                Ok(_) => None,
                Err(fault) => {
                    problems.push(fault.at(&text.place));
                    None
                }
            }
        });
        Some(Field {
            kind,
            required: raw.required,
            plausible,
            ask: raw.ask.map(|ask| ask.value),
            help: raw.help.map(|help| help.value),
            place: path.place.clone(),
        })
    }

    pub fn expected(&self) -> String {
        self.kind.described()
    }

    pub fn read(&self, text: &str, units: &Units) -> Result<Value, ReadFault> {
        self.kind.read(text, units)
    }

    /// The choices, where there are any.
    pub fn options(&self) -> Vec<String> {
        match &self.kind {
            FieldKind::OneOf(options) => options.clone(),
            _ => Vec::new(),
        }
    }

    /// Whether a value lies outside what is plausible.
    pub fn is_implausible(&self, value: &Value) -> bool {
        let Some((low, high)) = &self.plausible else { return false };
        let outside = |si: f64| si < low.si || si > high.si;
        match value {
            Value::Number(number) => outside(*number),
            Value::Quantity(quantity) => outside(quantity.si),
            Value::Range(from, to) => outside(from.si) || outside(to.si),
            _ => false,
        }
    }
}

/// `1..4` for a count.
fn plausible_count(text: &At<String>, problems: &mut Problems) -> Option<(Quantity, Quantity)> {
    let ends = text.split_once("..").and_then(|(low, high)| {
        Some((low.trim().parse::<f64>().ok()?, high.trim().parse::<f64>().ok()?))
    });
    if ends.is_none() {
        problems.push(
            Diagnostic::error(Code::M008, &text.place, format!("`{}` is not a range", text.value))
                .expected("from..to, such as 1..4"),
        );
    }
    let (low, high) = ends?;
    Some((Quantity::number(low), Quantity::number(high)))
}
