//! An instrument of the workshop: what its scale reaches, how finely and how truly it reads, and until when.

use indexmap::IndexMap;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units, close};
use standpipe_sheet::uncertainty::{Error, Spread};
use standpipe_yaml::At;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RawInstrument {
    /// What procedures call it by.
    ///
    /// Example: `kind: torque-wrench`
    #[schemars(with = "standpipe_yaml::told::Id")]
    kind: At<String>,
    /// What people call it.
    ///
    /// Example: `title: Small wrench`
    title: Option<At<String>>,
    /// What its scale reaches.
    ///
    /// Example: `range: 2..25 N·m`
    #[schemars(with = "Option<standpipe_yaml::told::SpanWithUnit>")]
    range: Option<At<String>>,
    /// How far it may be off: a share of the reading, or a quantity.
    ///
    /// Example: `accuracy: 4 %`
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    accuracy: Option<At<String>>,
    /// The step of its scale.
    ///
    /// Example: `resolution: 0.1 N·m`
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    resolution: Option<At<String>>,
    /// The unit of its scale: that of a bare number read from it.
    ///
    /// Example: `unit: N·m`
    unit: Option<At<String>>,
    /// When it was last compared.
    ///
    /// Example: `calibrated: 2026-05-04`
    #[schemars(with = "Option<standpipe_yaml::told::Day>")]
    calibrated: Option<At<String>>,
    /// When its calibration runs out.
    ///
    /// Example: `due: 2027-05-04`
    #[schemars(with = "Option<standpipe_yaml::told::Day>")]
    due: Option<At<String>>,
    /// How long without a row until what it streams is stale. Left out: 10 s, or three of its own intervals.
    ///
    /// Example: `stale_after: 20 s`
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    stale_after: Option<At<String>>,
    /// How long without any change until it is taken for frozen. Left out: 3 min.
    ///
    /// Example: `frozen_after: 5 min`
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    frozen_after: Option<At<String>>,
    /// How its logs are read, where they leave it open.
    ///
    /// Example: `log: { columns: { sump_temperature: Sump temp 1 }, decimal: comma }`
    log: Option<LogMapping>,
}

/// One instrument of a shop.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// What procedures call it by.
    pub kind: String,
    /// What people call it.
    pub title: Option<String>,
    /// What it can show.
    pub range: Option<(Quantity, Quantity)>,
    /// How far it may be off, where that is known.
    pub accuracy: Option<Accuracy>,
    /// A difference, where the scale is one of points.
    pub resolution: Option<Quantity>,
    /// The unit of its scale: that of a bare number read from it.
    pub unit: Option<String>,
    /// When it was last compared.
    pub calibrated: Option<Date>,
    /// When its calibration runs out.
    pub due: Option<Date>,
    /// Seconds without a row after which what it streams is stale.
    pub stale_after: Option<f64>,
    /// Seconds in which a reading does not change at all, after which it is taken for frozen.
    pub frozen_after: Option<f64>,
    /// How its logs are read.
    pub log: Option<LogMapping>,
}

/// What is not told by the logs of a reader, said once and for all.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LogMapping {
    /// Headings of the columns, by what they hold.
    ///
    /// Example: `columns: { sump_temperature: Sump temp 1 }`
    #[serde(default)]
    pub columns: IndexMap<At<String>, At<String>>,
    /// Units of columns that do not name one.
    ///
    /// Example: `units: { sump_temperature: degC }`
    #[serde(default)]
    pub units: IndexMap<At<String>, At<String>>,
    /// What cells stand for, by column.
    ///
    /// Example: `words: { selector: { P1: park } }`
    #[serde(default)]
    pub words: IndexMap<At<String>, IndexMap<At<String>, At<String>>>,
    /// Its decimal sign: `point` or `comma`.
    ///
    /// Example: `decimal: comma`
    pub decimal: Option<At<String>>,
    /// What separates cells.
    ///
    /// Example: `delimiter: semicolon`
    pub delimiter: Option<At<String>>,
    /// Its text encoding.
    ///
    /// Example: `encoding: latin1`
    pub encoding: Option<At<String>>,
    /// How it writes times.
    ///
    /// Example: `time: s`
    pub time: Option<At<String>>,
}

