//! A workshop's own settings: units shown, people, instruments, what it may see and do.

use std::sync::Arc;

use indexmap::IndexMap;
use jiff::civil::Date;
use serde::Deserialize;

use crate::diagnostic::{Code, Diagnostic, Problems, nearest};
use crate::quantity::{Purpose, Quantity, Style, System, Units};
use crate::source::{At, Source};
use crate::value::Value;
use crate::yaml;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawShop {
    shop: At<String>,
    #[serde(default)]
    title: Option<At<String>>,
    #[serde(default)]
    invented: bool,
    #[serde(default)]
    units: IndexMap<At<String>, yaml::Node>,
    #[serde(default)]
    currency: Option<At<String>>,
    #[serde(default)]
    people: IndexMap<String, RawPerson>,
    #[serde(default)]
    instruments: IndexMap<String, RawInstrument>,
    #[serde(default)]
    plugins: Vec<At<String>>,
    #[serde(default)]
    overlays: Vec<At<String>>,
    #[serde(default)]
    rates: IndexMap<String, At<String>>,
    #[serde(default)]
    facts: IndexMap<String, At<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPerson {
    name: At<String>,
    #[serde(default)]
    roles: Vec<At<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawInstrument {
    kind: At<String>,
    #[serde(default)]
    title: Option<At<String>>,
    #[serde(default)]
    range: Option<At<String>>,
    #[serde(default)]
    accuracy: Option<At<String>>,
    #[serde(default)]
    resolution: Option<At<String>>,
    #[serde(default)]
    unit: Option<At<String>>,
    #[serde(default)]
    calibrated: Option<At<String>>,
    #[serde(default)]
    due: Option<At<String>>,
}

/// A checked shop file. A job without one has the default: metric units, nobody and nothing known.
#[derive(Clone, Debug, Default)]
pub struct Shop {
    pub id: String,
    pub title: String,
    pub invented: bool,
    pub style: Style,
    pub people: IndexMap<String, Person>,
    pub instruments: IndexMap<String, Instrument>,
    /// Folders of plugins, relative to the shop file, later ones over earlier ones.
    pub plugins: Vec<At<String>>,
    pub overlays: Vec<At<String>>,
    pub rates: IndexMap<String, Value>,
    pub facts: IndexMap<String, Value>,
}

#[derive(Clone, Debug)]
pub struct Person {
    pub name: String,
    pub roles: Vec<String>,
}

#[derive(Clone, Debug)]
pub struct Instrument {
    pub kind: String,
    pub title: Option<String>,
    pub range: Option<(Quantity, Quantity)>,
    /// As written: a share of the reading or of the end of the scale, or a quantity.
    pub accuracy: Option<String>,
    pub resolution: Option<Quantity>,
    /// The unit of its scale: that of a bare number read from it.
    pub unit: Option<String>,
    pub calibrated: Option<Date>,
    /// When its calibration runs out.
    pub due: Option<Date>,
}

impl Shop {
    /// Reads a shop file; `None` when it can't be used at all.
    pub fn read(source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Shop> {
        let raw: RawShop = yaml::read(source, problems)?;
        let mut style = Style { purpose: Purpose::Reading, ..Style::default() };
        for (key, node) in &raw.units {
            read_units(key, node, units, &mut style, problems);
        }
        style.currency = raw.currency.map(|currency| currency.value.into());
        let people = raw
            .people
            .into_iter()
            .map(|(id, person)| {
                let roles = person.roles.into_iter().map(|role| role.value).collect();
                (id, Person { name: person.name.value, roles })
            })
            .collect();
        let instruments = raw.instruments.into_iter().map(|(id, raw)| (id, instrument(raw, units, problems))).collect();
        let read_all = |texts: IndexMap<String, At<String>>, problems: &mut Problems| {
            texts.into_iter().map(|(name, text)| (name, fact(&text, units, problems))).collect()
        };
        Some(Shop {
            title: raw.title.map_or_else(|| raw.shop.value.clone(), |title| title.value),
            id: raw.shop.value,
            invented: raw.invented,
            style,
            people,
            instruments,
            plugins: raw.plugins,
            overlays: raw.overlays,
            rates: read_all(raw.rates, problems),
            facts: read_all(raw.facts, problems),
        })
    }

    pub fn has_role(&self, person: &str, role: &str) -> bool {
        self.people.get(person).is_some_and(|person| person.roles.iter().any(|has| has == role))
    }

    /// Ids of the instruments of a kind.
    pub fn instruments_of(&self, kind: &str) -> Vec<&str> {
        self.instruments.iter().filter(|(_, it)| it.kind == kind).map(|(id, _)| id.as_str()).collect()
    }

    pub fn unit_of(&self, instrument: &str) -> Option<String> {
        self.instruments.get(instrument)?.unit.clone()
    }
}

impl Instrument {
    /// Whether its scale reaches a value. True where either is not known or they are no match.
    pub fn reaches(&self, value: &Value) -> bool {
        let (Some((low, high)), Value::Quantity(value)) = (&self.range, value) else { return true };
        low.dimension != value.dimension || (value.si >= low.si && value.si <= high.si)
    }
}

/// `system: metric | inch | both`, or the units of one quantity.
fn read_units(key: &At<String>, node: &yaml::Node, units: &Units, style: &mut Style, problems: &mut Problems) {
    if key.as_str() == "system" {
        style.system = match node.as_text() {
            Some("metric") => System::Metric,
            Some("inch") => System::Inch,
            Some("both") => System::Both,
            _ => {
                problems.push(
                    Diagnostic::error(Code::W001, &node.head(), "not a system of units")
                        .expected("metric, inch or both"),
                );
                return;
            }
        };
        return;
    }
    if units.family(key).is_none() {
        let near = nearest(key, units.families().map(|family| &*family.name)).map(str::to_owned);
        let mut diagnostic = Diagnostic::error(Code::W001, &key.place, format!("there is no quantity `{}`", key.value));
        if let Some(near) = near {
            diagnostic = diagnostic.help(format!("did you mean `{near}`?"));
        }
        problems.push(diagnostic);
        return;
    }
    let wanted: Vec<&yaml::Node> = match node.as_list() {
        Some(list) => list.iter().collect(),
        None => vec![node],
    };
    let mut symbols = Vec::new();
    for unit in wanted {
        let text = unit.as_text().unwrap_or_default();
        match units.read(&format!("1 {text}"), Some(key), None) {
            Ok(Value::Quantity(quantity)) => {
                symbols.extend(quantity.written.map(|written| written.unit.to_string()));
            }
            Ok(_) => symbols.push(text.to_owned()),
            Err(fault) => {
                let mut diagnostic = Diagnostic::error(fault.code, &unit.head(), fault.message);
                diagnostic.help = fault.help;
                problems.push(diagnostic);
            }
        }
    }
    style.overrides.insert(key.value.clone(), symbols);
}

fn instrument(raw: RawInstrument, units: &Units, problems: &mut Problems) -> Instrument {
    let range = raw.range.and_then(|text| match units.read_range(&text, None, None) {
        Ok(Value::Range(low, high)) => Some((low, high)),
        Ok(_) => None,
        Err(fault) => {
            problems.push(fault.at(&text.place));
            None
        }
    });
    let resolution = raw.resolution.and_then(|text| match units.read(&text, None, None) {
        Ok(Value::Quantity(step)) => Some(step),
        Ok(_) => None,
        Err(fault) => {
            problems.push(fault.at(&text.place));
            None
        }
    });
    if let Some(unit) = &raw.unit
        && let Err(fault) = units.read(&format!("1 {}", unit.value), None, None)
    {
        problems.push(Diagnostic::error(fault.code, &unit.place, fault.message));
    }
    Instrument {
        kind: raw.kind.value,
        title: raw.title.map(|title| title.value),
        range,
        accuracy: raw.accuracy.map(|text| text.value),
        resolution,
        unit: raw.unit.map(|unit| unit.value),
        calibrated: raw.calibrated.and_then(|text| date(&text, problems)),
        due: raw.due.and_then(|text| date(&text, problems)),
    }
}

fn date(text: &At<String>, problems: &mut Problems) -> Option<Date> {
    match text.parse() {
        Ok(date) => Some(date),
        Err(_) => {
            problems.push(
                Diagnostic::error(Code::W001, &text.place, format!("`{}` is not a date", text.value))
                    .expected("year-month-day, such as 2026-11-25"),
            );
            None
        }
    }
}

/// A number with a unit is a quantity, a bare one a number; everything else is a text.
fn fact(text: &At<String>, units: &Units, problems: &mut Problems) -> Value {
    let trimmed = text.trim();
    if !trimmed.starts_with(|c: char| c.is_ascii_digit() || c == '-') || trimmed.parse::<Date>().is_ok() {
        return Value::Text(text.value.clone());
    }
    match units.read(trimmed, None, None) {
        Ok(value) => value,
        Err(fault) => {
            problems.push(fault.at(&text.place));
            Value::Unknown
        }
    }
}
