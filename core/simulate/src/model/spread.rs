//! How a number is spread over units.

use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_yaml::At;

use super::raw::RawSpread;
use crate::draw::{Draws, quantile};

/// A checked spread. Numbers are in base units and of the kind of the quantity beside them.
#[derive(Clone, Debug)]
pub enum Spread {
    Uniform(Quantity, f64, f64),
    Normal(Quantity, f64, f64),
    /// Median, and the logarithm of the factor.
    Lognormal(Quantity, f64, f64),
    Whole(i64, i64),
    OneOf(Vec<(Value, f64)>),
}

impl Spread {
    pub(super) fn read(raw: At<RawSpread>, units: &Units, problems: &mut Problems) -> Option<Self> {
        let At { value: raw, place } = raw;
        let written = [
            raw.uniform.is_some(),
            raw.normal.is_some(),
            raw.lognormal.is_some(),
            raw.whole.is_some(),
            !raw.one_of.is_empty(),
        ];
        if written.into_iter().filter(|one| *one).count() != 1 {
            problems.push(
                Diagnostic::error(Code::FaultyModel, &place, "this does not say how the number is spread")
                    .expected("exactly one of uniform, normal, lognormal, whole and one_of"),
            );
            return None;
        }
        let mut read = Reader { units, problems };
        if let Some(text) = &raw.uniform {
            let (low, high) = read.range(text)?;
            return Some(Self::Uniform(kind_of(&low), low.si, high.si));
        }
        if let Some((mean, deviation)) = &raw.normal {
            let (mean, width) = (read.value(mean)?, read.width(deviation)?);
            return Some(Self::Normal(kind_of(&mean), mean.si, width));
        }
        if let Some((median, factor)) = &raw.lognormal {
            let middle = read.value(median)?;
            if middle.si <= 0.0 || factor.value < 1.0 || !factor.value.is_finite() {
                let message = "a lognormal number has a median above 0 and a factor of at least 1";
                read.problems.push(Diagnostic::error(Code::FaultyModel, &place, message));
                return None;
            }
            return Some(Self::Lognormal(kind_of(&middle), middle.si, libm::log(factor.value)));
        }
        if let Some(text) = &raw.whole {
            let (low, high) = read.range(text)?;
            if low.si.fract() != 0.0 || high.si.fract() != 0.0 || !low.is_plain() {
                let message = format!("`{}` has no whole ends", text.value);
                read.problems
                    .push(Diagnostic::error(Code::FaultyModel, &text.place, message).expected("such as 6..12"));
                return None;
            }
            return Some(Self::Whole(low.si as i64, high.si as i64));
        }
        let mut all = Vec::new();
        for (text, weight) in &raw.one_of {
            if !(weight.is_finite() && *weight >= 0.0) {
                let message = format!("{weight} is not a weight");
                read.problems.push(Diagnostic::error(Code::FaultyModel, &text.place, message).expected("0 or more"));
                return None;
            }
            all.push((value_of(read.value(text)?), *weight));
        }
        Some(Self::OneOf(all))
    }

    /// The number of a run.
    pub fn draw(&self, draws: &Draws, name: &str) -> Value {
        let share = draws.uniform("unit", name);
        match self {
            Self::Uniform(kind, low, high) => of(kind, low + (high - low) * share),
            Self::Normal(kind, mean, width) => of(kind, mean + width * quantile(share)),
            Self::Lognormal(kind, median, factor) => of(kind, median * libm::exp(factor * quantile(share))),
            Self::Whole(low, high) => {
                let count = (high - low + 1) as f64;
                Value::Number((low + ((share * count) as i64).min(high - low)) as f64)
            }
            Self::OneOf(all) => {
                let sum: f64 = all.iter().map(|(_, weight)| weight).sum();
                let mut left = share * sum;
                let found = all.iter().find(|(_, weight)| {
                    left -= weight;
                    left < 0.0
                });
                found.or(all.last()).map_or(Value::Unknown, |(value, _)| value.clone())
            }
        }
    }
}

/// What kind of number it is, without how it was written: scripts see it as one that was worked out.
fn kind_of(quantity: &Quantity) -> Quantity {
    Quantity { written: None, ..quantity.clone() }
}

fn of(kind: &Quantity, si: f64) -> Value {
    value_of(Quantity { si, ..kind.clone() })
}

fn value_of(quantity: Quantity) -> Value {
    if quantity.is_plain() { Value::Number(quantity.si) } else { Value::Quantity(kind_of(&quantity)) }
}

struct Reader<'a> {
    units: &'a Units,
    problems: &'a mut Problems,
}

impl Reader<'_> {
    fn range(&mut self, text: &At<String>) -> Option<(Quantity, Quantity)> {
        match self.units.read_range(text, None, None) {
            Ok(Value::Range(low, high)) => Some((low, high)),
            Ok(_) => None,
            Err(fault) => self.faulty(fault.at(&text.place)),
        }
    }

    fn value(&mut self, text: &At<String>) -> Option<Quantity> {
        match self.units.read(text, None, None) {
            Ok(Value::Quantity(quantity)) => Some(quantity),
            Ok(Value::Number(number)) => Some(Quantity::number(number)),
            Ok(_) => None,
            Err(fault) => self.faulty(fault.at(&text.place)),
        }
    }

    /// A standard deviation, in base units: of a temperature it is a difference.
    fn width(&mut self, text: &At<String>) -> Option<f64> {
        let found = self.value(text)?;
        if found.point || found.si < 0.0 {
            let message = format!("`{}` is not a standard deviation", text.value);
            return self.faulty(
                Diagnostic::error(Code::FaultyModel, &text.place, message).expected("a difference, not below 0"),
            );
        }
        Some(found.si)
    }

    fn faulty<T>(&mut self, problem: Diagnostic) -> Option<T> {
        self.problems.push(problem);
        None
    }
}
