//! From a quantity to text, in the units a shop wants to see.
//!
//! JSON carries exact values; what is made here is for people.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use super::family::Unit;
use super::read::{is_written_in, value_in};
use super::round::{Toward, at_place, at_place_toward, leading, significant, trim_zeros};
use super::{Name, Quantity, Units, Written};
use crate::value::Value;

/// Units of which system are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// `9.5 N·m`
    #[default]
    Metric,
    /// `7.0 lbf·ft`
    Inch,
    /// `9.5 N·m (7.0 lbf·ft)`
    Both,
}

/// What a value is shown for decides how many digits it gets.
#[derive(Clone, Debug, PartialEq)]
pub enum Purpose {
    /// Something read or written by a person: it keeps its precision, no more and no less.
    ///
    /// In another unit it gets as many significant digits as it had, one more where the new first digit is the smaller
    /// one. Source: NIST SP 811 (2008) B.7.2; its example 36 ft = 11.0 m was seen in a stored copy, the wording of the rule
    /// on a secondary page.
    Reading,
    /// To be set on an instrument: the nearest value that its resolution allows.
    Setting { resolution: Option<Quantity> },
    /// A lower limit: rounded up, never loosened.
    AtLeast { resolution: Option<Quantity> },
    /// An upper limit: rounded down, never loosened.
    AtMost { resolution: Option<Quantity> },
    /// A computed value with so many significant digits; digits before the point always stay.
    Computed { digits: u8 },
}

/// How a shop wants to see quantities.
#[derive(Clone, Debug)]
pub struct Style {
    /// Units of which system are shown.
    pub system: System,
    /// Units of single quantities, where the shop has its own: the first one leads, the others follow in brackets.
    pub overrides: IndexMap<String, Vec<String>>,
    /// What the value is shown for.
    pub purpose: Purpose,
    /// Significant digits of what nobody wrote (a sample, a result shown among readings).
    pub digits: u8,
    /// Scales of the instruments at hand, for what is given in another unit than it was written in.
    pub graduations: Vec<Graduation>,
    /// Stands in for the currency sign.
    pub currency: Option<Name>,
}

/// What one instrument can show or be set to.
#[derive(Clone, Debug)]
pub struct Graduation {
    /// Its smallest step, as written: the unit is that of the scale.
    pub step: Quantity,
    /// Its ends, in base units.
    pub range: Option<(f64, f64)>,
}

impl Graduation {
    /// The nearest value on the scale, where it reaches the quantity and its steps are fine enough not to matter: a value
    /// moves by less than one per cent. `None` elsewhere.
    fn nearest(&self, quantity: &Quantity, value: f64, unit: &Unit) -> Option<String> {
        let written = self.step.written.as_ref().filter(|written| is_written_in(written, unit))?;
        let reached = self.range.is_none_or(|(low, high)| low <= quantity.si && quantity.si <= high);
        if quantity.point || !reached || self.step.dimension != quantity.dimension {
            return None;
        }
        let steps = (value / written.value).round();
        let moved = (steps * written.value - value).abs();
        (moved < 0.01 * value.abs()).then(|| at_place(steps * written.value, -i32::from(written.decimals)))
    }
}

impl Default for Style {
    fn default() -> Self {
        Self {
            system: System::Metric,
            overrides: IndexMap::new(),
            purpose: Purpose::Reading,
            digits: DIGITS,
            graduations: Vec::new(),
            currency: None,
        }
    }
}

impl Style {
    /// A style without anything of a shop's own.
    pub fn new(system: System, purpose: Purpose) -> Self {
        Self { system, purpose, ..Self::default() }
    }

    /// The same shop, another purpose.
    pub fn with(&self, purpose: Purpose) -> Self {
        Self { purpose, ..self.clone() }
    }
}

/// Digits of a reading that nobody wrote (a sample), and of a computed value in messages.
const DIGITS: u8 = 4;

impl Units {
    /// The quantity with its unit.
    pub fn show(&self, quantity: &Quantity, style: &Style) -> String {
        self.in_units(quantity, style, |unit| {
            with_unit(&self.number_in(quantity, unit, &style.purpose, style), unit, style)
        })
    }

