//! Sums, products, powers and comparisons of quantities.
//!
//! Points (temperatures) follow the rules of a scale: point - point = difference, point ± difference = point; two points
//! have a mean but no sum, and a point has no multiple.

use std::cmp::Ordering;

use super::fault::DimensionFault;
use super::{Dimension, Name, Quantity, Units};
use standpipe_diagnostic::Code;

/// Equal but for rounding errors: within 1e-12 of the larger one. The one rule for equality of numbers everywhere.
pub fn close(a: f64, b: f64) -> bool {
    // An infinite gap would pass as within an infinite tolerance.
    let gap = (a - b).abs();
    a == b || (gap.is_finite() && gap <= 1e-12 * a.abs().max(b.abs()))
}

impl Units {
    /// The sum. A point and a difference give a point.
    ///
    /// Errors: two points, other dimensions, families that are distinct, a result that is not finite.
    pub fn add(&self, a: &Quantity, b: &Quantity) -> Result<Quantity, DimensionFault> {
        self.same_kind(a, b, "added")?;
        if a.point && b.point {
            return Err(DimensionFault::new(
                Code::DimensionClash,
                format!("two points on a scale can't be added: {} and {}", self.describe(a), self.describe(b)),
            )
            .help("take their middle with `mean([a, b])`, or add a difference"));
        }
        let of = match (a.point, b.point) {
            (true, _) => a.of,
            (_, true) => b.of,
            _ => joined(a, b),
        };
        self.finite(Quantity { si: a.si + b.si, dimension: a.dimension, point: a.point || b.point, of, written: None })
    }

    /// The difference. Of two points it is a difference, of a point and a difference a point.
    ///
    /// Errors: as [`Units::add`].
    pub fn sub(&self, a: &Quantity, b: &Quantity) -> Result<Quantity, DimensionFault> {
        self.same_kind(a, b, "subtracted")?;
        let of = match (a.point, b.point) {
            (true, true) => self.difference_of(a).or_else(|| self.difference_of(b)),
            (true, false) => a.of,
            (false, false) => joined(a, b),
            (false, true) => {
                return Err(DimensionFault::new(
                    Code::DimensionClash,
                    format!("a point can't be taken from a difference: {} - {}", self.describe(a), self.describe(b)),
                ));
            }
        };
        self.finite(Quantity { si: a.si - b.si, dimension: a.dimension, point: a.point && !b.point, of, written: None })
    }

    /// The product. It keeps a family only where the other factor is a ratio or a count.
    ///
    /// Errors: a point, a dimension beyond what is kept, a result that is not finite.
    pub fn mul(&self, a: &Quantity, b: &Quantity) -> Result<Quantity, DimensionFault> {
        self.no_point(a, "multiplied")?;
        self.no_point(b, "multiplied")?;
        let of = match (self.is_scale(a), self.is_scale(b)) {
            (true, true) => joined(a, b),
            (false, true) => a.of,
            (true, false) => b.of,
            (false, false) => None,
        };
        let dimension = a.dimension.mul(&b.dimension).ok_or_else(runaway)?;
        self.finite(Quantity { si: a.si * b.si, dimension, point: false, of, written: None })
    }

    /// The quotient. It keeps the family of what is divided only by a ratio or a count.
    ///
    /// Errors: as [`Units::mul`], and a division by zero.
    pub fn div(&self, a: &Quantity, b: &Quantity) -> Result<Quantity, DimensionFault> {
        self.no_point(a, "divided")?;
        self.no_point(b, "divided by")?;
        if b.si == 0.0 {
            return Err(DimensionFault::new(Code::NonFiniteResult, format!("{} divided by 0", self.describe(a))));
        }
        let of = if self.is_scale(b) { a.of } else { None };
        let dimension = a.dimension.div(&b.dimension).ok_or_else(runaway)?;
        self.finite(Quantity { si: a.si / b.si, dimension, point: false, of, written: None })
    }

    /// The same with the other sign.
    ///
    /// Errors: a point.
    pub fn neg(&self, a: &Quantity) -> Result<Quantity, DimensionFault> {
        self.no_point(a, "negated")?;
        // 0 - x rather than -x: zero has no sign.
        Ok(Quantity { si: 0.0 - a.si, written: None, ..a.clone() })
    }

    /// A power; of something with a dimension only where the exponents come out whole.
    ///
    /// Errors: a point, exponents that do not come out whole, a result that is not finite.
    pub fn pow(&self, a: &Quantity, power: f64) -> Result<Quantity, DimensionFault> {
        self.no_point(a, "raised to a power")?;
        let Some(dimension) = a.dimension.pow(power) else {
            return Err(DimensionFault::new(
                Code::DimensionClash,
                format!("{} can't be raised to the power {power}", self.describe(a)),
            ));
        };
        let of = if power == 1.0 { a.of } else { None };
        let whole = power.fract() == 0.0 && power.abs() <= 1024.0;
        let si = if power == 0.5 {
            a.si.sqrt()
        } else if whole {
            a.si.powi(power as i32)
        } else {
            a.si.powf(power)
        };
        self.finite(Quantity { si, dimension, point: false, of, written: None })
    }

