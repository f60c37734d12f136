//! `new model`: all that a procedure asks, with a likely answer to each, as a model that can be simulated at once.

use indexmap::{IndexMap, IndexSet};

use super::folder::fill;
use super::tree::{Tree, lines, put, quoted};
use standpipe_diagnostic::Problems;
use standpipe_drivers::JobKind;
use standpipe_form::Kind;
use standpipe_job::plan::Parsed;
use standpipe_library::{self as library, Document};
use standpipe_procedure::{Children, Field, FieldKind, Otherwise, Procedure, Step};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_simulate::model::wants_truth;

/// What every job needs somebody for.
const ROLES: [&str; 2] = ["doer", "checker"];

/// Names that its script has beside the one of the quantity that is drawn.
const TAKEN: [&str; 5] = ["fresh", "advance", "begun", "wrong", "harmed"];

/// The texts of a model, and what is to be replaced in it.
pub struct Made {
    pub model: String,
    pub script: String,
    pub shop: String,
    pub unknown: Vec<String>,
    /// Plugins that the procedures come from.
    pub needs: IndexSet<String>,
}

/// `name`: what its script is called; `own`: what templates say by name.
pub fn model(own: &[(&str, &str)], name: &str, document: &Document, of: &JobKind, parsed: &Parsed) -> Option<Made> {
    let (procedures, needs) = reached(document, parsed)?;
    let steps: Vec<&Step> = procedures.iter().flat_map(Procedure::all_steps).collect();
    let likely = Likely { of, units: &parsed.units };
    let asked = asked(&steps);
    let drawn = Drawn::of(&asked, &likely);
    let mut truth = String::new();
    let mut unknown = Vec::new();
    for (path, field) in &asked {
        let says = match path == &drawn.truth {
            true => format!("is: {}", drawn.name),
            false => format!("says: {}", quoted(&likely.answer(field))),
        };
        truth.push_str(&format!("  {path}: {{ {says} }}   # to be replaced: {}\n", wanted(field)));
        unknown.push(format!("truth.{path}"));
    }
    if truth.is_empty() {
        truth = "  {}   # it asks for nothing that could be true or false\n".to_owned();
    }
    let done = steps.iter().find(|step| step.kind.word() == "do").or(steps.first())?;
    let (job, roles, instruments) = (job(&likely), roles(&steps), instruments(&steps, &likely));
    let with = [
        own,
        &[
            ("name", name),
            ("form", &of.form.id),
            ("procedure", &document.id),
            ("job", &job),
            ("draw", &drawn.name),
            ("usual", &drawn.usual),
            ("beyond", &drawn.beyond),
            ("truth", truth.trim_end()),
            ("step", &done.id.value),
        ],
    ]
    .concat();
    Some(Made {
        model: fill(include_str!("templates/model.yaml"), &with),
        script: fill(include_str!("templates/model.rhai"), &with),
        shop: fill(
            include_str!("templates/model-shop.yaml"),
            &[own, &[("roles", &roles), ("instruments", &instruments)]].concat(),
        ),
        unknown,
        needs,
    })
}

/// The procedure with all that it comes to: what it includes where it does so, what can be called behind that; and the plugins
/// that they are of.
fn reached(root: &Document, parsed: &Parsed) -> Option<(Vec<Procedure>, IndexSet<String>)> {
    let mut all = IndexMap::new();
    let mut plugins = IndexSet::new();
    let mut open = vec![root.id.clone()];
    while let Some(id) = open.pop() {
        if all.contains_key(&id) {
            continue;
        }
        let Some(document) = parsed.library.document(library::Kind::Procedure, &id) else { continue };
        let Some(procedure) = parsed.procedure(document, &mut Problems::new()) else { continue };
        // What it includes stands behind what it can call, and is wanted first.
        let mut named: Vec<String> = procedure.names().map(|name| name.value.clone()).collect();
        let called = named.len() - included(&procedure);
        named[called..].reverse();
        open.extend(named);
        plugins.insert(document.plugin.clone());
        all.insert(id, procedure);
    }
    let all: Vec<Procedure> = all.into_values().collect();
    (!all.is_empty()).then_some((all, plugins))
}

fn included(procedure: &Procedure) -> usize {
    let steps = procedure.all_steps();
    steps.iter().filter(|step| matches!(step.kind.children(), Children::Procedure(_))).count()
}

/// Every value that is asked for, by its name; where a later step takes other answers under the same name, by step and name.
fn asked<'a>(steps: &[&'a Step]) -> IndexMap<String, &'a Field> {
    let mut all: IndexMap<String, &Field> = IndexMap::new();
    for step in steps {
        for field in step.kind.fields().iter().filter(|field| wants_truth(field)) {
            let name = &field.name.value;
            match all.get(name) {
                None => {
                    all.insert(name.clone(), field);
                }
                Some(known) if takes_alike(known, field) => {}
                Some(_) => {
                    all.insert(format!("{}.{name}", step.id.value), field);
                }
            }
        }
    }
    all
}

