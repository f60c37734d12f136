//! Who did what can be signed by key, and how that is shown.

use std::path::Path;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_audit::Audited;
use standpipe_job::{Machine, Moment, Record};
use standpipe_sign::{Entered, Signed, Standing, all_beside, deeds, heads, signed};

use crate::shown::{clock, minute, person};

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Acts {
    /// Whether keys were held against a list of who may sign.
    pub listed: bool,
    pub acts: Vec<Act>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Act {
    /// When it was entered.
    #[schemars(with = "String")]
    pub at: Moment,
    /// The name of whoever did it, by the shop.
    pub person: String,
    #[serde(flatten)]
    pub signed: Signed,
}

/// Of the job in this folder, before anybody looks whose keys they are.
pub(super) fn acts(machine: &Machine, records: &[Record], folder: &Path) -> Acts {
    let plan = &machine.plan;
    let deeds = deeds(plan, records, 0);
    let beside = all_beside(folder).unwrap_or_default();
    let heads = if beside.is_empty() { Vec::new() } else { heads(folder).unwrap_or_default() };
    let (signed, _) = signed(&plan.job.id, &deeds, &heads, &beside, None, &Entered::new());
    let acts = deeds.iter().zip(signed);
    let acts = acts.map(|(deed, signed)| Act { at: deed.at, person: person(plan, &deed.by), signed });
    Acts { listed: false, acts: acts.collect() }
}

impl Acts {
    /// As an audit found them.
    pub(super) fn checked(&mut self, audited: &Audited) {
        self.listed = audited.listed;
        for act in &mut self.acts {
            let same = |it: &&Signed| (it.line, it.act, &it.by) == (act.signed.line, act.signed.act, &act.signed.by);
            if let Some(found) = audited.signed.iter().find(same) {
                act.signed = found.clone();
            }
        }
    }

    /// Whether a list was looked at, and a line for each person and how it is shown.
    pub(crate) fn lines(&self) -> Vec<String> {
        if self.acts.is_empty() {
            return Vec::new();
        }
        let by_key = self.acts.iter().any(|act| act.signed.standing != Standing::Unsigned);
        let list = match (self.listed, by_key) {
            (true, _) => "Keys were checked against a list of signers.",
            (false, true) => "No list of signers was checked: whose the keys are is not shown.",
            (false, false) => "Nothing is signed by key: names are as they were typed.",
        };
        let mut by: IndexMap<(&str, &str), Vec<&Act>> = IndexMap::new();
        for act in &self.acts {
            by.entry((&act.person, how(&act.signed.standing))).or_default().push(act);
        }
        let told = by.into_iter().map(|((person, how), acts)| format!("{person} ({how}): {}", times(&acts)));
        std::iter::once(list.to_owned()).chain(told).collect()
    }
}

fn how(standing: &Standing) -> &'static str {
    match standing {
        Standing::Unsigned => "only said",
        Standing::Signed => "signed by key",
        other => other.words(),
    }
}

/// What was done when: the word where it is another than before, the day likewise.
fn times(acts: &[&Act]) -> String {
    let mut told: Vec<String> = Vec::new();
    let mut before: Option<&Act> = None;
    for act in acts {
        let same_act = before.is_some_and(|it| it.signed.act == act.signed.act);
        let same_day = before.is_some_and(|it| it.at.date() == act.at.date());
        let word = if same_act { String::new() } else { format!("{} ", act.signed.act.word()) };
        told.push(format!("{word}{}", if same_day { clock(act.at) } else { minute(act.at) }));
        before = Some(act);
    }
    told.join(", ")
}
