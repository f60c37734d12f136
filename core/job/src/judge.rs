//! What a gate comes to. Where it asks for confidence, how likely it is met is found by trials in which every reading is
//! moved by what its instrument may be off.

use std::borrow::Cow;

use super::event::Verdict;
use super::names::JobNames;
use super::state::Reading;
use crate::plan::Plan;
use crate::said::{Lack, Reason};
use standpipe_procedure::{Expr, Gate};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_script::{Condition, Names};
use standpipe_sheet::uncertainty::{Random, Spread};

/// Trials. A share of 95 % is then known to about a third of a per cent (its standard deviation, from the binomial).
const TRIALS: u32 = 4_000;
/// The same for every gate, so that a replay comes to the same verdict.
const SEED: u64 = 1;

#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    pub verdict: Verdict,
    /// What it lacks, or why it is not shown.
    pub missing: Vec<Lack>,
    /// In what share of trials it was met, where it asks for that.
    pub likely: Option<f64>,
}

impl Judgement {
    pub fn plain(verdict: Verdict, missing: Vec<Lack>) -> Self {
        Self { verdict, missing, likely: None }
    }
}

/// Evaluates a gate and passes the verdict.
pub fn judge(plan: &Plan, gate: &Gate, names: &JobNames<'_>) -> Judgement {
    let judgement = condition(plan, &gate.must, names);
    if judgement.verdict == Verdict::Met { sure(plan, gate, names) } else { judgement }
}

/// What a condition comes to as its values stand, and what it lacks.
pub fn condition(plan: &Plan, must: &Expr, names: &dyn Names) -> Judgement {
    match must.evaluate(&plan.scripts, names) {
        Ok(value) => truth(must, &value),
        Err(fault) => Judgement::plain(Verdict::NotShown, Lack::of(fault)),
    }
}

fn truth(must: &Expr, value: &Value) -> Judgement {
    match value {
        Value::Truth(true) => Judgement::plain(Verdict::Met, Vec::new()),
        Value::Truth(false) => Judgement::plain(Verdict::NotMet, Vec::new()),
        _ => Judgement::plain(Verdict::NotShown, vec![Lack::Because(Reason::NotTruth(must.text().to_owned()))]),
    }
}

/// The verdict once the condition has a value: what is met as read must be likely enough as well. What is not met as read
/// is not met, however likely: a decision rule with a guard band on one side, as JCGM 106:2012 8.3.2 has it (from memory).
pub fn of_value(plan: &Plan, gate: &Gate, names: &JobNames<'_>, value: &Value) -> Judgement {
    let judgement = truth(&gate.must, value);
    if judgement.verdict == Verdict::Met { sure(plan, gate, names) } else { judgement }
}

/// What is met as it was read, once it is asked how likely that is.
fn sure(plan: &Plan, gate: &Gate, names: &JobNames<'_>) -> Judgement {
    let Some(wanted) = gate.confidence else { return Judgement::plain(Verdict::Met, Vec::new()) };
    match likely(plan, gate, names) {
        Ok(share) if share >= wanted => Judgement { verdict: Verdict::Met, missing: Vec::new(), likely: Some(share) },
        Ok(share) => Judgement { verdict: Verdict::NotShown, missing: Vec::new(), likely: Some(share) },
        Err(missing) => Judgement::plain(Verdict::NotShown, missing),
    }
}

/// A share as a person would write it. All of so many trials is no certainty.
pub fn percent(share: f64) -> String {
    let tenths = (share * 1000.0).floor() / 10.0;
    if tenths > 99.9 { "more than 99.9 %".to_owned() } else { format!("{tenths} %") }
}

