//! All unit families that are known, built from the files of plugins.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

use indexmap::IndexMap;

use super::factor;
use super::family::{Unit, UnitFamily};
use super::file::{Factor, RawFamily, RawUnit, UnitsFile};
use super::symbol::{is_script_name, normal};
use super::{Dimension, Name, lookup};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_yaml::At;

static STANDARD: LazyLock<(Arc<Units>, Problems)> = LazyLock::new(|| {
    let mut problems = Problems::new();
    let mut files = Vec::new();
    for file in standpipe_embedded::PLUGINS.get_dir("units/units").into_iter().flat_map(|it| it.files()) {
        let Some(text) = file.contents_utf8() else { continue };
        let source = Source::new(file.path().display().to_string(), text);
        match UnitsFile::read(&source) {
            Ok(file) => files.push((file, Place::whole(&source))),
            Err(found) => problems.extend(found),
        }
    }
    let mut units = Units::default();
    problems.extend(units.extend(&files));
    (Arc::new(units), problems)
});

/// The unit families of the plugins in use.
#[derive(Clone, Debug, Default)]
pub struct Units {
    pub(super) families: IndexMap<Name, UnitFamily>,
    pub(super) index: HashMap<String, Vec<lookup::Entry>>,
    /// Script name to family and unit.
    pub(super) scripts: IndexMap<Name, (usize, usize)>,
    /// Which families name each ambiguous spelling.
    pub(super) ambiguous: HashMap<String, Vec<usize>>,
}

impl Units {
    /// The families of the embedded plugin.
    pub fn standard() -> Arc<Units> {
        STANDARD.0.clone()
    }

