//! A finished job as an archive has it: what was entered and judged, without the plan, and without what is nobody's business.
//!
//! It is judged under newer data as a journal is. What only the journal shows is said to be not judged.

use std::collections::{HashMap, HashSet};

use indexmap::IndexMap;

use super::against::{self, Recheck, again, waits};
use super::moved::is_given;
use standpipe_job::State;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::state::Passed;
use standpipe_procedure::{Expr, Gate};
use standpipe_quantity::value::Value;
use standpipe_script::Names;

pub struct Archived {
    /// As its events add up to it, with the verdicts that stood in the end.
    pub state: State,
    /// By the number of a verdict: of everything that its gate looked at the parts that it looked at.
    pub seen: HashMap<u64, Seen>,
    /// Readings and results that were corrected, by the events that brought them: a gate may have looked at what they were before.
    pub corrected: HashSet<u64>,
    /// Names of what holds somebody, who is called by a keyed hash.
    pub people: HashSet<String>,
    /// Names of words that were left out.
    pub left_out: HashSet<String>,
    /// The shop of the newer plan is the one that the job was done in.
    pub has_shop: bool,
}

impl Archived {
    /// Under newer data. `at_hand`: without them, to see what they leave as it is.
    pub fn recheck(&self, newer: &Plan, at_hand: Option<&Plan>) -> Recheck {
        again(&Before { job: self, at_hand }, newer, &self.state)
    }
}

struct Before<'a> {
    job: &'a Archived,
    at_hand: Option<&'a Plan>,
}

impl Before<'_> {
    /// Whether a gate can be judged by what it looked at then. `names`: as it was.
    fn can_judge(&self, after: &Gate, newer: &Plan, seen: &Seen, names: &JobNames<'_>) -> Result<(), String> {
        self.has_words(&after.must, newer, DEEPEST)?;
        for name in after.must.names(&newer.scripts) {
            let (Some((first, rest)), path) = (name.path.split_first(), name.path.join(".")) else { continue };
            let rest: Vec<&str> = rest.iter().map(String::as_str).collect();
            match first.as_str() {
                "spec" | "round" => {}
                "shop" if self.job.has_shop => {}
                "shop" => return Err(format!("it looks at `{path}`: {SHOP}")),
                "job" if seen.get("job").and_then(|job| job.at(&rest)).is_some() => {}
                "job" => return Err(format!("the archive does not have `{path}`")),
                first if seen.contains_key(first) => {}
                // Nobody entered what has no reading at all: that is "not shown", as in the journal.
                first if names.every(first).next().is_none() => {}
                _ => {
                    return Err(format!(
                        "it did not look at `{path}` then, and whether that was still fresh is not known"
                    ));
                }
            }
        }
        match after.confidence {
            Some(_) if !self.job.has_shop => Err(format!("it depends on how far instruments may be off: {SHOP}")),
            _ => Ok(()),
        }
    }

    /// Whether an expression, and what is computed for it, looks at nothing that was left out or hidden.
    fn has_words(&self, expr: &Expr, newer: &Plan, depth: u32) -> Result<(), String> {
        for name in expr.names(&newer.scripts) {
            let path = name.path.join(".");
            if touches(&self.job.left_out, &path) {
                return Err(format!("what was written as `{path}` was left out of the archive"));
            }
            // It may be compared with a name, which a hash never is.
            if touches(&self.job.people, &path) {
                return Err(format!("who `{path}` is the archive does not say"));
            }
            let Some(inner) = depth.checked_sub(1) else { continue };
            let computed =
                self.job.state.readings.iter().filter(|it| it.computed && name.path.first() == Some(&it.name));
            // In every round it is computed by the same step.
            let steps: HashSet<&str> = computed.map(|reading| reading.address.step.as_str()).collect();
            for step in steps.into_iter().filter_map(|step| newer.step(step)) {
                step.kind.expressions().into_iter().try_for_each(|expr| self.has_words(expr, newer, inner))?;
            }
        }
        Ok(())
    }

    /// Whether the newer data leave a gate, what it was held against and all that it looks at as they are.
    fn is_untouched(&self, after: &Gate, newer: &Plan, passed: &Passed, seen: &Seen) -> bool {
        let same = |plan: &Plan| {
            let gate = plan.step(&passed.address.step).and_then(|step| step.gate.as_ref());
            gate.is_some_and(|gate| gate.words() == after.words() && gate.confidence == after.confidence)
        };
        let entered =
            |name: &String| !self.job.state.readings.iter().any(|reading| reading.computed && reading.name == *name);
        let names = JobNames::at(newer, &self.job.state, &passed.address, passed.at, passed.as_of);
        let held = seen.get("spec").is_none_or(|part| names.latest("spec").is_some_and(|whole| has(&whole, part)));
        held && self.at_hand.is_some_and(same) && after.must.uses(&newer.scripts).iter().all(entered)
    }

    fn is_as_it_was(&self, names: &JobNames<'_>, name: &str, part: &Value) -> bool {
        if is_given(name) && name != "job" {
            return true;
        }
        let reading = names.latest_reading(name);
        reading.is_some_and(|reading| self.job.corrected.contains(&reading.seq))
            || names.latest(name).is_some_and(|whole| has(&whole, part))
    }
}

/// The parts of everything that a gate looked at.
type Seen = IndexMap<String, Value>;

/// A result may be computed from its own of the round before, so there has to be an end: own choice.
const DEEPEST: u32 = 8;
const SHOP: &str = "name the shop file of the job by `--shop`";

impl against::Before for Before<'_> {
    fn stands(&self, newer: &Plan, after: Option<&Gate>, passed: &Passed) -> Option<Result<(), String>> {
        let step = &passed.address.step;
        if newer.step(step).is_none() {
            return Some(Err(format!("there is no step `{step}` in the data at hand")));
        }
        let after = after?;
        let nothing = IndexMap::new();
        let seen = self.job.seen.get(&passed.seq).unwrap_or(&nothing);
        let names = JobNames::at(newer, &self.job.state, &passed.address, passed.at, passed.as_of);
        match self.can_judge(after, newer, seen, &names) {
            Err(_) if self.is_untouched(after, newer, passed, seen) => None,
            Err(why) => Some(Err(why)),
            Ok(()) if seen.iter().all(|(name, part)| self.is_as_it_was(&names, name, part)) => Some(Ok(())),
            Ok(()) => Some(Err("its values are not what they were when it was judged".to_owned())),
        }
    }

    fn waited(&self, newer: &Plan, index: usize) -> Option<bool> {
        let state = &self.job.state;
        let reading = &state.readings[index];
        Some(waits(newer, &state.step(&reading.address.whole())?.progress, reading))
    }
}

/// Whether a name, a part of it or what it is a part of is among these.
fn touches(all: &HashSet<String>, path: &str) -> bool {
    let within =
        |one: &str, other: &str| one.strip_prefix(other).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
    all.iter().any(|name| within(name, path) || within(path, name))
}

/// Whether a value has all parts that were looked at.
fn has(whole: &Value, part: &Value) -> bool {
    match (whole, part) {
        (Value::Record(whole), Value::Record(part)) => {
            part.iter().all(|(name, part)| whole.get(name).is_some_and(|whole| has(whole, part)))
        }
        (Value::Range(low, high), Value::Record(ends)) => ends.iter().all(|(end, value)| {
            let known = if end == "low" { low } else { high };
            *value == Value::Quantity(known.clone())
        }),
        _ => whole == part,
    }
}
