//! One value that a person enters: what it is, and how the text they type becomes it.

use std::cmp::Ordering;
use std::error::Error;
use std::fmt;

use standpipe_diagnostic::nearest;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Style, Units, close};
use standpipe_yaml::At;

/// One value that a step asks for.
#[derive(Clone, Debug)]
pub struct Field {
    /// What scripts and answers call it.
    pub name: At<String>,
    /// What it takes.
    pub kind: FieldKind,
    /// The question.
    pub ask: Option<String>,
    /// Kind of instrument it must be read with.
    pub instrument: Option<At<String>>,
    /// It is an end of an instrument's scale, which nobody measures.
    pub end: Option<ScaleEnd>,
    /// Unit of a bare number, and the unit it is shown in.
    pub unit: Option<At<String>>,
    /// Nothing below is taken.
    pub at_least: Option<Value>,
    /// Nothing above is taken.
    pub at_most: Option<Value>,
    /// It may be left out; it is unknown then.
    pub optional: bool,
    /// Another field or `doer`: the person entered must not be the one named there.
    pub other_than: Option<At<String>>,
    /// How long it counts.
    pub age: Option<super::model::Age>,
    /// Where what it takes is written, if that is not at its name.
    pub place: Option<Place>,
}

/// One end of the scale of some instrument.
#[derive(Clone, Debug)]
pub struct ScaleEnd {
    /// Kind of instrument.
    pub of: At<String>,
    /// The upper one.
    pub highest: bool,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum FieldKind {
    /// Confirmed, nothing to enter.
    Done,
    /// A number with a unit of this family.
    Quantity(String),
    /// Words.
    Text,
    /// A whole number.
    Count,
    /// A day.
    Date,
    /// A person known to the shop, by id.
    Person,
    /// Someone who signs, in this role.
    Signature(String),
    /// One of these, each with an explanation or none.
    Choice(Vec<(String, Option<String>)>),
    /// A sign of the form; the options that the form declares, if it does.
    Sign(String),
    /// How long something was held.
    Held,
}

/// Why a typed text is not the value that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
#[must_use = "a fault that nobody gets"]
pub struct Misread {
    /// What stands there instead.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub help: Option<String>,
}

impl fmt::Display for Misread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "found {}, expected {}", self.found, self.expected)
    }
}

impl Error for Misread {}

impl Field {
    /// A field without limits or a question of its own.
    pub fn new(name: At<String>, kind: FieldKind) -> Self {
        Self {
            name,
            kind,
            ask: None,
            instrument: None,
            end: None,
            unit: None,
            at_least: None,
            at_most: None,
            optional: false,
            other_than: None,
            age: None,
            place: None,
        }
    }

    /// Kind of instrument that it has to do with: it is read with one, or off its scale.
    pub fn of_instrument(&self) -> Option<&At<String>> {
        self.instrument.as_ref().or(self.end.as_ref().map(|end| &end.of))
    }

    /// Reads what was typed. `unit` is that of the instrument at hand, for a bare number.
    pub fn read(&self, typed: &str, units: &Units, unit: Option<&str>) -> Result<Value, Misread> {
        let typed = typed.trim();
        if typed.is_empty() {
            return match (&self.kind, self.optional) {
                (FieldKind::Done, _) => Ok(Value::Truth(true)),
                (_, true) => Ok(Value::Unknown),
                _ => Err(misread("nothing", self.expected())),
            };
        }
        let value = match &self.kind {
            FieldKind::Done => Value::Truth(true),
            FieldKind::Text => Value::Text(typed.to_owned()),
            FieldKind::Person | FieldKind::Signature(_) => Value::Text(typed.to_owned()),
            FieldKind::Sign(_) => match whole_number(typed) {
                Some(number) => Value::Number(number),
                None => Value::Text(typed.to_owned()),
            },
            FieldKind::Count => Value::Number(whole_number(typed).ok_or_else(|| misread(typed, "a whole number"))?),
            FieldKind::Date => {
                let date: jiff::civil::Date =
                    typed.parse().map_err(|_| misread(typed, "a date, such as 2026-11-25"))?;
                Value::Text(date.to_string())
            }
            FieldKind::Choice(options) => Value::Text(choose(typed, options)?),
            FieldKind::Quantity(quantity) => {
                let bare = self.unit.as_ref().map(|unit| unit.value.as_str()).or(unit);
                self.quantity(typed, quantity, units, bare)?
            }
            FieldKind::Held => self.quantity(typed, "time", units, Some("s"))?,
        };
        self.check_limits(typed, &value, units)?;
        Ok(value)
    }

