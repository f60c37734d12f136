//! `compute`: a sheet or an expression, whose result gets a name.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Kind, Next, Progress, With, Written};
use crate::check::Checker;
use crate::expr::Expr;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::{At, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCompute {
    /// The sheet that is run.
    ///
    /// Example: `sheet: next-due`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    sheet: Option<At<String>>,
    /// Its inputs, each an expression.
    ///
    /// Example: `with: { odometer: job.vehicle.odometer }`
    #[serde(default)]
    with: IndexMap<String, Script>,
    /// One expression, in place of a sheet.
    ///
    /// Example: `value: sum(all(filled))`
    #[serde(default)]
    value: Option<Script>,
    /// The name under which the result is known; the outputs of a sheet follow it after a point.
    ///
    /// Example: `gives: due`
    gives: At<String>,
}

#[derive(Debug)]
struct Compute {
    what: What,
    gives: At<String>,
}

#[derive(Debug)]
enum What {
    Sheet { id: At<String>, with: IndexMap<String, Expr> },
    Value(Expr),
}

impl Written for RawCompute {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        checker.name(&self.gives);
        let what = match (self.sheet, self.value) {
            (Some(sheet), None) => {
                checker.sheet(&sheet);
                let with = self.with.into_iter().map(|(name, script)| (name, Expr::new(script))).collect();
                What::Sheet { id: sheet, with }
            }
            (None, Some(value)) => What::Value(Expr::new(value)),
            _ => {
                checker.report(
                    Diagnostic::error(Code::UnfitStep, &id.place, "`compute` needs either `sheet` or `value`").help(
                        "write `compute: { sheet: ID, with: { .. }, gives: name }` or `{ value: .., gives: name }`",
                    ),
                );
                return None;
            }
        };
        Some(Box::new(Compute { what, gives: self.gives }))
    }
}

impl Kind for Compute {
    fn word(&self) -> &'static str {
        "compute"
    }

    fn next<'a>(&'a self, progress: &Progress) -> Next<'a> {
        if progress.settled.contains_key("result") {
            return Next::Done;
        }
        match &self.what {
            What::Sheet { id, with } => {
                Next::Call { what: "result", sheet: id, with: With::Exprs(with), gives: Some(&self.gives) }
            }
            What::Value(expr) => Next::Give { what: "result", expr, gives: &self.gives },
        }
    }

    fn gives(&self) -> Vec<&At<String>> {
        vec![&self.gives]
    }

    fn expressions(&self) -> Vec<&Expr> {
        match &self.what {
            What::Sheet { with, .. } => with.values().collect(),
            What::Value(expr) => vec![expr],
        }
    }

    fn sheet(&self) -> Option<&At<String>> {
        match &self.what {
            What::Sheet { id, .. } => Some(id),
            What::Value(_) => None,
        }
    }

    fn summary(&self) -> String {
        match &self.what {
            What::Sheet { id, .. } => format!("compute {} by {}", self.gives.value.replace('_', " "), id.value),
            What::Value(expr) => format!("compute {} = {}", self.gives.value.replace('_', " "), expr.text()),
        }
    }
}