/// The question, or the options.
fn wanted(field: &Field) -> String {
    match (&field.ask, &field.kind) {
        (_, FieldKind::Choice(options)) => {
            options.iter().map(|(option, _)| option.as_str()).collect::<Vec<_>>().join(" | ")
        }
        (Some(ask), _) => ask.replace('\n', " "),
        _ => field.name.value.replace('_', " "),
    }
}

fn takes_alike(one: &Field, other: &Field) -> bool {
    let (least, most) = (one.at_least == other.at_least, one.at_most == other.at_most);
    match (&one.kind, &other.kind) {
        (FieldKind::Choice(one), FieldKind::Choice(other)) => {
            one.first().is_some_and(|(first, _)| other.iter().any(|(option, _)| option == first))
        }
        (FieldKind::Quantity(one), FieldKind::Quantity(other)) => one == other && least && most,
        (FieldKind::Count, FieldKind::Count) => least && most,
        (FieldKind::Sign(one), FieldKind::Sign(other)) => one == other,
        _ => false,
    }
}

/// What could well be true of what is asked.
struct Likely<'a> {
    of: &'a JobKind,
    units: &'a Units,
}

impl Likely<'_> {
    fn answer(&self, field: &Field) -> String {
        match &field.kind {
            FieldKind::Choice(options) => options.first().map(|(option, _)| option.clone()).unwrap_or_default(),
            FieldKind::Quantity(quantity) => self.span(field, quantity).middle(),
            FieldKind::Sign(sign) => self.sign(sign),
            _ => {
                let number = |end: &Option<Value>| match end {
                    Some(Value::Number(number)) => Some(*number),
                    _ => None,
                };
                let least = number(&field.at_least).unwrap_or(1.0);
                number(&field.at_most).map_or(least, |most| least.min(most)).to_string()
            }
        }
    }

    /// What the variant, or else the first, is known by, or the first option of the form.
    fn sign(&self, sign: &str) -> String {
        let named = self.of.variant.as_ref();
        let mut variants = self.of.family.variants.values().filter(|one| named.is_none_or(|named| *named == one.id));
        let variant = variants.find_map(|variant| variant.signs.get(sign)?.0.first());
        match (variant, self.of.form.signs.get(sign)) {
            (Some(Value::Text(words)), _) => words.clone(),
            (Some(Value::Number(number)), _) => number.to_string(),
            (_, Some(field)) => field.options().first().cloned().unwrap_or_else(|| "1".to_owned()),
            _ => "1".to_owned(),
        }
    }

    /// From the limits of the field, and from what the form calls plausible of the same name, or else of the same quantity.
    fn span(&self, field: &Field, quantity: &str) -> Span {
        let family = self.units.family(quantity);
        let unit = field.unit.as_ref().map(|unit| unit.value.clone());
        let unit = unit.or_else(|| family.map(|family| family.metric.to_string())).unwrap_or_default();
        let number = |quantity: &Quantity| self.units.convert(quantity, &unit).ok();
        let end = |end: &Option<Value>| match end {
            Some(Value::Quantity(quantity)) => number(quantity),
            Some(Value::Number(number)) => Some(*number),
            _ => None,
        };
        let (least, most) = (end(&field.at_least), end(&field.at_most));
        let records = self.of.form.records.values().flatten().map(|(_, field)| field);
        let all = self.of.form.job.values().chain(self.of.form.fields.values()).chain(records);
        let mut plausible: Vec<(bool, f64, f64)> = all
            .filter(|other| matches!(&other.kind, Kind::Quantity(of) | Kind::Range(of) if &**of == quantity))
            .filter_map(|other| {
                let (low, high) = other.plausible.as_ref()?;
                let low = least.map_or(number(low)?, |least| least.max(number(low).unwrap_or(least)));
                let high = most.map_or(number(high)?, |most| most.min(number(high).unwrap_or(most)));
                let named = other.path.rsplit('.').next() == Some(field.name.as_str());
                (low < high).then_some((!named, low, high))
            })
            .collect();
        plausible.sort_by_key(|(other, ..)| *other);
        let (low, high) = match (least, most, plausible.first()) {
            (Some(low), Some(high), _) => (low, high),
            (_, _, Some((_, low, high))) => (*low, *high),
            (Some(low), None, None) => (low, low + low.abs().max(1.0)),
            (None, Some(high), None) => (high - high.abs().max(1.0), high),
            (None, None, None) => (1.0, 2.0),
        };
        Span { low, high, unit }
    }
}

/// From where to where something may lie, in a unit.
struct Span {
    low: f64,
    high: f64,
    unit: String,
}

