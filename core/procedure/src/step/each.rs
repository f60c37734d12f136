//! `each`: the same thing for every item of a list, in an order that a sheet may give, in passes.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::hold::{held_field, required, weigh_held};
use super::read::RawRead;
use super::{Ask, Kind, Next, Progress, Weighed, With, Written};
use crate::check::Checker;
use crate::expr::Expr;
use crate::field::{Field, FieldKind};
use crate::template::Template;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::value::Value;
use standpipe_yaml::{At, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawEach {
    /// What it goes over: a list, a number, or a record with a `count`.
    ///
    /// Example: `of: spec.fasteners.pan`
    #[serde(default)]
    of: Option<Script>,
    /// The items themselves, in place of `of:`.
    ///
    /// Example: `items: [left, right]`
    #[serde(default)]
    items: Vec<At<String>>,
    /// Passes over all items; those of the record that `of:` names, if left out.
    ///
    /// Example: `passes: [hand, full]`
    #[serde(default)]
    passes: Vec<At<String>>,
    /// The sheet that says in which order: it takes `count` and `pattern`, and gives `order`.
    ///
    /// Example: `order_by: tightening-order`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    order_by: Option<At<String>>,
    /// What one item is called before its number.
    ///
    /// Example: `label: Bolt`
    #[serde(default)]
    label: Option<At<String>>,
    /// What to do at each, in words.
    ///
    /// Example: `do: Crosswise, by hand.`
    #[serde(default, rename = "do")]
    pub(super) act: Option<At<String>>,
    /// What is read at each.
    ///
    /// Example: `read: { dial: { is: torque, instrument: torque-wrench } }`
    #[serde(default)]
    read: Option<RawRead>,
    /// How long each is held.
    ///
    /// Example: `hold: spec.cycle.hold`
    #[serde(default)]
    hold: Option<Script>,
}

#[derive(Debug)]
struct Each {
    of: Items,
    passes: Vec<String>,
    order_by: Option<At<String>>,
    label: String,
    text: Option<Template>,
    hold: Option<Expr>,
    fields: Vec<Field>,
}

#[derive(Debug)]
enum Items {
    Expr(Box<Expr>),
    Listed(Vec<String>),
}

impl Written for RawEach {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        let of = match (self.of, self.items.is_empty()) {
            (Some(script), true) => Items::Expr(Box::new(Expr::new(script))),
            (None, false) => Items::Listed(self.items.into_iter().map(|item| item.value).collect()),
            _ => {
                checker.report(
                    Diagnostic::error(Code::UnfitStep, &id.place, "`each` needs either `of` or `items`")
                        .help("`of:` takes an expression, `items:` a list of names"),
                );
                return None;
            }
        };
        if let Some(sheet) = &self.order_by {
            checker.sheet(sheet);
        }
        let fields = match (self.read, &self.hold) {
            (Some(_), Some(_)) => {
                checker.report(
                    Diagnostic::error(Code::UnfitStep, &id.place, "`each` can't both read and hold")
                        .help("make it two steps"),
                );
                return None;
            }
            (Some(read), None) => checker.fields(read.0),
            (None, Some(_)) => vec![held_field(id)],
            (None, None) => {
                vec![Field::new(At::new("done".to_owned(), id.place.clone()), FieldKind::Done)]
            }
        };
        Some(Box::new(Each {
            of,
            passes: self.passes.into_iter().map(|pass| pass.value).collect(),
            order_by: self.order_by,
            label: self.label.map_or_else(String::new, |label| label.value),
            text: self.act.as_ref().map(|text| checker.template(text)),
            hold: self.hold.map(Expr::new),
            fields,
        }))
    }
}

impl Each {
    /// Labels of the items, in the order of the list.
    fn labels(&self, progress: &Progress) -> Vec<String> {
        match &self.of {
            Items::Listed(items) => items.clone(),
            Items::Expr(_) => match progress.settled.get("of") {
                Some(Value::List(items)) => items.iter().map(label_of).collect(),
                Some(Value::Number(count)) => numbers(*count),
                Some(record @ Value::Record(_)) => match record.at(&["count"]) {
                    Some(Value::Number(count)) => numbers(*count),
                    _ => Vec::new(),
                },
                _ => Vec::new(),
            },
        }
    }

    /// Passes as written here, else those of the record that `of` names.
    fn pass_names(&self, progress: &Progress) -> Vec<String> {
        if !self.passes.is_empty() {
            return self.passes.clone();
        }
        match progress.settled.get("of").and_then(|of| of.at(&["passes"])) {
            Some(Value::List(passes)) if !passes.is_empty() => passes.iter().map(label_of).collect(),
            _ => vec![String::new()],
        }
    }