    /// Both ends with one unit: `51..58 °C`. Whatever the rounding, what is shown lies inside.
    pub fn show_range(&self, low: &Quantity, high: &Quantity, style: &Style) -> String {
        let resolution = match &style.purpose {
            Purpose::Setting { resolution } | Purpose::AtLeast { resolution } | Purpose::AtMost { resolution } => {
                resolution.clone()
            }
            _ => None,
        };
        let free = resolution.is_none() && !matches!(style.purpose, Purpose::Computed { .. });
        let (from, to) = match &style.purpose {
            Purpose::Computed { .. } => (style.purpose.clone(), style.purpose.clone()),
            _ => (Purpose::AtLeast { resolution: resolution.clone() }, Purpose::AtMost { resolution }),
        };
        self.in_units(low, style, |unit| {
            let (low_text, high_text) =
                (self.number_in(low, unit, &from, style), self.number_in(high, unit, &to, style));
            let own = unit.is_some_and(|unit| low.written.as_ref().is_some_and(|w| is_written_in(w, unit)));
            let ends = unit.map_or((low.si, high.si), |unit| (value_in(low, unit), value_in(high, unit)));
            let (low_text, high_text) = if low.written.is_none() && high.written.is_none() {
                alike(ends, low_text, high_text)
            } else if free && !own {
                without_idle(ends, low_text, high_text)
            } else {
                (low_text, high_text)
            };
            with_unit(&format!("{low_text}..{high_text}"), unit, style)
        })
    }

    /// Only the number, in one unit; `None` if the quantity has no such unit.
    pub fn figure(&self, quantity: &Quantity, unit: &str, purpose: &Purpose) -> Option<String> {
        Some(self.number_in(quantity, Some(self.unit_for(quantity, unit)?), purpose, &Style::default()))
    }

    /// The quantity in one unit; `None` if it has no such unit.
    pub fn show_in(&self, quantity: &Quantity, unit: &str, style: &Style) -> Option<String> {
        let unit = self.unit_for(quantity, unit)?;
        Some(with_unit(&self.number_in(quantity, Some(unit), &style.purpose, style), Some(unit), style))
    }

    /// The unit in which a quantity is shown, or that of its dimension.
    pub fn unit_shown(&self, quantity: &Quantity, style: &Style) -> String {
        let shown = quantity.of.as_ref().and_then(|of| self.shown_units(of, style).into_iter().next());
        shown.map_or_else(|| self.plain(quantity).1, |unit| unit.to_string())
    }

    /// Symbols of the units that `quantity` is shown in, the leading one first.
    pub fn shown_units(&self, quantity: &str, style: &Style) -> Vec<Name> {
        let Some(family) = self.families.get(quantity) else { return Vec::new() };
        if let Some(own) = style.overrides.get(quantity) {
            let of_family =
                Quantity { point: family.point, of: Some(family.name), ..Quantity::new(0.0, family.dimension) };
            let known: Vec<_> = own.iter().filter_map(|text| Some(self.unit_for(&of_family, text)?.symbol)).collect();
            if !known.is_empty() {
                return known;
            }
        }
        match style.system {
            System::Metric => vec![family.metric],
            System::Inch => vec![family.inch],
            System::Both if family.metric == family.inch => vec![family.metric],
            System::Both => vec![family.metric, family.inch],
        }
    }

    /// Any value as text.
    pub fn show_value(&self, value: &Value, style: &Style) -> String {
        match value {
            Value::Unknown => "unknown".to_owned(),
            Value::Truth(true) => "yes".to_owned(),
            Value::Truth(false) => "no".to_owned(),
            Value::Number(number) => self.show(&Quantity::number(*number), style),
            Value::Quantity(quantity) => self.show(quantity, style),
            Value::Range(low, high) => self.show_range(low, high, style),
            Value::Text(text) => text.clone(),
            Value::List(items) => items.iter().map(|item| self.show_value(item, style)).collect::<Vec<_>>().join(", "),
            Value::Record(fields) => {
                let shown = fields.iter().map(|(name, value)| format!("{name}: {}", self.show_value(value, style)));
                shown.collect::<Vec<_>>().join(", ")
            }
        }
    }

