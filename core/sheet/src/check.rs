//! From a sheet as written to one that can be run.

use indexmap::IndexMap;

use super::raw::{RawInput, RawOutput, RawPart, RawShape, RawSheet};
use super::shape::Part;
use super::{Input, Output, Shape, Sheet};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_script::usable_name;
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
        source: raw.source.value,
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

/// What the function may give besides its outputs.
pub(super) const WARNINGS: &str = "warnings";

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

    fn shape(&mut self, name: &At<String>, raw: RawShape) -> Option<Shape> {
        let RawShape { quantity, range, text, date, truth, record } = raw;
        let mut shapes = Vec::new();
        if let Some(of) = quantity {
            shapes.push(self.family(&of).map(Shape::Quantity));
        }
        if let Some(of) = range {
            shapes.push(self.family(&of).map(Shape::Range));
        }
        if let Some(text) = text {
            shapes.push(self.text(&text));
        }
        if let Some(date) = date {
            shapes.push(self.only_true(&date).then_some(Shape::Date));
        }
        if let Some(truth) = truth {
            shapes.push(self.only_true(&truth).then_some(Shape::Truth));
        }
        if let Some(record) = record {
            let mut parts = IndexMap::new();
            for (key, node) in record {
                self.name(&key);
                if let Some(part) = self.part(&key, &node) {
                    parts.insert(key.value, part);
                }
            }
            shapes.push(Some(Shape::Record(parts)));
        }
        if shapes.len() != 1 {
            let message = format!("`{}` must say what it is, once", name.value);
            self.problems.push(
                Diagnostic::error(Code::FaultySheet, &name.place, message)
                    .expected("one of `quantity`, `range`, `text`, `date`, `truth`, `record`"),
            );
            return None;
        }
        shapes.pop().flatten()
    }

    /// The name of a quantity, or `text`, `date`, `truth`; or a map that says more.
    fn part(&mut self, key: &At<String>, node: &Node) -> Option<Part> {
        let shape = match node.as_text() {
            Some("text") => Shape::Text(Vec::new()),
            Some("date") => Shape::Date,
            Some("truth") => Shape::Truth,
            Some(of) => Shape::Quantity(self.family(&At::new(of.to_owned(), node.place.clone()))?),
            None => {
                let mut raw: RawPart = yaml::read_node(node, self.problems)?;
                let shape = self.shape(key, raw.take_shape())?;
                return Some(Part { shape, optional: raw.optional });
            }
        };
        Some(Part { shape, optional: false })
    }

    fn only_true(&mut self, flag: &At<bool>) -> bool {
        if !flag.value {
            self.fault(&flag.place, "only `true` makes sense here", Some("write `true`, or leave the key out"));
        }
        flag.value
    }

    fn family(&mut self, of: &At<String>) -> Option<String> {
        if self.units.family(of).is_some() {
            return Some(of.value.clone());
        }
        let near = nearest(of, self.units.families().map(|family| &*family.name));
        let help = near.map(|near| format!("did you mean `{near}`?"));
        self.fault(&of.place, format!("there is no quantity `{}`", of.value), help.as_deref());
        None
    }

    /// `any` (or `true`), or the choices.
    fn text(&mut self, node: &Node) -> Option<Shape> {
        match (node.as_text(), node.as_list()) {
            (Some("any" | "true"), _) => Some(Shape::Text(Vec::new())),
            (_, Some(choices)) if !choices.is_empty() && choices.iter().all(|one| one.as_text().is_some()) => {
                Some(Shape::Text(choices.iter().filter_map(|one| one.as_text().map(str::to_owned)).collect()))
            }
            _ => {
                self.fault(
                    &node.place,
                    format!("found {}", node.described()),
                    Some("write `any`, or a list of choices"),
                );
                None
            }
        }
    }

    fn input(&mut self, name: &At<String>, mut raw: RawInput) -> Option<Input> {
        let shape = self.shape(name, raw.take_shape())?;
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
        let valid = raw.valid.as_ref().and_then(|node| self.valid(node, of));
        let refuses = match raw.outside.as_ref().map(|outside| (outside.as_str(), outside)) {
            None | Some(("warn", _)) => false,
            Some(("refuse", _)) => true,
            Some((other, outside)) => {
                self.fault(&outside.place, format!("`{other}` is no answer"), Some("write `warn` or `refuse`"));
                false
            }
        };
        if let (Some(outside), None) = (&raw.outside, &raw.valid) {
            self.fault(&outside.place, "`outside` needs a `valid` range to be outside of", None);
        }
        let default = raw.default.and_then(|node| self.default(&node, &shape, raw.list));
        if default.is_some() && raw.optional {
            self.fault(&name.place, format!("`{}` is optional and has a default", name.value), Some("leave one out"));
        }
        Some(Input {
            shape,
            list: raw.list,
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

    fn output(&mut self, name: &At<String>, mut raw: RawOutput) -> Option<Output> {
        let shape = self.shape(name, raw.take_shape())?;
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
                    let message = format!("`{}` is no unit of {}", unit.value, family.title());
                    self.problems.push(Diagnostic::error(Code::UnknownUnit, &unit.place, message).expected(symbols));
                    None
                }
            },
        };
        Some(Output {
            shape,
            list: raw.list,
            optional: raw.optional,
            unit,
            help: raw.help.map(|help| help.value),
            place: name.place.clone(),
        })
    }
}