    /// The first pass of an item that is not done: its number among all, their number, its key and what to call it.
    fn open(&self, progress: &Progress) -> Option<(usize, usize, String, String)> {
        let labels = self.labels(progress);
        let ordered: Vec<&String> = match progress.settled.get("order").and_then(|order| order.at(&["order"])) {
            Some(Value::List(order)) => order.iter().filter_map(position).filter_map(|at| labels.get(at)).collect(),
            _ => labels.iter().collect(),
        };
        let passes = self.pass_names(progress);
        let all = passes.len() * ordered.len();
        let mut key = String::new();
        let visits = passes.iter().flat_map(|pass| ordered.iter().map(move |label| (pass, *label)));
        for (index, (pass, label)) in visits.enumerate() {
            key.clear();
            if !pass.is_empty() {
                key.push_str(pass);
                key.push('/');
            }
            key.push_str(label);
            if !progress.done.contains(&key) {
                return Some((index + 1, all, key, self.name(pass, label)));
            }
        }
        None
    }

    fn name(&self, pass: &str, label: &str) -> String {
        let name = match (self.label.is_empty(), label.parse::<f64>().is_ok()) {
            (true, _) => label.to_owned(),
            (false, true) => format!("{} {label}", self.label),
            (false, false) => format!("{}: {label}", self.label),
        };
        if pass.is_empty() { name } else { format!("{name}, {pass} pass") }
    }
}

fn label_of(value: &Value) -> String {
    match value {
        Value::Text(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        other => format!("{other:?}"),
    }
}

/// A 1-based position as an index.
fn position(value: &Value) -> Option<usize> {
    match value {
        Value::Number(number) if *number >= 1.0 => Some(*number as usize - 1),
        _ => None,
    }
}

/// More items than this is a slip of the pen, not a part.
const MOST_ITEMS: f64 = 1000.0;

fn numbers(count: f64) -> Vec<String> {
    (1..=count.clamp(0.0, MOST_ITEMS) as usize).map(|n| n.to_string()).collect()
}

impl Kind for Each {
    fn word(&self) -> &'static str {
        "each"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if let Items::Expr(expr) = &self.of
            && !progress.settled.contains_key("of")
        {
            return Next::Settle { what: "of", expr };
        }
        if let Some(expr) = &self.hold
            && !progress.settled.contains_key("for")
        {
            return Next::Settle { what: "for", expr };
        }
        if let Some(sheet) = &self.order_by
            && !progress.settled.contains_key("order")
        {
            let mut with = IndexMap::new();
            with.insert("count".to_owned(), Value::Number(self.labels(progress).len() as f64));
            if let Some(pattern) = progress.settled.get("of").and_then(|of| of.at(&["pattern"])) {
                with.insert("pattern".to_owned(), pattern.clone());
            }
            return Next::Call { what: "order", sheet, with: With::Values(with), gives: None };
        }
        match self.open(progress) {
            None => Next::Done,
            Some((number, all, item, label)) => Next::Ask(Ask {
                item,
                label,
                count: Some((number, all)),
                text: self.text.as_ref(),
                hold: required(progress),
                ..Ask::fields(&self.fields)
            }),
        }
    }

    fn weigh(&self, progress: &Progress, values: &IndexMap<String, Value>) -> Weighed {
        match &self.hold {
            Some(_) => weigh_held(progress.settled.get("for"), values),
            None => Weighed::Done,
        }
    }

    fn gives(&self) -> Vec<&At<String>> {
        self.fields
            .iter()
            .filter(|field| !matches!(field.kind, FieldKind::Done | FieldKind::Held))
            .map(|field| &field.name)
            .collect()
    }

    fn fields(&self) -> &[Field] {
        &self.fields
    }

    fn expressions(&self) -> Vec<&Expr> {
        let of = match &self.of {
            Items::Expr(expr) => Some(&**expr),
            Items::Listed(_) => None,
        };
        of.into_iter().chain(&self.hold).collect()
    }

    fn sheet(&self) -> Option<&At<String>> {
        self.order_by.as_ref()
    }

    fn counts_only_when_complete(&self) -> bool {
        true
    }

    fn texts(&self) -> Vec<&Template> {
        self.text.iter().collect()
    }

    fn summary(&self) -> String {
        match &self.of {
            Items::Expr(expr) => format!("for each of {}", expr.text()),
            Items::Listed(items) => format!("for each of {}", items.join(", ")),
        }
    }
}