    /// What is wrong with the embedded plugin: nothing, as a test makes sure.
    pub fn standard_problems() -> &'static [Diagnostic] {
        &STANDARD.1
    }

    /// All families.
    pub fn families(&self) -> impl Iterator<Item = &UnitFamily> {
        self.families.values()
    }

    /// A family by name: `volume`.
    pub fn family(&self, quantity: &str) -> Option<&UnitFamily> {
        self.families.get(quantity)
    }

    /// Every unit that scripts can name, with its family.
    pub fn script_units(&self) -> impl Iterator<Item = (&str, &UnitFamily, &Unit)> {
        self.scripts.iter().map(|(name, (family, unit))| {
            let family = &self.families[*family];
            (&**name, family, &family.units[*unit])
        })
    }

    /// The unit that scripts call by this name, with its family.
    pub fn script_unit(&self, name: &str) -> Option<(&UnitFamily, &Unit)> {
        let (family, unit) = self.scripts.get(name)?;
        let family = &self.families[*family];
        Some((family, &family.units[*unit]))
    }

    /// Adds the files of one plugin. What is faulty is reported and left out, the rest is usable.
    #[must_use = "the faulty parts were left out"]
    pub fn extend(&mut self, files: &[(UnitsFile, Place)]) -> Problems {
        let mut problems = Problems::new();
        for (file, place) in files {
            for (name, raw) in &file.quantities {
                let place = if name.place.range().is_empty() { place } else { &name.place };
                let mut reporter = Reporter { place: place.clone(), quantity: name, problems: &mut problems };
                self.extend_family(name, raw, file.replaces, &mut reporter);
            }
        }
        for (file, _) in files {
            for (name, raw) in &file.quantities {
                for other in raw.distinct_from.iter().chain(&raw.difference) {
                    let reference = Reporter { place: other.place.clone(), quantity: name, problems: &mut problems };
                    self.check_reference(name, other, reference);
                }
            }
        }
        self.rebuild(files, &mut problems);
        problems
    }

    fn extend_family(&mut self, name: &str, raw: &RawFamily, replaces: bool, reporter: &mut Reporter<'_>) {
        let dimension = match Dimension::parse(&raw.dimension) {
            Ok(dimension) => dimension,
            Err(message) => {
                return reporter
                    .at(&raw.dimension.place)
                    .fault(format!("dimension `{}`: {message}", raw.dimension.value), None);
            }
        };
        let mut family = match self.families.get(name) {
            Some(known) if known.dimension != dimension || (raw.point && !known.point) => {
                return reporter.at(&raw.dimension.place).fault(
                    format!("the dimension is {dimension}, but this quantity is known with {}", known.dimension),
                    Some("give the new quantity a name of its own"),
                );
            }
            Some(known) => known.clone(),
            None => UnitFamily {
                name: name.into(),
                dimension,
                point: raw.point,
                difference: raw.difference.as_ref().map(|other| Name::from(other.as_str())),
                plain: raw.plain,
                whole: raw.whole,
                lowest: raw.lowest,
                distinct_from: Vec::new(),
                metric: "".into(),
                inch: "".into(),
                units: IndexMap::new(),
                ambiguous: IndexMap::new(),
            },
        };
        if family.point && family.difference.is_none() {
            reporter.fault("a quantity of points names no `difference`", Some("add `difference: <quantity>`"));
        }
        family.distinct_from.extend(raw.distinct_from.iter().map(|other| Name::from(other.as_str())));
        for (symbol, unit) in &raw.units {
            if family.units.contains_key(symbol.as_str()) && !replaces {
                reporter.at(&symbol.place).twice(symbol);
            } else if let Some(other) = self.taken(symbol, dimension) {
                reporter.at(&symbol.place).fault(
                    format!("`{}` is a unit of {} already", symbol.value, other.title()),
                    Some("give it a symbol of its own: a symbol stands for one thing only"),
                );
            } else if let Some(unit) = checked_unit(symbol, unit, family.point, &mut reporter.at(&symbol.place)) {
                family.units.insert(unit.symbol, unit);
            }
        }
        self.set_shown(&mut family, raw, replaces, reporter);
        for (written, choices) in &raw.ambiguous {
            for choice in choices.iter().filter(|choice| !family.units.contains_key(choice.as_str())) {
                reporter.at(&choice.place).no_such_unit(&format!("ambiguous `{written}`"), choice, &family);
            }
            family.ambiguous.insert(written.clone(), choices.iter().map(|c| Name::from(c.as_str())).collect());
        }
        if !family.units.is_empty() {
            self.families.insert(family.name, family);
        }
    }

    fn set_shown(&self, family: &mut UnitFamily, raw: &RawFamily, replaces: bool, reporter: &mut Reporter<'_>) {
        let first = family.metric.is_empty();
        match &raw.shown {
            Some(shown) if first || replaces => {
                for (system, symbol) in [("metric", &shown.metric), ("inch", &shown.inch)] {
                    // One that was refused has been told.
                    if !family.units.contains_key(symbol.as_str()) && !raw.units.contains_key(symbol.as_str()) {
                        reporter.at(&symbol.place).no_such_unit(&format!("shown, {system}"), symbol, family);
                    }
                }
                family.metric = shown.metric.as_str().into();
                family.inch = shown.inch.as_str().into();
            }
            Some(_) => reporter.twice("shown"),
            None if first => reporter.fault("`shown` is missing", Some("add `shown: { metric: ..., inch: ... }`")),
            None => {}
        }
        // A faulty `shown` must not leave a family that can't be shown.
        let fallback = family.units.keys().next().cloned();
        for symbol in [&mut family.metric, &mut family.inch] {
            if let (false, Some(fallback)) = (family.units.contains_key(&**symbol), &fallback) {
                *symbol = *fallback;
            }
        }
    }

    /// The quantity of something else that has a unit of this very symbol. A count of ones is no symbol.
    fn taken(&self, symbol: &str, dimension: Dimension) -> Option<&UnitFamily> {
        let other = |family: &&UnitFamily| family.dimension != dimension && family.units.contains_key(symbol);
        self.families.values().find(other).filter(|_| symbol != "1")
    }

    fn check_reference(&self, name: &str, other: &str, mut reporter: Reporter<'_>) {
        if !self.families.contains_key(other) {
            let known = nearest(other, self.families.keys().map(|family| &**family));
            let help = known.map(|known| format!("did you mean `{known}`?"));
            reporter.fault(format!("there is no quantity `{other}`"), help.as_deref());
        } else if other == name {
            reporter.fault("it can't stand for itself", None);
        }
    }

    /// Builds what is looked up by text; spellings that would mean two units of one family are reported.
    fn rebuild(&mut self, files: &[(UnitsFile, Place)], problems: &mut Problems) {
        let place_of = |family: &UnitFamily| {
            files.iter().rev().find(|(file, _)| file.quantities.contains_key(&*family.name)).map(|(_, place)| place)
        };
        (self.index, self.scripts, self.ambiguous) = Default::default();
        for (at, family) in self.families.values().enumerate() {
            for (number, unit) in family.units.values().enumerate() {
                let own = [&*unit.symbol].into_iter().chain(unit.script.as_deref());
                let spellings = own.map(|s| (s, true)).chain(unit.also.iter().map(|s| (s.as_str(), false)));
                for (spelling, own) in spellings {
                    let entries = self.index.entry(normal(spelling)).or_default();
                    match entries.iter_mut().find(|entry| entry.family == at) {
                        Some(entry) if entry.unit == number => entry.own |= own,
                        Some(entry) => {
                            let other = &family.units[entry.unit].symbol;
                            let message = format!("`{spelling}` would mean both `{other}` and `{}`", unit.symbol);
                            if let Some(place) = place_of(family) {
                                Reporter { place: place.clone(), quantity: &family.name, problems }
                                    .fault(message, None);
                            }
                        }
                        None => entries.push(lookup::Entry { family: at, unit: number, own }),
                    }
                }
                let Some(script) = &unit.script else { continue };
                match self.scripts.get(script) {
                    None => {
                        self.scripts.insert(*script, (at, number));
                    }
                    Some((other, _)) => {
                        let message = format!("`{}` already names a unit of `{}`", script, self.families[*other].name);
                        if let Some(place) = place_of(family) {
                            Reporter { place: place.clone(), quantity: &family.name, problems }.fault(message, None);
                        }
                    }
                }
            }
            for written in family.ambiguous.keys() {
                self.ambiguous.entry(normal(written)).or_default().push(at);
            }
        }
    }
}