    /// The middle of several values; the one thing points can have together.
    ///
    /// Errors: no values, values that do not go together.
    pub fn mean(&self, values: &[Quantity]) -> Result<Quantity, DimensionFault> {
        let Some((first, rest)) = values.split_first() else {
            return Err(DimensionFault::new(Code::NonFiniteResult, "the mean of nothing"));
        };
        let mut of = first.of;
        let mut sum = first.si;
        for value in rest {
            self.same_kind(first, value, "averaged")?;
            self.same_pointness(first, value, "averaged")?;
            if of != value.of {
                of = joined(&Quantity { of, ..first.clone() }, value);
            }
            sum += value.si;
        }
        self.finite(Quantity { si: sum / values.len() as f64, of, written: None, ..first.clone() })
    }

    /// Which is larger; [`close`] values are equal, so that 95 degF equals 35 degC.
    pub fn compare(&self, a: &Quantity, b: &Quantity) -> Result<Ordering, DimensionFault> {
        self.same_kind(a, b, "compared")?;
        self.same_pointness(a, b, "compared")?;
        if close(a.si, b.si) {
            return Ok(Ordering::Equal);
        }
        a.si.partial_cmp(&b.si).ok_or_else(|| not_finite("a comparison"))
    }

    /// Whether it lies between the two, both included.
    pub fn within(&self, value: &Quantity, low: &Quantity, high: &Quantity) -> Result<bool, DimensionFault> {
        Ok(self.compare(value, low)?.is_ge() && self.compare(value, high)?.is_le())
    }

    fn same_kind(&self, a: &Quantity, b: &Quantity, done: &str) -> Result<(), DimensionFault> {
        if !a.si.is_finite() || !b.si.is_finite() {
            return Err(not_finite("a number"));
        }
        let apart = match (&a.of, &b.of) {
            (Some(one), Some(other)) => one != other && self.distinct(one, other),
            _ => false,
        };
        if a.dimension == b.dimension && !apart {
            return Ok(());
        }
        let message = format!("{} and {} can't be {done}", self.describe(a), self.describe(b));
        let fault = DimensionFault::new(Code::DimensionClash, message);
        let (number, other) = if a.is_plain() { (a, b) } else { (b, a) };
        match self.script_example(other) {
            Some(unit) if number.is_plain() => {
                Err(fault.help(format!("if the number is meant in a unit, write it: `{}`", in_script(number.si, unit))))
            }
            _ => Err(fault),
        }
    }

    fn same_pointness(&self, a: &Quantity, b: &Quantity, done: &str) -> Result<(), DimensionFault> {
        if a.point == b.point {
            return Ok(());
        }
        let (point, difference) = if a.point { (a, b) } else { (b, a) };
        let message = format!(
            "{} is a point on a scale and {} a difference; they can't be {done}",
            self.describe(point),
            self.describe(difference)
        );
        let fault = DimensionFault::new(Code::DimensionClash, message);
        Err(match self.difference_of(point).and_then(|name| self.families.get(&name)) {
            Some(family) => fault.help(format!(
                "give both as points, or both as differences (units of {}: {})",
                family.title(),
                family.examples().join(", ")
            )),
            None => fault,
        })
    }

    fn no_point(&self, a: &Quantity, done: &str) -> Result<(), DimensionFault> {
        if !a.point {
            return Ok(());
        }
        Err(DimensionFault::new(
            Code::DimensionClash,
            format!("{} is a point on a scale and can't be {done}", self.describe(a)),
        )
        .help("subtract another point from it first: a difference can"))
    }

    fn difference_of(&self, point: &Quantity) -> Option<Name> {
        self.family_of(point)?.difference
    }

    /// A number that leaves what it multiplies the thing it is: a pure number, a ratio, a count.
    fn is_scale(&self, a: &Quantity) -> bool {
        a.dimension.is_none()
            && match &a.of {
                None => true,
                Some(of) => self.families.get(of).is_some_and(|family| family.plain),
            }
    }

    fn script_example(&self, a: &Quantity) -> Option<&str> {
        let family = self.family_of(a)?;
        let written = a.written.as_ref().and_then(|written| family.units.get(&written.unit));
        written.or_else(|| family.units.get(&family.metric))?.script.as_deref()
    }

    fn finite(&self, quantity: Quantity) -> Result<Quantity, DimensionFault> {
        if quantity.si.is_finite() { Ok(quantity) } else { Err(not_finite("the result")) }
    }

    /// `38 °C (temperature)`, for messages.
    pub fn describe(&self, a: &Quantity) -> String {
        let text = self.show_plainly(a);
        match self.family_of(a) {
            Some(family) if a.of.is_some() || family.dimension != Dimension::NONE => {
                format!("{text} ({})", family.title())
            }
            _ if a.dimension.is_none() => format!("the number {text}"),
            _ => text,
        }
    }
}

/// The family of a sum: a value that has none takes the other's, two different ones leave none.
fn joined(a: &Quantity, b: &Quantity) -> Option<Name> {
    match (&a.of, &b.of) {
        (Some(one), Some(other)) if one != other => None,
        (Some(of), _) | (None, Some(of)) => Some(*of),
        (None, None) => None,
    }
}

fn in_script(value: f64, unit: &str) -> String {
    format!("{value}.{unit}")
}

fn not_finite(what: &str) -> DimensionFault {
    DimensionFault::new(Code::NonFiniteResult, format!("{what} is not finite"))
}

fn runaway() -> DimensionFault {
    DimensionFault::new(Code::DimensionClash, "the dimension of the result has an exponent beyond 127")
}