fn likely(plan: &Plan, gate: &Gate, names: &JobNames<'_>) -> Result<f64, Vec<Lack>> {
    let mut trials = Trials { names, spreads: Vec::new(), moved: Vec::new() };
    let mut lacking = Vec::new();
    for name in gate.must.uses(&plan.scripts) {
        for reading in names.every(&name) {
            match spread(plan, reading) {
                Ok(Some(spread)) => trials.spreads.push((reading, spread)),
                Ok(None) => {}
                Err(why) if lacking.contains(&why) => {}
                Err(why) => lacking.push(why),
            }
        }
    }
    if !lacking.is_empty() {
        return Err(lacking);
    }
    let mut random = Random::new(SEED, 0);
    let mut programs: Option<Vec<Aimed>> = None;
    let mut met = 0;
    for trial in 0..TRIALS {
        trials.draw(&mut random);
        if trial == 0 {
            programs = trials.programs(plan, gate);
        }
        let holds = programs.as_mut().and_then(|programs| trials.hold(programs));
        // A trial that can't be evaluated does not count as met.
        let holds =
            holds.unwrap_or_else(|| matches!(gate.must.evaluate(&plan.scripts, &trials), Ok(Value::Truth(true))));
        met += u32::from(holds);
    }
    Ok(f64::from(met) / f64::from(TRIALS))
}

/// How far a reading may be off; nothing for what has no size, such as a count or a word.
fn spread(plan: &Plan, reading: &Reading) -> Result<Option<Spread>, Lack> {
    let Value::Quantity(quantity) = &reading.value else { return Ok(None) };
    let name = &reading.name;
    if reading.computed {
        return Err(Lack::Because(Reason::ComputedErrorOf(name.clone())));
    }
    let Some(id) = plan.measured_with(reading) else {
        return Err(Lack::Because(Reason::UnknownErrorOf(name.clone())));
    };
    let instrument = plan.shop.instruments.get(id);
    let spread = instrument.and_then(|instrument| instrument.spread_of(quantity));
    spread.map(Some).ok_or_else(|| Lack::Because(Reason::AccuracyOf(id.to_owned())))
}

/// The names of the job, with every reading moved by an error of its own.
struct Trials<'a> {
    names: &'a JobNames<'a>,
    spreads: Vec<(&'a Reading, Spread)>,
    /// By how much in this trial, in the order of the spreads.
    moved: Vec<f64>,
}

/// A condition, and by which errors its registers are moved.
type Aimed = (Condition, Vec<(u16, usize)>);

impl Trials<'_> {
    fn draw(&mut self, random: &mut Random) {
        self.moved.clear();
        self.moved.extend(self.spreads.iter().map(|(_, spread)| spread.draw(random)));
    }

    fn error(&self, reading: &Reading) -> Option<usize> {
        self.spreads.iter().position(|(known, _)| std::ptr::eq(*known, reading))
    }

    /// The parts of a gate as programs; nothing where the interpreter has to judge.
    fn programs(&self, plan: &Plan, gate: &Gate) -> Option<Vec<Aimed>> {
        let aimed = |part: &Expr| {
            let condition = plan.scripts.condition(part.compiled(&plan.scripts).ok()?, self)?;
            let mut registers = Vec::new();
            for (at, (reading, _)) in self.spreads.iter().enumerate() {
                let is_latest = self.names.latest_reading(&reading.name).is_some_and(|it| std::ptr::eq(it, *reading));
                if let Some(register) = condition.register(&reading.name).filter(|_| is_latest) {
                    registers.push((register, at));
                }
            }
            Some((condition, registers))
        };
        gate.must.parts().map(aimed).collect()
    }

    /// Whether all parts hold in this trial; `None` where the interpreter has to say.
    fn hold(&self, programs: &mut [Aimed]) -> Option<bool> {
        let mut all = true;
        for (condition, registers) in programs {
            for (register, at) in registers {
                let (Value::Quantity(quantity), by) = (&self.spreads[*at].0.value, self.moved[*at]) else {
                    return None;
                };
                let number = quantity.si + by;
                if !number.is_finite() {
                    return None;
                }
                condition.set(*register, number);
            }
            all &= condition.holds()?;
        }
        Some(all)
    }

    fn moved<'v>(&self, reading: &'v Reading) -> Cow<'v, Value> {
        match (&reading.value, self.error(reading)) {
            (Value::Quantity(quantity), Some(error)) => {
                let si = quantity.si + self.moved[error];
                Cow::Owned(Value::Quantity(Quantity { si, written: None, ..quantity.clone() }))
            }
            (value, _) => Cow::Borrowed(value),
        }
    }
}

impl Names for Trials<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        match self.names.latest_reading(name) {
            Some(reading) => Some(self.moved(reading)),
            None => self.names.latest(name),
        }
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.names.every_counting(name).map(|reading| self.moved(reading).into_owned()).collect()
    }
}
