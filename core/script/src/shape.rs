//! What can be told of a value before anything runs: what it is, and between which ends it must lie.

use indexmap::IndexMap;

use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units, close};

/// What is certain of a value; [`Shape::Any`] where nothing is.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    Any,
    /// True or false; which, if it is always the same.
    Truth(Option<bool>),
    /// One of these, if they are known.
    Text(Option<Vec<String>>),
    Quantity(Measured),
    /// The lowest and the highest end it can have.
    Range(Measured),
    List(Box<Shape>),
    Record(IndexMap<String, Shape>),
}

/// A quantity between two ends, in base units.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Stands for all of them; its value counts only where both ends are that value.
    pub sample: Quantity,
    pub low: f64,
    pub high: f64,
}

impl Measured {
    pub fn exactly(quantity: Quantity) -> Self {
        Self { low: quantity.si, high: quantity.si, sample: quantity }
    }

    pub fn any(sample: Quantity) -> Self {
        Self { sample: Quantity { si: 1.0, written: None, ..sample }, low: f64::NEG_INFINITY, high: f64::INFINITY }
    }

    pub fn between(self, low: Option<f64>, high: Option<f64>) -> Self {
        Self { low: low.unwrap_or(self.low), high: high.unwrap_or(self.high), ..self }
    }

    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }

    /// The value itself if there is only one, else the one that stands for all.
    pub fn stand_in(&self) -> Quantity {
        if self.is_exact() { Quantity { si: self.low, ..self.sample.clone() } } else { self.sample.clone() }
    }

    /// In words for a message.
    pub fn described(&self, units: &Units) -> String {
        if self.is_exact() {
            return units.describe(&self.stand_in());
        }
        match (&self.sample.of, self.sample.is_plain()) {
            (_, true) => "a number".to_owned(),
            (Some(of), _) => format!("a value of {}", of.replace('-', " ")),
            (None, _) => "a value of another dimension".to_owned(),
        }
    }

    /// Whether all of these lie below all of the others: certainly, certainly not, or who knows.
    pub fn is_below(&self, other: &Self) -> Option<bool> {
        if self.high < other.low && !close(self.high, other.low) {
            return Some(true);
        }
        (self.low >= other.high || close(self.low, other.high)).then_some(false)
    }

    pub fn equals(&self, other: &Self) -> Option<bool> {
        if self.is_below(other) == Some(true) || other.is_below(self) == Some(true) {
            return Some(false);
        }
        (self.is_exact() && other.is_exact() && close(self.low, other.low)).then_some(true)
    }
}

impl Shape {
    pub fn number() -> Self {
        Self::Quantity(Measured::any(Quantity::number(1.0)))
    }

    /// Any value of a family of units.
    pub fn of_family(name: &str, units: &Units) -> Self {
        Self::measured(name, units).map_or(Self::Any, Self::Quantity)
    }

    pub fn range_of_family(name: &str, units: &Units) -> Self {
        Self::measured(name, units).map_or(Self::Any, Self::Range)
    }

    fn measured(name: &str, units: &Units) -> Option<Measured> {
        let family = units.family(name)?;
        // What is no more than a number arrives as one.
        let of = (!family.plain).then_some(family.name);
        let sample = Quantity { si: 1.0, dimension: family.dimension, point: family.point, of, written: None };
        Some(Measured::any(sample).between(family.lowest, None))
    }

    /// A value that is settled.
    pub fn of_value(value: &Value) -> Self {
        match value {
            Value::Unknown => Self::Any,
            Value::Truth(truth) => Self::Truth(Some(*truth)),
            Value::Number(number) => Self::Quantity(Measured::exactly(Quantity::number(*number))),
            Value::Quantity(quantity) => Self::Quantity(Measured::exactly(quantity.clone())),
            Value::Range(low, high) => Self::Range(Measured { sample: low.clone(), low: low.si, high: high.si }),
            Value::Text(text) => Self::Text(Some(vec![text.clone()])),
            Value::List(items) => {
                let shapes = items.iter().map(Self::of_value).reduce(Self::or);
                Self::List(Box::new(shapes.unwrap_or(Self::Any)))
            }
            Value::Record(fields) => {
                Self::Record(fields.iter().map(|(name, value)| (name.clone(), Self::of_value(value))).collect())
            }
        }
    }

