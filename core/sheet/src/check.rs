//! From a sheet as written to one that can be run.

use indexmap::IndexMap;

use super::raw::{RawInput, RawOutput, RawPart, RawShape, RawSheet};
use super::shape::Part;
use super::{Input, Output, Shape, Sheet};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Kind, Quantity, Units};
use standpipe_script::{WARNINGS, usable_name};
use standpipe_yaml::{self as yaml, At, Node};

pub(super) fn check(raw: RawSheet, plugin: &str, units: &Units, problems: &mut Problems) -> Option<Sheet> {
    let before = problems.len();
    let mut checker = Checker { units, problems };
    let mut inputs = IndexMap::new();
    for (name, raw) in raw.inputs {
        checker.name(&name);
        if let Some(input) = checker.input(&name, raw) {
            inputs.insert(name.value, input);
        }
    }
    let mut outputs = IndexMap::new();
    for (name, raw) in raw.outputs {
        checker.name(&name);
        if let Some(output) = checker.output(&name, raw) {
            outputs.insert(name.value, output);
        }
    }
    let sources = raw.sources.read(checker.problems);
    if sources.is_empty() && checker.problems.len() == before {
        checker.fault(
            &raw.sheet.place,
            "a sheet without a source",
            Some("say under `sources:` where the formula is from"),
        );
    }
    if outputs.is_empty() && checker.problems.len() == before {
        checker.fault(&raw.sheet.place, "a sheet without outputs", Some("name at least one under `outputs:`"));
    }
    if problems.len() > before {
        return None;
    }
    Some(Sheet {
        id: raw.sheet.value,
        plugin: plugin.to_owned(),
        title: raw.title.value,
        script: raw.script,
        source: sources.iter().map(|source| source.from.trim()).collect::<Vec<_>>().join("; "),
        formula: raw.formula.map(|text| text.value),
        holds: raw.holds.map(|text| text.value),
        cautions: raw.cautions.into_iter().map(|text| text.value).collect(),
        invented: raw.invented,
        inputs,
        outputs,
        place: raw.sheet.place,
    })
}

struct Checker<'a> {
    units: &'a Units,
    problems: &'a mut Problems,
}