    /// The number in a unit, with the digits its purpose asks for; without a unit, in base units.
    fn number_in(&self, quantity: &Quantity, unit: Option<&Unit>, purpose: &Purpose, style: &Style) -> String {
        let value = unit.map_or(quantity.si, |unit| value_in(quantity, unit));
        let (resolution, toward) = match purpose {
            Purpose::Computed { digits } => return computed(quantity, value, unit, *digits),
            Purpose::Reading => (&None, Toward::Nearest),
            Purpose::Setting { resolution } => (resolution, Toward::Nearest),
            Purpose::AtLeast { resolution } => (resolution, Toward::Up),
            Purpose::AtMost { resolution } => (resolution, Toward::Down),
        };
        let resolution = resolution.as_ref().filter(|step| step.dimension == quantity.dimension && step.si > 0.0);
        if let (Some(step), Some(unit)) = (resolution, unit) {
            return to_resolution(value, step, unit, toward);
        }
        let as_written =
            quantity.written.as_ref().is_some_and(|written| unit.is_some_and(|unit| is_written_in(written, unit)));
        if let (Purpose::Reading, Some(unit), true, false) = (purpose, unit, quantity.written.is_some(), as_written)
            && let Some(on_scale) =
                style.graduations.iter().find_map(|graduation| graduation.nearest(quantity, value, unit))
        {
            return on_scale;
        }
        let Some(written) = &quantity.written else { return computed(quantity, value, unit, style.digits) };
        let place = -i32::from(written.decimals);
        let same = match unit {
            Some(unit) => is_written_in(written, unit),
            None => written.unit.is_empty(),
        };
        if same {
            return at_place(written.value, place);
        }
        if toward == Toward::Nearest && !quantity.point && written.value != 0.0 {
            return at_place(value, reading_place(written, value));
        }
        // On a scale with its zero elsewhere significant digits mean nothing: the last decimal counts, and gets no coarser.
        // A limit goes by it as well, one digit finer, or rounding inward could take a good part of a range away.
        let from = self.unit_for(quantity, &written.unit).map_or(1.0, |unit| unit.factor);
        let step = (from / unit.map_or(1.0, |unit| unit.factor) * 10f64.powi(place)).log10();
        let finest = if toward == Toward::Nearest { step.floor() } else { step.round() - 1.0 };
        let finest = finest as i32;
        at_place_toward(value, finest.min(0), toward)
    }

    /// As it was written, or in the metric unit: for messages, which know no shop.
    pub fn show_plainly(&self, quantity: &Quantity) -> String {
        let style = Style::default();
        let written = quantity.written.as_ref().and_then(|written| self.show_in(quantity, &written.unit, &style));
        written.unwrap_or_else(|| self.show(quantity, &style))
    }

    /// Number and unit as it was written, or in the metric unit: with all its digits, for programs.
    pub fn plain(&self, quantity: &Quantity) -> (f64, String) {
        if let Some(written) = &quantity.written {
            return (written.value, written.unit.to_string());
        }
        let metric = self.family_of(quantity).and_then(|family| self.unit_for(quantity, &family.metric));
        match metric {
            Some(unit) if &*unit.symbol == "1" => (value_in(quantity, unit), String::new()),
            Some(unit) => (value_in(quantity, unit), unit.symbol.to_string()),
            None if quantity.dimension.is_none() => (quantity.si, String::new()),
            None => (quantity.si, quantity.dimension.to_string()),
        }
    }

    fn in_units(&self, quantity: &Quantity, style: &Style, show: impl Fn(Option<&Unit>) -> String) -> String {
        let Some(family) = self.family_of(quantity) else {
            let number = show(None);
            return if quantity.dimension.is_none() { number } else { format!("{number} {}", quantity.dimension) };
        };
        let mut units = self.shown_units(&family.name, style);
        // Where both systems have one unit (time), what is written as 4 s is not made 0.07 min.
        let written = quantity.written.as_ref().filter(|written| family.unit(&written.unit).is_some());
        if let (Some(written), true, false) =
            (written, family.metric == family.inch, style.overrides.contains_key(&*family.name))
        {
            units = vec![written.unit];
        }
        let mut texts = units.iter().filter_map(|symbol| self.unit_for(quantity, symbol)).map(|unit| show(Some(unit)));
        let first = texts.next().unwrap_or_else(|| show(None));
        let rest: Vec<_> = texts.collect();
        if rest.is_empty() { first } else { format!("{first} ({})", rest.join(", ")) }
    }
}