impl Span {
    /// With as few digits as it takes.
    fn middle(&self) -> String {
        let middle = 0.5 * (self.low + self.high);
        let written = (0..=6).map(|decimals| format!("{middle:.decimals$}"));
        let fits = |text: &String| text.parse().is_ok_and(|value: f64| value >= self.low && value <= self.high);
        let number = { written }.find(fits).unwrap_or_else(|| middle.to_string());
        format!("{number} {}", self.unit).trim_end().to_owned()
    }

    /// A part of it, as a range is written.
    fn part(&self, from: f64, to: f64) -> String {
        let width = self.high - self.low;
        let decimals = (1.0 - width.log10().floor()).clamp(0.0, 6.0) as usize;
        let at = |share: f64| format!("{:.decimals$}", self.low + share * width);
        format!("{}..{} {}", at(from), at(to), self.unit).trim_end().to_owned()
    }
}

/// The quantity that is drawn as an example: how it is spread, and how where something is wrong.
struct Drawn {
    /// What it is called in the script.
    name: String,
    /// Its key under `truth:`.
    truth: String,
    usual: String,
    beyond: String,
}

impl Drawn {
    /// What is read from an instrument, before what is not; of a procedure that asks for none, something that nobody sees.
    fn of(asked: &IndexMap<String, &Field>, likely: &Likely<'_>) -> Self {
        let quantities = asked.iter().filter_map(|(path, field)| match &field.kind {
            FieldKind::Quantity(quantity) => Some((path, field, likely.span(field, quantity))),
            _ => None,
        });
        let free = |field: &Field| !TAKEN.contains(&field.name.as_str());
        let wide: Vec<_> = quantities.filter(|(_, field, span)| span.high > span.low && free(field)).collect();
        let (name, truth, span) = match wide.iter().find(|(_, field, _)| field.instrument.is_some()).or(wide.first()) {
            Some((path, field, span)) => (field.name.value.clone(), (*path).clone(), span),
            None => ("unseen".to_owned(), String::new(), &Span { low: 0.0, high: 1.0, unit: String::new() }),
        };
        Self { name, truth, usual: span.part(0.25, 0.75), beyond: span.part(0.8, 0.95) }
    }
}

/// What the form has to know of each job, as far as it must be said.
fn job(likely: &Likely<'_>) -> String {
    let mut tree = IndexMap::new();
    for (path, field) in likely.of.form.job.iter().filter(|(_, field)| field.required) {
        let value = match &field.kind {
            Kind::OneOf(options) => options.first().cloned().unwrap_or_default(),
            Kind::Truth => "true".to_owned(),
            Kind::Count | Kind::Number => "1".to_owned(),
            Kind::Date => "2026-01-05".to_owned(),
            Kind::Quantity(quantity) => {
                let ends = field.plausible.as_ref().zip(likely.units.family(quantity)).and_then(|((low, high), of)| {
                    let number = |end| likely.units.convert(end, &of.metric).ok();
                    Some(Span { low: number(low)?, high: number(high)?, unit: of.metric.to_string() })
                });
                ends.map_or_else(|| "unknown".to_owned(), |span| span.middle())
            }
            Kind::Text | Kind::Person => "SIMULATED".to_owned(),
            _ => "unknown".to_owned(),
        };
        put(&mut tree, path, Tree::Value { comment: Vec::new(), value: quoted(&value) });
    }
    let mut text = String::new();
    lines(&tree, 1, &mut text);
    match text.is_empty() {
        true => "  {}".to_owned(),
        false => text.trim_end().to_owned(),
    }
}

/// All that a step wants somebody for.
fn roles(steps: &[&Step]) -> String {
    let mut roles: IndexSet<&str> = ROLES.into_iter().collect();
    for step in steps {
        roles.extend(step.kind.fields().iter().filter_map(|field| match &field.kind {
            FieldKind::Signature(role) => Some(role.as_str()),
            _ => None,
        }));
        if let Some(Otherwise::Ask(asked)) = step.gate.as_ref().map(|gate| &gate.otherwise) {
            roles.extend(asked.iter().map(String::as_str));
        }
    }
    roles.into_iter().collect::<Vec<_>>().join(", ")
}

/// One of each kind that is read from.
fn instruments(steps: &[&Step], likely: &Likely<'_>) -> String {
    let mut kinds: IndexMap<&str, String> = IndexMap::new();
    for field in steps.iter().flat_map(|step| step.kind.fields()) {
        if let (Some(kind), FieldKind::Quantity(quantity)) = (&field.instrument, &field.kind) {
            kinds.entry(kind.as_str()).or_insert_with(|| likely.span(field, quantity).unit);
        }
    }
    let line = |(kind, unit): (&str, String)| format!("  {kind}: {{ kind: {kind}, unit: {} }}", quoted(&unit));
    let all: Vec<String> = kinds.into_iter().map(line).collect();
    if all.is_empty() { "  {}".to_owned() } else { all.join("\n") }
}