/// How far a reading may lie from the truth, either way.
#[derive(Clone, Debug, PartialEq)]
pub enum Accuracy {
    /// A share of what is read.
    OfReading(f64),
    /// So far on either side, whatever it shows.
    Fixed(Quantity),
}

impl Accuracy {
    /// As a person would write it: `4 %`, `0.05 L`.
    pub fn words(&self) -> String {
        match self {
            // Rounded: a share of 0.04 is four hundredths only up to the last bit.
            Accuracy::OfReading(share) => format!("{} %", (share * 1e8).round() / 1e6),
            Accuracy::Fixed(error) => match &error.written {
                Some(written) => format!("{} {}", written.value, written.unit),
                None => error.si.to_string(),
            },
        }
    }
}

impl Instrument {
    /// Whether its scale reaches a value. True where either is not known or they are no match.
    pub fn reaches(&self, value: &Value) -> bool {
        let (Some((low, high)), Value::Quantity(value)) = (&self.range, value) else { return true };
        let at_least = |a: f64, b: f64| a > b || close(a, b);
        low.dimension != value.dimension || (at_least(value.si, low.si) && at_least(high.si, value.si))
    }

    /// An end of its scale.
    pub fn end(&self, highest: bool) -> Option<&Quantity> {
        self.range.as_ref().map(|(low, high)| if highest { high } else { low })
    }

    /// How far a reading may lie from the truth, in base units; `None` if nobody knows, or a share of a point is asked for.
    pub fn error_of(&self, reading: &Quantity) -> Option<f64> {
        match self.accuracy.as_ref()? {
            Accuracy::OfReading(share) if !reading.point => Some((reading.si * share).abs()),
            Accuracy::OfReading(_) => None,
            Accuracy::Fixed(fixed) => (fixed.dimension == reading.dimension).then_some(fixed.si),
        }
    }

    /// How far a reading may lie from the truth: within its limit of error, and half a step of its scale; `None` if nobody
    /// knows.
    pub fn spread_of(&self, reading: &Quantity) -> Option<Spread> {
        let limit = self.error_of(reading)?;
        let step = self.resolution.as_ref().filter(|step| step.dimension == reading.dimension);
        let half = step.map(|step| Error::Rectangular(step.si / 2.0));
        Some(Spread([Error::Rectangular(limit)].into_iter().chain(half).collect()))
    }
}

impl RawInstrument {
    pub(super) fn check(self, units: &Units, problems: &mut Problems) -> Instrument {
        let mut check = Check { units, quantity: None, problems };
        let unit = self.unit.filter(|unit| check.take_unit(unit));
        let range = self.range.as_ref().and_then(|text| check.range(text));
        let resolution = self.resolution.as_ref().and_then(|text| check.difference(text));
        let accuracy = self.accuracy.as_ref().and_then(|text| check.accuracy(text));
        let calibrated = self.calibrated.as_ref().and_then(|text| check.date(text));
        let due = self.due.as_ref().and_then(|text| check.date(text));
        if let (Some(from), Some(until), Some(place)) = (calibrated, due, &self.due)
            && until < from
        {
            check.problems.push(
                Diagnostic::error(
                    Code::FaultyShop,
                    &place.place,
                    format!("the calibration of {from} ran out before it was made, on {until}"),
                )
                .help("correct one of the two dates"),
            );
        }
        let stale_after = self.stale_after.as_ref().and_then(|text| check.time(text));
        let frozen_after = self.frozen_after.as_ref().and_then(|text| check.time(text));
        Instrument {
            kind: self.kind.value,
            title: self.title.map(|title| title.value),
            range,
            accuracy,
            resolution,
            unit: unit.map(|unit| unit.value),
            calibrated,
            due,
            stale_after,
            frozen_after,
            log: self.log,
        }
    }
}

struct Check<'a> {
    units: &'a Units,
    /// What the instrument measures, once its unit or its range has said so.
    quantity: Option<String>,
    problems: &'a mut Problems,
}

