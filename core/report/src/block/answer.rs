//! What a block of a record comes to: one sentence, told from the verdicts that show it.

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::{Shown, lacks, said};
use crate::shown::{and, minute};
use standpipe_job::Verdict;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_procedure::{Expr, page};
use standpipe_quantity::value::Value;

/// As many reasons as can be read aloud; all of them stand below the heading.
const MOST_REASONS: usize = 2;

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Answer {
    /// `shown`, `not met`, `not shown`, `not shown yet`.
    pub word: &'static str,
    /// What is shown or not, and what was found or why it is not.
    pub text: String,
    #[schemars(with = "Option<String>")]
    pub at: Option<Moment>,
}

impl Answer {
    pub(super) fn new(
        plan: &Plan,
        names: &JobNames<'_>,
        asked: &page::Answer,
        shown_by: &[Shown],
        at: Option<Moment>,
    ) -> Self {
        let what = said(plan, names, &asked.what).text;
        let mut against: Vec<(Lack, String)> = shown_by.iter().filter_map(lack).collect();
        // A job under way has not come to it yet.
        if against.is_empty() {
            against.extend(asked.must.as_ref().and_then(|must| in_the_end(plan, names, must)));
        }
        // Reasons of one kind stay in the order in which the procedure names them.
        against.sort_by_key(|(lack, _)| *lack);
        let Some((worst, _)) = against.first() else {
            let found = asked.found.as_ref().map(|found| said(plan, names, found).text);
            let when = at.map(|at| format!("on {}", minute(at)));
            let text: Vec<String> = [Some(what), found, when].into_iter().flatten().collect();
            return Self { word: "shown", text: format!("{}.", text.join(", ")), at };
        };
        let told = against.iter().filter(|(lack, _)| lack == worst).take(MOST_REASONS);
        let mut reasons: Vec<String> = told.map(|(_, reason)| reason.clone()).collect();
        if against.len() > reasons.len() {
            reasons.push(format!("{} more", against.len() - reasons.len()));
        }
        Self { word: worst.word(), text: format!("{what}, because of {}.", and(&reasons)), at: None }
    }

    /// Takes back that something is shown, and says why.
    pub(crate) fn overrule(&mut self, because: &str) {
        if self.word == "shown" {
            self.word = "not shown";
            self.text = format!("{}; {because}.", self.text.trim_end_matches('.'));
            self.at = None;
        }
    }

    /// `SHOWN: lid closed at the right heat, 940 °C, on 2026-11-23 08:00.`
    pub fn line(&self) -> String {
        format!("{}: {}", self.word.to_uppercase(), self.text)
    }
}

/// Why a step shows nothing, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Lack {
    Unmet,
    Unshown,
    Undone,
}

impl Lack {
    fn word(self) -> &'static str {
        match self {
            Self::Unmet => "not met",
            Self::Unshown => "not shown",
            Self::Undone => "not shown yet",
        }
    }
}

fn in_the_end(plan: &Plan, names: &JobNames<'_>, must: &Expr) -> Option<(Lack, String)> {
    match must.evaluate(&plan.scripts, names) {
        Ok(Value::Truth(true)) => None,
        Ok(_) => Some((Lack::Unmet, format!("{}, which is not so", must.text()))),
        Err(fault) => Some((Lack::Unshown, format!("{}, for want of {}", must.text(), lacks(fault).join(", ")))),
    }
}

fn lack(by: &Shown) -> Option<(Lack, String)> {
    let accepted = if by.accepted { ", accepted" } else { "" };
    let witness = by.witness.as_deref().is_some_and(|witness| witness.starts_with("NOT SHOWN"));
    let (lack, word) = match (by.verdict, by.status.as_str()) {
        (Some(Verdict::NotMet), _) => (Lack::Unmet, format!("not met{accepted}")),
        (Some(Verdict::NotShown), _) => (Lack::Unshown, format!("not shown{accepted}")),
        _ if witness => (Lack::Unshown, "witness not shown".to_owned()),
        (_, "done" | "not needed") => return None,
        (_, status @ ("left out" | "left out by the shop")) => (Lack::Unshown, status.to_owned()),
        (_, status) => (Lack::Undone, status.to_owned()),
    };
    Some((lack, format!("\"{}\" ({word})", by.title)))
}
