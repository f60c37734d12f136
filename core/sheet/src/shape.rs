//! What a value of a sheet is, and whether a given one fits.

use indexmap::IndexMap;

use standpipe_diagnostic::nearest;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, UnitFamily, Units};

/// What an input or output is.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Of this quantity; plain numbers for quantities that are no more than numbers.
    Quantity(String),
    /// From - to, of this quantity; one value is a range of its own.
    Range(String),
    /// Any text, or one of these.
    Text(Vec<String>),
    /// A day, as the text year-month-day.
    Date,
    /// Yes or no.
    Truth,
    /// Values by name.
    Record(IndexMap<String, Part>),
}

/// One entry of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is.
    pub shape: Shape,
    /// It may be left out.
    pub optional: bool,
}

/// Why a value can't be taken.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Misfit {
    /// Nobody entered it; the name says which part.
    Unknown(String),
    Wrong(String),
}

impl Shape {
    /// In words: `a volume`, `a list of records`.
    pub fn described(&self) -> String {
        let quantity = |name: &str| name.replace('-', " ");
        match self {
            Shape::Quantity(name) => format!("a value of {}", quantity(name)),
            Shape::Range(name) => format!("a range of {}", quantity(name)),
            Shape::Text(choices) if choices.is_empty() => "a text".to_owned(),
            Shape::Text(choices) => format!("one of {}", choices.join(", ")),
            Shape::Date => "a day as year-month-day".to_owned(),
            Shape::Truth => "true or false".to_owned(),
            Shape::Record(parts) => {
                format!("a record of {}", parts.keys().map(String::as_str).collect::<Vec<_>>().join(", "))
            }
        }
    }

    /// The value as this shape, or why not. `name` is what to call it.
    pub(super) fn fit(&self, value: &Value, name: &str, units: &Units) -> Result<Value, Misfit> {
        if value.is_unknown() {
            return Err(Misfit::Unknown(name.to_owned()));
        }
        match (self, value) {
            (Shape::Quantity(of), Value::Number(_) | Value::Quantity(_)) => fit_quantity(value, of, name, units),
            (Shape::Range(of), Value::Range(low, high)) => {
                let end = |end: &Quantity| match fit_quantity(&Value::Quantity(end.clone()), of, name, units)? {
                    Value::Quantity(quantity) => Ok(quantity),
                    Value::Number(number) => Ok(Quantity::number(number)),
                    _ => Err(wrong(name, "has no ends")),
                };
                Ok(Value::Range(end(low)?, end(high)?))
            }
            (Shape::Range(of), Value::Number(_) | Value::Quantity(_)) => match fit_quantity(value, of, name, units)? {
                Value::Quantity(one) => Ok(Value::Range(one.clone(), one)),
                Value::Number(one) => Ok(Value::Range(Quantity::number(one), Quantity::number(one))),
                _ => Err(wrong(name, "has no ends")),
            },
            (Shape::Text(choices), Value::Text(text)) if choices.is_empty() || choices.contains(text) => {
                Ok(value.clone())
            }
            (Shape::Text(choices), Value::Text(text)) => {
                let near = nearest(text, choices.iter().map(String::as_str));
                let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
                Err(wrong(name, &format!("is `{text}`, not one of {}{hint}", choices.join(", "))))
            }
            (Shape::Date, Value::Text(text)) if is_day(text) => Ok(value.clone()),
            (Shape::Truth, Value::Truth(_)) => Ok(value.clone()),
            (Shape::Record(parts), Value::Record(fields)) => fit_record(parts, fields, name, units),
            // A plain value stands for the record that has it as its only entry of that kind.
            (Shape::Record(parts), Value::Number(_) | Value::Quantity(_)) => match only_part(parts, value, units) {
                Some(part) => fit_record(parts, &IndexMap::from([(part, value.clone())]), name, units),
                None => Err(wrong(name, &format!("is {}, but is to be {}", described(value, units), self.described()))),
            },
            _ => Err(wrong(name, &format!("is {}, but is to be {}", described(value, units), self.described()))),
        }
    }