fn checked_unit(symbol: &str, raw: &RawUnit, point: bool, reporter: &mut Reporter<'_>) -> Option<Unit> {
    let mut number = |key: &str, text: &At<Factor>| match factor::evaluate(&text.value.0) {
        Ok(value) => Some(value),
        Err(message) => {
            reporter
                .at(&text.place)
                .fault(format!("{symbol}: {key}: {message}"), Some("write a number or an expression of numbers"));
            None
        }
    };
    let factor = number("factor", &raw.factor)?;
    let shift = match &raw.shift {
        Some(shift) => number("shift", shift)?,
        None => 0.0,
    };
    if factor <= 0.0 {
        reporter.fault(format!("{symbol}: a factor must be above 0"), None);
        return None;
    }
    if shift != 0.0 && !point {
        reporter.fault(format!("{symbol}: only units of a quantity with `point: true` can have a `shift`"), None);
        return None;
    }
    if let Some(script) = raw.script.as_ref().filter(|script| !is_script_name(script)) {
        let help = "a script name starts with a letter, goes on with letters, digits and `_`, and is no word of the \
                    script language";
        reporter.fault(format!("{symbol}: `{script}` can't be used in scripts", script = script.value), Some(help));
        return None;
    }
    Some(Unit {
        symbol: symbol.into(),
        factor,
        shift,
        factor_text: raw.factor.value.0.clone(),
        also: raw.also.clone(),
        script: raw.script.as_ref().map(|script| Name::from(script.as_str())),
        decimals: raw.decimals,
        in_thousands: raw.in_thousands,
    })
}

struct Reporter<'a> {
    place: Place,
    quantity: &'a str,
    problems: &'a mut Problems,
}

impl Reporter<'_> {
    fn at(&mut self, place: &'_ Place) -> Reporter<'_> {
        // A shipped file is read without places.
        let place = if place.range().is_empty() { self.place.clone() } else { place.clone() };
        Reporter { place, quantity: self.quantity, problems: self.problems }
    }

    fn fault(&mut self, message: impl AsRef<str>, help: Option<&str>) {
        self.report(Code::FaultyUnits, message.as_ref(), help);
    }

    fn report(&mut self, code: Code, message: &str, help: Option<&str>) {
        let mut diagnostic = Diagnostic::error(code, &self.place, format!("quantity `{}`: {message}", self.quantity));
        diagnostic.help = help.map(str::to_owned);
        self.problems.push(diagnostic);
    }

    fn twice(&mut self, what: &str) {
        let help = "write `override: true` at the top of the file if it is to replace the other";
        self.report(Code::DefinedTwice, &format!("`{what}` is defined already"), Some(help));
    }

    fn no_such_unit(&mut self, place: &str, symbol: &str, family: &UnitFamily) {
        let help = match nearest(symbol, family.symbols()) {
            Some(known) => format!("did you mean `{known}`?"),
            None => format!("its units are {}", family.symbols().collect::<Vec<_>>().join(", ")),
        };
        self.fault(format!("{place}: `{symbol}` is not one of its units"), Some(&help));
    }
}
