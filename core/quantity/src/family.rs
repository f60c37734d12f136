//! Units of one quantity, checked.

use indexmap::IndexMap;

use super::{Dimension, Name, Quantity};

/// One unit of measure: si = (x + shift) * factor.
#[derive(Clone, Debug)]
pub struct Unit {
    /// As it is shown: `N·m`.
    pub symbol: Name,
    /// What one of it is in base units.
    pub factor: f64,
    /// si = (x + shift) * factor; 0 but for units of points.
    pub shift: f64,
    /// The definitions the factor was made of.
    pub factor_text: String,
    /// Other ways to write it.
    pub also: Vec<String>,
    /// Its name as a property of numbers in scripts.
    pub script: Option<Name>,
    /// Digits after the point of a computed value, where habit fixes them.
    pub decimals: Option<u8>,
    /// People count in thousands of it and never to a thousandth.
    pub in_thousands: bool,
}

impl Unit {
    /// From this unit to base units.
    pub fn to_si(&self, value: f64) -> f64 {
        (value + self.shift) * self.factor
    }

    /// From base units to this unit.
    pub fn from_si(&self, si: f64) -> f64 {
        let unshifted = si / self.factor;
        if self.shift == 0.0 {
            return unshifted;
        }
        // Taking two large numbers from each other leaves their rounding errors behind: 32 degF would be
        // 5.7e-14 degC. Digits beyond the fourteenth of the unshifted number are such errors.
        let value = unshifted - self.shift;
        let places = 13 - unshifted.abs().max(1.0).log10().floor() as i32;
        let scale = 10f64.powi(places.clamp(0, 13));
        let cleaned = (value * scale).round() / scale;
        if cleaned.is_finite() { cleaned + 0.0 } else { value }
    }

    /// Whether two units say the same thing, whatever they are called.
    pub(super) fn same_as(&self, other: &Unit) -> bool {
        self.factor == other.factor && self.shift == other.shift
    }
}

/// The units of one quantity.
#[derive(Clone, Debug)]
pub struct UnitFamily {
    /// `volume`
    pub name: Name,
    /// That of each of its units.
    pub dimension: Dimension,
    /// Its values are points on a scale.
    pub point: bool,
    /// Family of the differences, for points.
    pub difference: Option<Name>,
    /// Something times this remains what it is: a ratio, a count.
    pub plain: bool,
    /// Whole numbers only.
    pub whole: bool,
    /// The lowest possible value, in base units.
    pub lowest: Option<f64>,
    /// Families of the same dimension that are something else.
    pub distinct_from: Vec<Name>,
    /// Symbol of the unit shown in a metric and in an inch shop.
    pub metric: Name,
    /// The unit that people see who measure in inches.
    pub inch: Name,
    /// By symbol.
    pub units: IndexMap<Name, Unit>,
    /// As people write it, with the symbols it could mean.
    pub ambiguous: IndexMap<String, Vec<Name>>,
}

impl UnitFamily {
    /// 1 of it in base units: what it is, whatever its size.
    pub fn one(&self) -> Quantity {
        let of = Some(self.name);
        Quantity { si: 1.0, dimension: self.dimension, point: self.point, of, written: None }
    }

    /// The unit with just this symbol.
    pub fn unit(&self, symbol: &str) -> Option<&Unit> {
        self.units.get(symbol)
    }

    /// The symbols of its units, in the order of the file.
    pub fn symbols(&self) -> impl Iterator<Item = &str> {
        self.units.keys().map(|symbol| &**symbol)
    }

    /// The name in words: `rotational speed` for `rotational-speed`.
    pub fn title(&self) -> String {
        self.name.replace('-', " ")
    }

    /// A few units to name in a message, the shown ones first.
    pub(super) fn examples(&self) -> Vec<String> {
        let mut out: Vec<&str> = Vec::new();
        for symbol in [&*self.metric, &*self.inch].into_iter().chain(self.symbols()) {
            if !out.contains(&symbol) && symbol != "1" && out.len() < 6 {
                out.push(symbol);
            }
        }
        out.into_iter().map(str::to_owned).collect()
    }
}
