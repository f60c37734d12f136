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
    /// What happens when the range was passed: `next-round` of the `repeat` around it, `go-on` where a later step judges, or
    /// `wait`. Left out: the step is asked again.
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

/// What follows a reading beyond the range.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Overshot {
    Wait,
    NextRound,
    GoOn,
}

const OVERSHOT: [(&str, Overshot); 3] =
    [("next-round", Overshot::NextRound), ("go-on", Overshot::GoOn), ("wait", Overshot::Wait)];

#[derive(Debug)]
struct Await {
    field: Field,
    within: Expr,
    overshot: Overshot,
    forecast: Option<At<String>>,
}

impl Written for RawAwait {
    fn check(self, _id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        checker.name(&self.sample);
        let overshot = match &self.overshot {
            None => Overshot::Wait,
            Some(word) => match OVERSHOT.iter().find(|(name, _)| *name == word.value) {
                Some((_, overshot)) => *overshot,
                None => {
                    let message = format!("`{}` is not what `overshot` can be", word.value);
                    checker.report(
                        Diagnostic::error(Code::UnfitStep, &word.place, message)
                            .expected(OVERSHOT.map(|(name, _)| name).join(", "))
                            .nearest(
                                &word.value,
                                OVERSHOT.map(|(name, _)| name),
                                "choose one of those, or leave it out",
                            ),
                    );
                    return None;
                }
            },
        };
        if overshot == Overshot::NextRound
            && let Some(written) = &self.overshot
        {
            checker.inside_rounds(&written.place, "overshot: next-round");
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
        Some(Box::new(Await { field, within: Expr::new(self.within), overshot, forecast: self.forecast }))
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
            _ => match self.overshot {
                Overshot::NextRound => Weighed::NextRound(Miss::GonePast),
                Overshot::GoOn => Weighed::Done,
                Overshot::Wait => Weighed::Again(Miss::GonePast),
            },
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