fn with_unit(number: &str, unit: Option<&Unit>, style: &Style) -> String {
    let symbol = match unit.map_or("1", |unit| &unit.symbol) {
        "1" => return number.to_owned(),
        symbol => symbol,
    };
    let own;
    let symbol = match &style.currency {
        Some(currency) if symbol.contains('¤') => {
            own = symbol.replace('¤', currency);
            &own
        }
        _ => symbol,
    };
    // The signs of plane angle are the only ones that follow without a space (SI brochure 5.4.3, from memory).
    let space = if matches!(symbol, "°" | "′" | "″") { "" } else { " " };
    format!("{number}{space}{symbol}")
}

/// Computed ends with the decimals of the one that has fewer, as long as the other keeps two digits: 0.30..1.60.
fn alike((low, high): (f64, f64), low_text: String, high_text: String) -> (String, String) {
    let decimals = |text: &str| text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    if low_text.contains('e') || high_text.contains('e') {
        return (low_text, high_text);
    }
    let place = -(decimals(&low_text).min(decimals(&high_text)) as i32);
    let short = |value| leading(value).is_none_or(|(first, _)| first <= place);
    if short(low) || short(high) {
        return (low_text, high_text);
    }
    (at_place(low, place), at_place(high, place))
}

/// Converted ends without the digit added for rounding inward, where they lose less than a hundredth of the range with it:
/// 95..113, not 95.0..113.0, and 31069..55923, not 31068.6..55923.4.
fn without_idle((low, high): (f64, f64), low_text: String, high_text: String) -> (String, String) {
    if !low_text.contains('.') || !high_text.contains('.') {
        return (low_text, high_text);
    }
    let (low_short, high_short) = (at_place_toward(low, 0, Toward::Up), at_place_toward(high, 0, Toward::Down));
    let width = |low: &str, high: &str| Some(high.parse::<f64>().ok()? - low.parse::<f64>().ok()?);
    match width(&low_short, &high_short) {
        Some(left) if left > 0.99 * (high - low) => (low_short, high_short),
        _ => (low_text, high_text),
    }
}

/// Power of ten of the last digit that a converted reading keeps.
fn reading_place(written: &Written, converted: f64) -> i32 {
    let place = -i32::from(written.decimals);
    let (Some((old, first)), Some((new, converted_first))) = (leading(written.value), leading(converted)) else {
        return place;
    };
    let digits = (old - place + 1).max(1) + i32::from(converted_first < first);
    // Digits before the point stay: 7 ft are 84 in, not 80.
    (new - digits + 1).min(0)
}

fn to_resolution(value: f64, step: &Quantity, unit: &Unit, toward: Toward) -> String {
    let in_unit = step.si / unit.factor;
    match &step.written {
        Some(written) if is_written_in(written, unit) => {
            let steps: f64 = at_place_toward(value / written.value, 0, toward).parse().unwrap_or(value / written.value);
            at_place(steps * written.value, -i32::from(written.decimals))
        }
        // In another unit no step is exact: the decimal nearest to it in size.
        _ => at_place_toward(value, in_unit.log10().round() as i32, toward),
    }
}

fn computed(quantity: &Quantity, value: f64, unit: Option<&Unit>, digits: u8) -> String {
    if let Some(decimals) = unit.and_then(|unit| unit.decimals) {
        return at_place(value, -i32::from(decimals));
    }
    let plain = quantity.dimension.is_none() && unit.is_none_or(|unit| &*unit.symbol == "1");
    let text = significant(value, digits);
    if plain { trim_zeros(&text).to_owned() } else { text }
}
