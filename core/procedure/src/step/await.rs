//! `await`: a reading that is taken again and again until it lies inside a range.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Ask, Kind, Miss, Next, Progress, Weighed, Written};
use crate::check::Checker;
use crate::expr::Expr;
use crate::field::{Field, FieldKind, compare};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::value::Value;
use standpipe_yaml::{At, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawAwait {
    /// The name under which it is read.
    ///
    /// Example: `sample: sump_temperature`
    sample: At<String>,
    /// The range to wait for.
    ///
    /// Example: `within: spec.level.window`
    within: Script,
    /// The quantity that is read; that of an earlier reading of this name, if left out.
    ///
    /// Example: `is: temperature`
    #[serde(default)]
    is: Option<At<String>>,
    /// The kind of instrument it is read with.
    ///
    /// Example: `instrument: temperature-reader`
    #[serde(default)]
    instrument: Option<At<String>>,
    /// The unit of a bare number, and the one that it is shown in.
    ///
    /// Example: `unit: degC`
    #[serde(default)]
    unit: Option<At<String>>,
    /// What happens when the range was passed: `next-round` of the `repeat` around it, or `wait`. Left out: the step is asked
    /// again.
    ///
    /// Example: `overshot: next-round`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Overshot>")]
    overshot: Option<At<String>>,
    /// The sheet that tells from readings when the range is reached and left.
    ///
    /// Example: `forecast: window-forecast`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    forecast: Option<At<String>>,
}

#[derive(Debug)]
struct Await {
    field: Field,
    within: Expr,
    next_round: bool,
    forecast: Option<At<String>>,
}

impl Written for RawAwait {
    fn check(self, _id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        checker.name(&self.sample);
        let next_round = match self.overshot.as_ref().map(|word| word.value.as_str()) {
            None | Some("wait") => false,
            Some("next-round") => true,
            Some(other) => {
                let overshot = self.overshot.as_ref()?;
                checker.report(
                    Diagnostic::error(
                        Code::UnfitStep,
                        &overshot.place,
                        format!("`{other}` is not what `overshot` can be"),
                    )
                    .expected("next-round or wait")
                    .nearest(
                        other,
                        ["next-round", "wait"],
                        "write `overshot: next-round` or leave it out",
                    ),
                );
                return None;
            }
        };
        if next_round && let Some(overshot) = &self.overshot {
            checker.inside_rounds(&overshot.place, "overshot: next-round");
        }
        // A sample is a temperature unless it says otherwise would be a rule of one trade: the quantity comes from the
        // step that reads the same name, or is written here.
        let quantity = match self.is {
            Some(quantity) => Some(quantity.value),
            None => checker.quantity_of(&self.sample.value),
        };
        let Some(quantity) = quantity else {
            checker.report(
                Diagnostic::error(
                    Code::UnfitStep,
                    &self.sample.place,
                    format!("nothing says what `{}` is", *self.sample),
                )
                .help("add `is:` and a quantity here, or read the name in an earlier step"),
            );
            return None;
        };
        let mut field = Field::new(self.sample, FieldKind::Quantity(quantity));
        if let Some(sheet) = &self.forecast {
            checker.sheet(sheet);
        }
        field.instrument = self.instrument;
        field.unit = self.unit;
        checker.remember(&field);
        Some(Box::new(Await { field, within: Expr::new(self.within), next_round, forecast: self.forecast }))
    }
}

impl Kind for Await {
    fn word(&self) -> &'static str {
        "await"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.done.contains("") {
            return Next::Done;
        }
        match progress.settled.get("within") {
            None => Next::Settle { what: "within", expr: &self.within },
            Some(range) => {
                let within = match range {
                    Value::Range(low, high) => Some((low.clone(), high.clone())),
                    _ => None,
                };
                Next::Ask(Ask { within, ..Ask::fields([&self.field]) })
            }
        }
    }

    fn weigh(&self, progress: &Progress, values: &IndexMap<String, Value>) -> Weighed {
        let (Some(Value::Range(low, high)), Some(value)) =
            (progress.settled.get("within"), values.get(&self.field.name.value))
        else {
            return Weighed::Again(Miss::NoRange);
        };
        let (low, high) = (Value::Quantity(low.clone()), Value::Quantity(high.clone()));
        if compare(value, &low).is_none_or(|order| order.is_lt()) {
            return Weighed::Again(Miss::NotThere);
        }
        match compare(value, &high) {
            Some(order) if order.is_le() => Weighed::Done,
            _ if self.next_round => Weighed::NextRound(Miss::GonePast),
            _ => Weighed::Again(Miss::GonePast),
        }
    }

    fn gives(&self) -> Vec<&At<String>> {
        vec![&self.field.name]
    }

    fn fields(&self) -> &[Field] {
        std::slice::from_ref(&self.field)
    }

    fn expressions(&self) -> Vec<&Expr> {
        vec![&self.within]
    }

    fn sheet(&self) -> Option<&At<String>> {
        self.forecast.as_ref()
    }

    fn summary(&self) -> String {
        format!("wait until {} is within {}", self.field.name.value.replace('_', " "), self.within.text())
    }
}