    /// The same for a list of such values, each named by its place in the list. One value is a list of one.
    pub(super) fn fit_listed(&self, list: bool, value: &Value, name: &str, units: &Units) -> Result<Value, Misfit> {
        match (list, value) {
            (false, value) => self.fit(value, name, units),
            (true, Value::Unknown) => Err(Misfit::Unknown(name.to_owned())),
            (true, Value::List(items)) => {
                let items = items.iter().enumerate();
                let items = items.map(|(index, item)| self.fit(item, &format!("{name}[{index}]"), units));
                items.collect::<Result<Vec<_>, _>>().map(Value::List)
            }
            (true, one) => Ok(Value::List(vec![self.fit(one, name, units)?])),
        }
    }
}

fn wrong(name: &str, what: &str) -> Misfit {
    Misfit::Wrong(format!("{name} {what}"))
}

pub(super) fn is_day(text: &str) -> bool {
    text.parse::<jiff::civil::Date>().is_ok_and(|day| day.to_string() == text)
}

/// A value in words for a message.
pub(super) fn described(value: &Value, units: &Units) -> String {
    match value {
        Value::Unknown => "not known".to_owned(),
        Value::Truth(truth) => truth.to_string(),
        Value::Number(number) => units.describe(&Quantity::number(*number)),
        Value::Quantity(quantity) => units.describe(quantity),
        Value::Range(low, high) => format!("a range from {} to {}", units.describe(low), units.describe(high)),
        Value::Text(text) => format!("the text `{text}`"),
        Value::List(items) => format!("a list of {}", items.len()),
        Value::Record(fields) => {
            format!("a record of {}", fields.keys().map(String::as_str).collect::<Vec<_>>().join(", "))
        }
    }
}

/// Of the asked family from now on: sums and comparisons in a script then know what it is.
fn fit_quantity(value: &Value, of: &str, name: &str, units: &Units) -> Result<Value, Misfit> {
    let Some(family) = units.family(of) else {
        return Err(wrong(name, &format!("is to be a `{of}`, which is not known")));
    };
    let quantity = match value {
        Value::Number(number) => Quantity::number(*number),
        Value::Quantity(quantity) => quantity.clone(),
        _ => return Err(wrong(name, &format!("is to be a value of {}", family.title()))),
    };
    if !quantity.si.is_finite() {
        return Err(wrong(name, "is not a finite number"));
    }
    if !is_of(&quantity, family, units) {
        return Err(wrong(name, &format!("is {}, but is to be of {}", units.describe(&quantity), family.title())));
    }
    if family.whole && quantity.si.fract() != 0.0 {
        return Err(wrong(name, &format!("is {}, but is to be a whole number", quantity.si)));
    }
    if family.plain {
        return Ok(Value::Number(quantity.si));
    }
    Ok(Value::Quantity(Quantity { of: Some(family.name), ..quantity }))
}

fn is_of(quantity: &Quantity, family: &UnitFamily, units: &Units) -> bool {
    // Comparing with a value of the family refuses exactly what is of another kind.
    units.compare(quantity, &family.one()).is_ok()
}

fn only_part(parts: &IndexMap<String, Part>, value: &Value, units: &Units) -> Option<String> {
    let mut fitting = parts
        .iter()
        .filter(|(name, part)| matches!(part.shape, Shape::Quantity(_)) && part.shape.fit(value, name, units).is_ok());
    let (name, _) = fitting.next()?;
    fitting.next().is_none().then(|| name.clone())
}

fn fit_record(
    parts: &IndexMap<String, Part>,
    fields: &IndexMap<String, Value>,
    name: &str,
    units: &Units,
) -> Result<Value, Misfit> {
    let mut record = IndexMap::new();
    for (key, part) in parts {
        let inner = format!("{name}.{key}");
        match fields.get(key) {
            // Unknown and not needed is the same as left out.
            None | Some(Value::Unknown) if part.optional => {}
            None => return Err(wrong(name, &format!("has no `{key}`"))),
            Some(value) => {
                record.insert(key.clone(), part.shape.fit(value, &inner, units)?);
            }
        }
    }
    if let Some(extra) = fields.keys().find(|key| !parts.contains_key(*key)) {
        let near = nearest(extra, parts.keys().map(String::as_str));
        let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
        return Err(wrong(name, &format!("has an entry `{extra}` that the sheet does not know{hint}")));
    }
    Ok(Value::Record(record))
}