    fn quantity(&self, typed: &str, asked: &str, units: &Units, bare: Option<&str>) -> Result<Value, Misread> {
        units.read(typed, Some(asked), bare).map_err(|fault| Misread {
            found: fault.message.clone(),
            expected: self.expected(),
            help: fault.help.clone(),
        })
    }

    fn check_limits(&self, typed: &str, value: &Value, units: &Units) -> Result<(), Misread> {
        let below = |a: &Value, b: &Value| compare(a, b).is_some_and(|order| order.is_lt());
        if let Some(low) = &self.at_least
            && below(value, low)
        {
            return Err(misread(typed, format!("at least {}", plain(low, units))));
        }
        if let Some(high) = &self.at_most
            && below(high, value)
        {
            return Err(misread(typed, format!("at most {}", plain(high, units))));
        }
        Ok(())
    }

    /// What is expected, for a message.
    pub fn expected(&self) -> String {
        match &self.kind {
            FieldKind::Done => "a confirmation".to_owned(),
            FieldKind::Quantity(quantity) => match &self.unit {
                Some(unit) => format!("{}, such as `4.2 {}`", quantity.replace('-', " "), unit.value),
                None => format!("{} with its unit", quantity.replace('-', " ")),
            },
            FieldKind::Text => "a text".to_owned(),
            FieldKind::Count => "a whole number".to_owned(),
            FieldKind::Date => "a date, such as 2026-11-25".to_owned(),
            FieldKind::Person => "a person whom the shop knows".to_owned(),
            FieldKind::Signature(role) => format!("someone who may sign as {role}"),
            FieldKind::Choice(options) => {
                let names: Vec<&str> = options.iter().map(|(name, _)| name.as_str()).collect();
                format!("one of: {}", names.join(", "))
            }
            FieldKind::Sign(_) => "what is seen, or `unknown`".to_owned(),
            FieldKind::Held => "how long it was held, such as `5 s`".to_owned(),
        }
    }
}

fn misread(found: impl Into<String>, expected: impl Into<String>) -> Misread {
    Misread { found: format!("`{}`", found.into()), expected: expected.into(), help: None }
}

fn whole_number(typed: &str) -> Option<f64> {
    typed.parse::<u32>().ok().map(f64::from)
}

fn plain(value: &Value, units: &Units) -> String {
    units.show_value(value, &Style::default())
}

/// By its name, or by its number in the list.
fn choose(typed: &str, options: &[(String, Option<String>)]) -> Result<String, Misread> {
    if let Some((name, _)) = options.iter().find(|(name, _)| name == typed) {
        return Ok(name.clone());
    }
    if let Some((name, _)) = typed.parse::<usize>().ok().and_then(|n| options.get(n.checked_sub(1)?)) {
        return Ok(name.clone());
    }
    let names: Vec<&str> = options.iter().map(|(name, _)| name.as_str()).collect();
    let mut misread = misread(typed, format!("one of: {}", names.join(", ")));
    misread.help = nearest(typed, names).map(|near| format!("did you mean `{near}`?"));
    Err(misread)
}

/// The order of two values of one dimension; `None` when they can't be compared.
pub fn compare(a: &Value, b: &Value) -> Option<Ordering> {
    let (a, b) = match (a, b) {
        (Value::Number(a), Value::Number(b)) => (*a, *b),
        (Value::Quantity(a), Value::Quantity(b)) if a.dimension == b.dimension && a.point == b.point => (a.si, b.si),
        _ => return None,
    };
    if close(a, b) { Some(Ordering::Equal) } else { a.partial_cmp(&b) }
}
