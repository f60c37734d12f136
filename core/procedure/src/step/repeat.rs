//! `repeat`: a block of steps, run again until a condition holds.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Children, Kind, Next, Progress, Written};
use crate::check::Checker;
use crate::expr::Expr;
use crate::model::{Otherwise, Step};
use crate::raw::RawOtherwise;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::{At, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawRepeat {
    /// What ends the rounds, judged at the end of each.
    ///
    /// Example: `until: dripping == "thin drip"`
    until: Script,
    /// How many rounds there may be.
    ///
    /// Example: `at_most: 3`
    #[schemars(with = "standpipe_yaml::told::AtLeastOnce")]
    at_most: At<u32>,
    /// What happens when they are used up: `stop`, or `{ ask: [role] }`.
    ///
    /// Example: `otherwise: stop`
    #[serde(default)]
    otherwise: Option<At<RawOtherwise>>,
}

#[derive(Debug)]
struct Repeat {
    until: Expr,
    at_most: u32,
    otherwise: Otherwise,
    steps: Vec<Step>,
}

impl Written for RawRepeat {
    fn check(self, id: &At<String>, checker: &mut Checker<'_>) -> Option<Box<dyn Kind>> {
        if self.at_most.value == 0 {
            checker.report(
                Diagnostic::error(Code::UnfitStep, &self.at_most.place, "a step that is repeated 0 times")
                    .expected("at_most of 1 or more"),
            );
        }
        let otherwise = match &self.otherwise {
            Some(written) => checker.otherwise(written, false),
            None => Otherwise::Stop,
        };
        let steps = checker.children();
        if steps.is_empty() {
            checker.report(
                Diagnostic::error(Code::UnfitStep, &id.place, "`repeat` without steps")
                    .help("add `steps:` beside `repeat:`"),
            );
        }
        Some(Box::new(Repeat { until: Expr::new(self.until), at_most: self.at_most.value, otherwise, steps }))
    }
}

impl Kind for Repeat {
    fn word(&self) -> &'static str {
        "repeat"
    }

    fn next<'a>(&'a self, _progress: &Progress) -> Next<'a> {
        Next::Rounds { until: &self.until, at_most: self.at_most, otherwise: &self.otherwise }
    }

    fn expressions(&self) -> Vec<&Expr> {
        vec![&self.until]
    }

    fn children(&self) -> Children<'_> {
        Children::Steps(&self.steps)
    }

    fn most_rounds(&self) -> Option<u32> {
        Some(self.at_most)
    }

    fn summary(&self) -> String {
        format!("again until {}, at most {} rounds", self.until.text(), self.at_most)
    }
}