impl Check<'_> {
    fn take_unit(&mut self, unit: &At<String>) -> bool {
        match self.units.read(&format!("1 {}", unit.value), None, None) {
            Ok(value) => {
                if let Value::Quantity(quantity) = value {
                    self.quantity = quantity.of.map(|of| of.to_string());
                }
                true
            }
            Err(mut fault) => {
                fault.range = 0..unit.value.len();
                self.problems.push(fault.at(&unit.place));
                false
            }
        }
    }

    fn range(&mut self, text: &At<String>) -> Option<(Quantity, Quantity)> {
        match self.units.read_range(text, self.quantity.as_deref(), None) {
            Ok(Value::Range(low, high)) => {
                if self.quantity.is_none() {
                    self.quantity = low.of.as_ref().map(|of| of.to_string());
                }
                Some((low, high))
            }
            Ok(_) => None,
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    /// `0.5 degC` of an instrument for temperatures is a difference, not a temperature.
    fn difference(&mut self, text: &At<String>) -> Option<Quantity> {
        let family = self.quantity.as_deref().and_then(|quantity| self.units.family(quantity));
        let asked = family.and_then(|family| family.difference.as_deref()).or(self.quantity.as_deref());
        match self.units.read(text, asked, None) {
            Ok(Value::Quantity(step)) if step.si > 0.0 => Some(step),
            Ok(_) => {
                self.problems.push(
                    Diagnostic::error(
                        Code::FaultyShop,
                        &text.place,
                        format!("`{}` is not a step of a scale", text.value),
                    )
                    .expected("a quantity above 0, in a unit of what the instrument measures")
                    .help("write number and unit"),
                );
                None
            }
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    fn accuracy(&mut self, text: &At<String>) -> Option<Accuracy> {
        let Some(number) = text.trim().strip_suffix('%') else {
            if text.trim().parse::<f64>().is_ok() {
                self.problems.push(
                    Diagnostic::error(Code::FaultyShop, &text.place, format!("`{}` has no unit", text.value))
                        .expected("a share of the reading, or a quantity")
                        .help(format!("write `{} %`, or a number and a unit of its scale", text.value)),
                );
                return None;
            }
            let before = self.problems.len();
            let fixed = self.difference(text).map(Accuracy::Fixed);
            for problem in &mut self.problems[before..] {
                problem.help.get_or_insert_with(|| "a share of the reading is written `4 %`".to_owned());
            }
            return fixed;
        };
        match number.trim().parse::<f64>() {
            Ok(percent) if percent > 0.0 && percent < 100.0 => Some(Accuracy::OfReading(percent / 100.0)),
            _ => {
                self.problems.push(
                    Diagnostic::error(Code::FaultyShop, &text.place, format!("`{}` is not an accuracy", text.value))
                        .expected("a share of the reading such as `4 %`, or a quantity")
                        .help("write number and unit"),
                );
                None
            }
        }
    }

    /// Seconds of a time that is more than nothing.
    fn time(&mut self, text: &At<String>) -> Option<f64> {
        match self.units.read(text, Some("time"), None) {
            Ok(Value::Quantity(time)) if time.si > 0.0 => Some(time.si),
            Ok(_) => {
                self.problems.push(
                    Diagnostic::error(Code::FaultyShop, &text.place, format!("`{}` is not a time to wait", text.value))
                        .expected("a time above 0")
                        .help("write it as in 10 s"),
                );
                None
            }
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    fn date(&mut self, text: &At<String>) -> Option<Date> {
        let date = text.parse().ok();
        if date.is_none() {
            let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
            let padded = match parts[..] {
                [year, month, day] if year.len() == 4 => format!("{year}-{month:0>2}-{day:0>2}"),
                [day, month, year] if year.len() == 4 => format!("{year}-{month:0>2}-{day:0>2}"),
                _ => "2026-11-25".to_owned(),
            };
            self.problems.push(
                Diagnostic::error(Code::FaultyShop, &text.place, format!("`{}` is not a date", text.value))
                    .expected("year-month-day")
                    .help(format!("write year, month and day: {padded}")),
            );
        }
        date
    }
}