    /// What is certain of a value that is one or the other.
    pub fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Truth(a), Self::Truth(b)) => Self::Truth(a.filter(|a| b == Some(*a))),
            (Self::Text(Some(mut all)), Self::Text(Some(more))) => {
                for text in more {
                    if !all.contains(&text) {
                        all.push(text);
                    }
                }
                Self::Text(Some(all))
            }
            (Self::Text(_), Self::Text(_)) => Self::Text(None),
            (Self::Quantity(a), Self::Quantity(b)) if alike(&a, &b) => Self::Quantity(joined(a, &b)),
            (Self::Range(a), Self::Range(b)) if alike(&a, &b) => Self::Range(joined(a, &b)),
            (Self::List(a), Self::List(b)) => Self::List(Box::new(a.or(*b))),
            (Self::Record(a), Self::Record(mut b)) if a.len() == b.len() && a.keys().all(|key| b.contains_key(key)) => {
                let joined = a.into_iter().map(|(key, shape)| {
                    let other = b.shift_remove(&key).unwrap_or(Self::Any);
                    (key, shape.or(other))
                });
                Self::Record(joined.collect())
            }
            _ => Self::Any,
        }
    }

    /// What stands under a property; `Err` with the names there are when it is certain that there is none.
    pub fn property(&self, name: &str, units: &Units) -> Result<Shape, Vec<String>> {
        match self {
            Self::Record(fields) => fields.get(name).cloned().ok_or_else(|| fields.keys().cloned().collect()),
            Self::Range(ends) => match name {
                "low" | "high" => {
                    let known = |end: f64| if end.is_finite() { Some(end) } else { None };
                    let any = Measured::any(ends.sample.clone());
                    Ok(Self::Quantity(any.between(known(ends.low), known(ends.high))))
                }
                _ => Err(vec!["low".to_owned(), "high".to_owned()]),
            },
            Self::Quantity(number) if number.sample.is_plain() => match units.script_unit(name) {
                Some((family, unit)) => {
                    let sample = Quantity {
                        si: unit.to_si(number.low),
                        dimension: family.dimension,
                        point: family.point,
                        of: (!family.plain).then_some(family.name),
                        written: None,
                    };
                    Ok(Self::Quantity(match number.is_exact() {
                        true => Measured::exactly(sample),
                        false => Measured::any(sample),
                    }))
                }
                None => Err(Vec::new()),
            },
            _ => Ok(Self::Any),
        }
    }

    /// In words for a message.
    pub fn described(&self, units: &Units) -> String {
        match self {
            Self::Any => "a value".to_owned(),
            Self::Truth(_) => "true or false".to_owned(),
            Self::Text(Some(texts)) if texts.len() == 1 => format!("the text `{}`", texts[0]),
            Self::Text(_) => "a text".to_owned(),
            Self::Quantity(measured) => measured.described(units),
            Self::Range(ends) => {
                let one = Measured::any(ends.sample.clone()).described(units);
                format!("a range, each end {one}")
            }
            Self::List(_) => "a list".to_owned(),
            Self::Record(_) => "a record".to_owned(),
        }
    }
}

fn alike(a: &Measured, b: &Measured) -> bool {
    a.sample.dimension == b.sample.dimension && a.sample.point == b.sample.point
}

fn joined(a: Measured, b: &Measured) -> Measured {
    let of = if a.sample.of == b.sample.of { a.sample.of } else { None };
    Measured { sample: Quantity { of, ..a.sample }, low: a.low.min(b.low), high: a.high.max(b.high) }
}
