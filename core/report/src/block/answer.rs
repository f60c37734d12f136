//! What a block of a record comes to: one sentence, told from the verdicts that show it.

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::{Shown, as_entered, lacks, said};
use crate::shown::{and, minute};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::state::Call;
use standpipe_job::{State, Verdict};
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
    /// The same without what only the workshop can read.
    #[serde(skip)]
    pub plain: String,
    #[schemars(with = "Option<String>")]
    pub at: Option<Moment>,
}

impl Answer {
    pub(super) fn new(
        plan: &Plan,
        state: &State,
        asked: &page::Answer,
        shown_by: &[Shown],
        at: Option<Moment>,
    ) -> Self {
        let names = &as_entered(plan, state);
        let what = said(plan, names, &asked.what).text;
        let mut against: Vec<Against> = shown_by.iter().filter_map(lack).collect();
        against.extend(state.calls.iter().map(|call| under_way(plan, call)));
        // A job under way has not come to it yet.
        if against.is_empty() {
            against.extend(asked.must.as_ref().and_then(|must| in_the_end(plan, names, must)));
        }
        // Reasons of one kind stay in the order in which the procedure names them.
        against.sort_by_key(|it| it.lack);
        let Some(worst) = against.first().map(|it| it.lack) else {
            let found = asked.found.as_ref().map(|found| said(plan, names, found).text);
            let when = at.map(|at| format!("on {}", minute(at)));
            let text: Vec<String> = [Some(what), found, when].into_iter().flatten().collect();
            let text = format!("{}.", text.join(", "));
            return Self { word: "shown", plain: text.clone(), text, at };
        };
        let because = |reason: fn(&Against) -> &String| {
            let told = against.iter().filter(|it| it.lack == worst).take(MOST_REASONS);
            let mut reasons: Vec<String> = told.map(|it| reason(it).clone()).collect();
            if against.len() > reasons.len() {
                reasons.push(format!("{} more", against.len() - reasons.len()));
            }
            format!("{what}, because of {}.", and(&reasons))
        };
        Self { word: worst.word(), text: because(|it| &it.reason), plain: because(|it| &it.plain), at: None }
    }

    /// Takes back that something is shown, and says why.
    pub(crate) fn overrule(&mut self, because: &str) {
        if self.word == "shown" {
            self.word = "not shown";
            self.text = format!("{}; {because}.", self.text.trim_end_matches('.'));
            self.plain = format!("{}; {because}.", self.plain.trim_end_matches('.'));
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
pub(super) enum Lack {
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

/// What speaks against it.
pub(super) struct Against {
    pub(super) lack: Lack,
    reason: String,
    /// The same in words of everybody.
    plain: String,
}

fn in_the_end(plan: &Plan, names: &JobNames<'_>, must: &Expr) -> Option<Against> {
    let (lack, reason, plain) = match must.evaluate(&plan.scripts, names) {
        Ok(Value::Truth(true)) => return None,
        Ok(_) => (Lack::Unmet, format!("{}, which is not so", must.text()), "what was found in the end"),
        Err(fault) => {
            let reason = format!("{}, needs {}", must.text(), lacks(fault).join(", "));
            (Lack::Unshown, reason, "what nobody knows in the end")
        }
    };
    Some(Against { lack, reason, plain: plain.to_owned() })
}

/// What was called for trouble may yet undo what was shown.
fn under_way(plan: &Plan, call: &Call) -> Against {
    let title = plan.procedure(&call.procedure).map_or(&call.procedure, |procedure| &procedure.title);
    let reason = format!("\"{title}\" (under way)");
    Against { lack: Lack::Undone, plain: reason.clone(), reason }
}

pub(super) fn lack(by: &Shown) -> Option<Against> {
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
    let round = if by.round < by.rounds { format!("{} of {}, ", by.round, by.rounds) } else { String::new() };
    let reason = format!("\"{}\" ({round}{word})", by.title);
    Some(Against { lack, plain: reason.clone(), reason })
}
