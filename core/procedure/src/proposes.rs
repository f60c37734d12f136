//! What finished jobs say of the values of their family, as a proposal for whoever keeps those values.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::{At, Script};

use super::check::Checker;
use super::expr::Expr;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(transform = one_way)]
pub struct RawProposed {
    /// What one finished job comes to: an expression on the job as it ended.
    ///
    /// Example: `value: sum(all(filled), 0.L)`
    #[serde(default)]
    pub value: Option<Script>,
    /// In place of `value`: what the job tells by this entry of `learned`.
    ///
    /// Example: `from_learned: cooling`
    #[serde(default)]
    pub from_learned: Option<At<String>>,
    /// Which jobs count: a condition on the job as it ended. Left out: every finished one.
    ///
    /// Example: `must: ledger.verdict == "balanced"`
    #[serde(default)]
    pub must: Option<Script>,
}

fn one_way(schema: &mut schemars::Schema) {
    standpipe_yaml::told::exactly_one(schema, &["value", "from_learned"]);
}

#[derive(Debug)]
pub struct Proposed {
    /// The field of the form that it speaks of.
    pub fact: At<String>,
    pub by: By,
    pub must: Option<Expr>,
}

/// How one job comes to its value.
#[derive(Debug)]
pub enum By {
    Value(Box<Expr>),
    /// By an entry of `learned`.
    Learned(At<String>),
}

impl Checker<'_> {
    pub fn proposes(&mut self, raw: IndexMap<At<String>, RawProposed>) -> Vec<Proposed> {
        let mut all = Vec::new();
        for (fact, raw) in raw {
            let by = match (raw.value, raw.from_learned) {
                (Some(value), None) => By::Value(Box::new(Expr::new(value))),
                (None, Some(learned)) => By::Learned(learned),
                _ => {
                    let message = format!("`{}` needs either `value` or `from_learned`", fact.value);
                    self.report(Diagnostic::error(Code::FaultyPage, &fact.place, message).help(
                        "write e.g. `value: sum(all(filled), 0.L)`, or `from_learned:` with an id of `learned:`",
                    ));
                    continue;
                }
            };
            all.push(Proposed { fact, by, must: raw.must.map(Expr::new) });
        }
        all
    }
}