impl Checker<'_> {
    fn fault(&mut self, place: &Place, message: impl Into<String>, help: Option<&str>) {
        let mut diagnostic = Diagnostic::error(Code::FaultySheet, place, message);
        diagnostic.help = help.map(str::to_owned);
        self.problems.push(diagnostic);
    }

    fn name(&mut self, name: &At<String>) {
        if !usable_name(name) || name.value == WARNINGS {
            self.problems.push(
                Diagnostic::error(
                    Code::ReservedName,
                    &name.place,
                    format!("`{}` can't be a name in scripts", name.value),
                )
                .expected("small letters, digits and `_`, and no word of the script language")
                .help("choose another name"),
            );
        }
    }

    /// What a value is, and whether it is a list of such.
    fn shape(&mut self, name: &At<String>, raw: RawShape) -> Option<(Shape, bool)> {
        let RawShape { is, one_of, fields } = raw;
        let kind = match (&is, &one_of) {
            (Some(is), None) => self.kind(is)?,
            (None, Some(choices)) if !choices.is_empty() => {
                Kind::OneOf(choices.iter().map(|choice| choice.value.clone()).collect())
            }
            _ => {
                let message = format!("`{}` must say what it is, once", name.value);
                self.problems.push(
                    Diagnostic::error(Code::FaultySheet, &name.place, message)
                        .expected("`is:` and a kind of value, or `one_of:` and the choices"),
                );
                return None;
            }
        };
        let (kind, list) = match kind {
            Kind::List(inner) => (*inner, true),
            kind => (kind, false),
        };
        let shape = match (kind, fields) {
            (Kind::Record(_), Some(fields)) => self.record(fields),
            (Kind::Record(_), None) => {
                self.fault(&name.place, "a record without fields", Some("name them under `fields:`"));
                return None;
            }
            (kind, None) => self.plain(&kind, is.as_ref())?,
            (_, Some(_)) => {
                self.fault(
                    &name.place,
                    format!("`{}` has fields but is not a record", name.value),
                    Some("write `is: record` or `is: list of record`"),
                );
                return None;
            }
        };
        Some((shape, list))
    }

    fn record(&mut self, fields: IndexMap<At<String>, Node>) -> Shape {
        let mut parts = IndexMap::new();
        for (key, node) in fields {
            self.name(&key);
            if let Some(part) = self.part(&key, &node) {
                parts.insert(key.value, part);
            }
        }
        Shape::Record(parts)
    }

    fn kind(&mut self, is: &At<String>) -> Option<Kind> {
        match Kind::parse(is, &["record"], self.units) {
            Ok(kind) => Some(kind),
            Err(unknown) => {
                self.problems.push(unknown.at(Code::FaultySheet, &is.place));
                None
            }
        }
    }

    /// A shape without parts. To a calculation a whole number and a plain one are quantities without a unit, a person and a
    /// table texts.
    fn plain(&mut self, kind: &Kind, is: Option<&At<String>>) -> Option<Shape> {
        Some(match kind {
            Kind::Text => Shape::Text(Vec::new()),
            Kind::OneOf(choices) => Shape::Text(choices.clone()),
            Kind::Truth => Shape::Truth,
            Kind::Date => Shape::Date,
            Kind::Count => Shape::Quantity("count".to_owned()),
            Kind::Number => Shape::Quantity("ratio".to_owned()),
            Kind::Quantity(of) => Shape::Quantity(of.to_string()),
            Kind::Range(of) => Shape::Range(of.to_string()),
            Kind::Person | Kind::Table | Kind::List(_) | Kind::Record(_) => {
                if let Some(is) = is {
                    self.fault(&is.place, format!("a calculation takes no `{}`", is.value), Some("write `is: text`"));
                }
                return None;
            }
        })
    }

    /// What it is, or a map that says more.
    fn part(&mut self, key: &At<String>, node: &Node) -> Option<Part> {
        let raw = match node.as_text() {
            Some(is) => RawPart { is: Some(At::new(is.to_owned(), node.place.clone())), one_of: None, optional: false },
            None => yaml::read_node(node, self.problems)?,
        };
        let (shape, list) = self.shape(key, RawShape { is: raw.is, one_of: raw.one_of, fields: None })?;
        if list || matches!(shape, Shape::Record(_)) {
            self.fault(
                &key.place,
                format!("`{}` is a list or a record within a record", key.value),
                Some("write it as an input or output of its own"),
            );
            return None;
        }
        Some(Part { shape, optional: raw.optional })
    }

    fn input(&mut self, name: &At<String>, raw: RawInput) -> Option<Input> {
        let (shape, list) = self.shape(name, RawShape { is: raw.is, one_of: raw.one_of, fields: raw.fields })?;
        let of = match &shape {
            Shape::Quantity(of) | Shape::Range(of) => Some(of.clone()),
            _ => None,
        };
        for limit in [&raw.at_least, &raw.at_most, &raw.valid].into_iter().flatten() {
            if of.is_none() {
                self.fault(&limit.place, "only quantities and ranges have limits", None);
                return None;
            }
        }
        let of = of.as_deref().unwrap_or_default();
        let at_least = raw.at_least.and_then(|node| self.limit(&node, of));
        let at_most = raw.at_most.and_then(|node| self.limit(&node, of));
        if let (Some(low), Some(high)) = (&at_least, &at_most)
            && low.value.si > high.value.si
        {
            self.fault(
                &low.place,
                "`at_least` lies above `at_most`: nothing is taken",
                Some("write the lower limit first"),
            );
        }
        let valid = raw.valid.as_ref().and_then(|node| self.valid(node, of));
        let refuses = match raw.outside.as_ref().map(|outside| (outside.as_str(), outside)) {
            None | Some(("warn", _)) => false,
            Some(("refuse", _)) => true,
            Some((other, outside)) => {
                self.fault(
                    &outside.place,
                    format!("`{other}` is not an answer here"),
                    Some("write `warn` or `refuse`"),
                );
                false
            }
        };
        if let (Some(outside), None) = (&raw.outside, &raw.valid) {
            self.fault(&outside.place, "`outside` needs a `valid` range to be outside of", None);
        }
        let default = raw.default.and_then(|node| self.default(&node, &shape, list));
        if default.is_some() && raw.optional {
            self.fault(&name.place, format!("`{}` is optional and has a default", name.value), Some("leave one out"));
        }
        Some(Input {
            shape,
            list,
            optional: raw.optional,
            default,
            help: raw.help.map(|help| help.value),
            at_least,
            at_most,
            valid,
            refuses,
            place: name.place.clone(),
        })
    }

    fn limit(&mut self, node: &Node, of: &str) -> Option<At<Quantity>> {
        match self.units.read(node.as_text().unwrap_or_default(), Some(of), None) {
            Ok(Value::Quantity(quantity)) => Some(At::new(quantity, node.place.clone())),
            Ok(Value::Number(number)) => Some(At::new(Quantity::number(number), node.place.clone())),
            Ok(_) => None,
            Err(fault) => {
                self.problems.push(fault.at(&node.place));
                None
            }
        }
    }

    fn valid(&mut self, node: &Node, of: &str) -> Option<At<(Quantity, Quantity)>> {
        match self.units.read_range(node.as_text().unwrap_or_default(), Some(of), None) {
            Ok(Value::Range(low, high)) => Some(At::new((low, high), node.place.clone())),
            Ok(_) => None,
            Err(fault) => {
                self.problems.push(fault.at(&node.place));
                None
            }
        }
    }

    fn default(&mut self, node: &Node, shape: &Shape, list: bool) -> Option<Value> {
        if list || matches!(shape, Shape::Record(_)) {
            self.fault(&node.place, "lists and records have no default", Some("make it `optional: true`"));
            return None;
        }
        let text = node.as_text().unwrap_or_default();
        match shape.read_text(text, None, self.units, &node.place) {
            Ok(value) => Some(value),
            Err(diagnostic) => {
                self.problems.push(*diagnostic);
                None
            }
        }
    }

    fn output(&mut self, name: &At<String>, raw: RawOutput) -> Option<Output> {
        let (shape, list) = self.shape(name, RawShape { is: raw.is, one_of: raw.one_of, fields: raw.fields })?;
        let of = match &shape {
            Shape::Quantity(of) | Shape::Range(of) => self.units.family(of),
            _ => None,
        };
        let unit = match (&raw.unit, of) {
            (None, None) => None,
            (None, Some(family)) if family.plain => Some("1".into()),
            (None, Some(family)) => {
                let message = format!("`{}` does not say in which unit tables carry it", name.value);
                self.problems.push(
                    Diagnostic::error(Code::FaultySheet, &name.place, message)
                        .help(format!("add e.g. `unit: {}`", family.metric)),
                );
                None
            }
            (Some(unit), None) => {
                self.fault(&unit.place, "only quantities and ranges have a unit", None);
                None
            }
            (Some(unit), Some(family)) => match self.units.read(&format!("1 {}", unit.value), Some(&family.name), None)
            {
                Ok(_) => Some(unit.value.as_str().into()),
                Err(_) => {
                    let symbols = family.symbols().collect::<Vec<_>>().join(", ");
                    let message = format!("`{}` is not a unit of {}", unit.value, family.title());
                    self.problems.push(Diagnostic::error(Code::UnknownUnit, &unit.place, message).expected(symbols));
                    None
                }
            },
        };
        Some(Output {
            shape,
            list,
            optional: raw.optional,
            unit,
            help: raw.help.map(|help| help.value),
            place: name.place.clone(),
        })
    }
}
