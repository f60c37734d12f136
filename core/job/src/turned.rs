//! Gates that were passed and do not hold any more.

use crate::decide::Machine;
use crate::event::Verdict;
use crate::names::JobNames;
use crate::state::{Passed, State};

impl State {
    /// Verdicts that turned bad after they had let the job go on, and that nobody has accepted: a correction or newer data did
    /// that. The job can't end with them.
    pub(crate) fn turned(&self) -> impl Iterator<Item = &Passed> {
        self.verdicts.iter().filter(|passed| !passed.superseded && !passed.accepted && passed.verdict != Verdict::Met)
    }
}

impl Machine {
    /// The same in words, a line each, for whoever goes on with other work meanwhile. Nothing while trouble is dealt with: what
    /// brought it about stands as well.
    pub(crate) fn turned(&self, state: &State) -> Vec<String> {
        if !state.calls.is_empty() {
            return Vec::new();
        }
        let line = |passed: &Passed| {
            let step = self.plan.step(&passed.address.step)?;
            let names = JobNames::new(&self.plan, state, state.at.unwrap_or_default(), passed.address.round());
            let round = match passed.address.rounds.last() {
                Some(round) => format!(" (round {round})"),
                None => String::new(),
            };
            let stake = step.gate.as_ref().and_then(|gate| gate.at_stake.as_ref());
            let stake = stake.map(|text| format!(" {}", text.fill(|path| names.show(path)))).unwrap_or_default();
            Some(format!("Now {}: {}{round}.{stake}", passed.verdict.words(), self.title(step, &names)))
        };
        state.turned().filter_map(line).collect()
    }
}
