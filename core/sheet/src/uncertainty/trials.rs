//! The trials.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use indexmap::IndexMap;

use super::random::Random;
use super::settle::{LEVEL, Series, Summary};
use super::spread::Spread;
use crate::lanes::in_order;
use crate::{Outcome, Places, Sheet};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Uncertain, Units};
use standpipe_script::{self as script, Scripts};

/// What is to be tried.
#[derive(Clone, Copy)]
pub struct Plan<'a> {
    /// What is run.
    pub sheet: &'a Sheet,
    /// The units in use.
    pub units: &'a Units,
    /// The inputs at their best values.
    pub inputs: &'a IndexMap<String, Value>,
    /// How far inputs may be off, by name.
    pub spreads: &'a IndexMap<String, Spread>,
    /// The same seed gives the same trials.
    pub seed: u64,
    /// How many threads try at once; the result is the same with any number.
    pub threads: usize,
    /// How long it is tried on this thread before others help: each has to compile the scripts first.
    pub alone: Duration,
    /// Trials at least; rounded up to whole batches, as `most` is.
    pub least: u64,
    /// Trials after which it ends, settled or not.
    pub most: u64,
}

/// Trials of one batch. 100 / (1 - level), the least that JCGM 101:2008 7.2.2 has for a 95 % interval: the batches are
/// judged together, and a script is no cheap model.
const BATCH: usize = 2_000;
/// Where no more than this share of the trials is refused, an interval stands: it is made so wide that it holds as many of all trials
/// even if every refused one lies outside. No source: own choice, a fiftieth of what lies outside anyway.
const RARE: f64 = 0.001;
/// Texts that differ more than this are no verdicts.
const VERDICTS: usize = 12;
/// Compiling takes some milliseconds. In this time programs do hundreds of thousands of trials, and most are through.
const ALONE: Duration = Duration::from_millis(100);

impl<'a> Plan<'a> {
    /// A plan of one thread with the usual ends.
    pub fn new(
        sheet: &'a Sheet,
        units: &'a Units,
        inputs: &'a IndexMap<String, Value>,
        spreads: &'a IndexMap<String, Spread>,
    ) -> Self {
        Self { sheet, units, inputs, spreads, seed: 1, threads: 1, alone: ALONE, least: 20_000, most: 1_000_000 }
    }
}

/// What came of the trials.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagated {
    /// How many there were.
    pub trials: u64,
    /// Two digits of every standard uncertainty stand, and one of them in the mean and the ends of the interval.
    pub settled: bool,
    /// Outputs whose uncertainty is known.
    pub outputs: IndexMap<String, Found>,
    /// How far each uncertain input alone moves each output: half the difference of the results at its value plus and minus
    /// its standard uncertainty.
    pub contributions: IndexMap<String, IndexMap<String, f64>>,
    /// Trials with a warning or that were refused, and the first one.
    pub warned: (u64, Option<String>),
}

/// What became of one output.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// A number, with how far it is off.
    Number {
        /// The mean of all trials, in base units.
        mean: f64,
        /// How far it may be off, in base units.
        uncertain: Uncertain,
    },
    /// How often each answer came, the most frequent first.
    Shares(Vec<(String, f64)>),
}

/// Why nothing came of them.
#[derive(Clone, Debug)]
pub enum Fault {
    /// More than a few trials could not be computed: how many of how many, and what the first said.
    Refused {
        /// How many trials were refused.
        refused: u64,
        /// Of how many.
        trials: u64,
        /// What the first of them said.
        first: String,
    },
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message())
    }
}

impl std::error::Error for Fault {}

impl Fault {
    /// In words for people.
    pub fn message(&self) -> String {
        let Fault::Refused { refused, trials, first } = self;
        format!("no uncertainty can be given: {refused} of {trials} trials are refused, the first: {first}")
    }
}

/// Runs trials until the standard uncertainties stand, on as many threads as the plan says. Every batch has random numbers
/// of its own, so the result is the same on any number of them. `watch` hears how many trials there have been.
pub fn propagate(
    plan: &Plan<'_>,
    scripts: &(dyn Fn() -> Scripts + Sync),
    watch: &mut dyn FnMut(u64),
) -> Result<Propagated, Fault> {
    let mut tally = Tally::default();
    let own = scripts();
    let started = Instant::now();
    let mut numbers = 0..plan.most.div_ceil(BATCH as u64).max(2);
    while plan.threads <= 1 || started.elapsed() < plan.alone {
        let Some(number) = numbers.next() else { return tally.end(plan, &own) };
        tally.add(batch(plan, &own, number));
        watch(tally.trials);
        if tally.is_enough(plan) {
            return tally.end(plan, &own);
        }
    }
    in_order(
        plan.threads,
        |hand: &mut dyn FnMut(u64) -> bool| {
            let _ = numbers.all(hand);
        },
        scripts,
        &|scripts, number| batch(plan, scripts, number),
        |batch| {
            tally.add(batch);
            watch(tally.trials);
            !tally.is_enough(plan)
        },
    );
    tally.end(plan, &own)
}

/// The same on this thread alone, with scripts that are there: for work that is spread over threads already.
pub fn propagate_here(plan: &Plan<'_>, scripts: &Scripts) -> Result<Propagated, Fault> {
    let mut tally = Tally::default();
    for number in 0..plan.most.div_ceil(BATCH as u64).max(2) {
        tally.add(batch(plan, scripts, number));
        if tally.is_enough(plan) {
            break;
        }
    }
    tally.end(plan, scripts)
}

#[derive(Default)]
struct Batch {
    numbers: IndexMap<String, Vec<f64>>,
    /// One for each of the numbers, once all trials are through.
    summaries: Vec<Summary>,
    texts: IndexMap<String, BTreeMap<String, u64>>,
    refused: u64,
    first: Option<String>,
    warned: u64,
    warning: Option<String>,
}

#[derive(Default)]
struct Tally {
    trials: u64,
    numbers: IndexMap<String, Series>,
    texts: IndexMap<String, BTreeMap<String, u64>>,
    refused: u64,
    first: Option<String>,
    warned: u64,
    warning: Option<String>,
}

impl Tally {
    fn add(&mut self, batch: Batch) {
        self.trials += BATCH as u64;
        for ((name, numbers), summary) in batch.numbers.into_iter().zip(batch.summaries) {
            self.numbers.entry(name).or_default().add(&numbers, summary);
        }
        for (name, counts) in batch.texts {
            let own = self.texts.entry(name).or_default();
            for (text, count) in counts {
                *own.entry(text).or_default() += count;
            }
        }
        self.refused += batch.refused;
        self.first = self.first.take().or(batch.first);
        self.warned += batch.warned;
        self.warning = self.warning.take().or(batch.warning);
    }

    fn is_enough(&self, plan: &Plan<'_>) -> bool {
        let settled = self.trials >= plan.least && self.numbers.values().all(Series::is_settled);
        settled || self.refuses()
    }

    fn refuses(&self) -> bool {
        self.refused as f64 > RARE * self.trials as f64
    }

    fn end(self, plan: &Plan<'_>, scripts: &Scripts) -> Result<Propagated, Fault> {
        if self.refuses() {
            return Err(Fault::Refused {
                refused: self.refused,
                trials: self.trials,
                first: self.first.unwrap_or_default(),
            });
        }
        let came = self.trials - self.refused;
        let level = LEVEL * self.trials as f64 / came as f64;
        let settled = self.numbers.values().all(Series::is_settled);
        let mut outputs = IndexMap::new();
        for name in plan.sheet.outputs.keys() {
            if let Some(series) = self.numbers.get(name).filter(|series| series.all.len() as u64 == came) {
                let (low, high) = series.interval(level);
                let uncertain = Uncertain { standard: series.standard(), low, high };
                outputs.insert(name.clone(), Found::Number { mean: series.mean(), uncertain });
            } else if let Some(counts) = self.texts.get(name).filter(|counts| counts.len() <= VERDICTS) {
                let share = |count: &u64| *count as f64 / self.trials as f64;
                let mut shares: Vec<_> = counts.iter().map(|(text, count)| (text.clone(), share(count))).collect();
                shares.sort_by(|a, b| b.1.total_cmp(&a.1));
                outputs.insert(name.clone(), Found::Shares(shares));
            }
        }
        let contributions = contributions(plan, scripts);
        // One that was refused is told beside those with a warning, before them.
        let warning = self.first.map(|first| format!("refused: {first}")).or(self.warning);
        let warned = (self.warned + self.refused, warning);
        Ok(Propagated { trials: self.trials, settled, outputs, contributions, warned })
    }
}

fn batch(plan: &Plan<'_>, scripts: &Scripts, number: u64) -> Batch {
    let mut random = Random::new(plan.seed, number);
    let mut batch = Batch::default();
    let mut errors = vec![0.0; plan.spreads.len()];
    for _ in 0..BATCH {
        for (error, spread) in errors.iter_mut().zip(plan.spreads.values()) {
            *error = spread.draw(&mut random);
        }
        batch.add(plan, scripts, &errors);
    }
    batch.summaries = batch.numbers.values().map(|numbers| Summary::of(numbers)).collect();
    batch
}

fn yes_or_no(truth: bool) -> &'static str {
    if truth { "yes" } else { "no" }
}

impl Batch {
    /// One trial.
    fn add(&mut self, plan: &Plan<'_>, scripts: &Scripts, errors: &[f64]) {
        let mut inputs = plan.inputs.clone();
        for (name, error) in plan.spreads.keys().zip(errors) {
            if let Some(value) = inputs.get_mut(name) {
                moved(value, *error);
            }
        }
        match trial(plan, scripts, inputs) {
            Ok(outcome) => self.take(outcome),
            Err(message) => {
                self.refused += 1;
                self.first.get_or_insert(message);
            }
        }
    }

    fn take(&mut self, outcome: Outcome) {
        for (name, value) in outcome.outputs {
            match value {
                Value::Number(number) => self.number(&name, number),
                Value::Quantity(quantity) => self.number(&name, quantity.si),
                Value::Text(text) => self.text(&name, &text),
                Value::Truth(truth) => self.text(&name, yes_or_no(truth)),
                // Of ranges, lists and records nothing is said.
                _ => {}
            }
        }
        if let Some(warning) = outcome.warnings.into_iter().next() {
            self.warned += 1;
            self.warning.get_or_insert(warning);
        }
    }

    fn number(&mut self, name: &str, number: f64) {
        match self.numbers.get_mut(name) {
            Some(numbers) => numbers.push(number),
            None => {
                self.numbers.insert(name.to_owned(), vec![number]);
            }
        }
    }

    fn text(&mut self, name: &str, text: &str) {
        if !self.texts.contains_key(name) {
            self.texts.insert(name.to_owned(), BTreeMap::new());
        }
        let Some(counts) = self.texts.get_mut(name) else { return };
        if let Some(count) = counts.get_mut(text) {
            *count += 1;
        } else if counts.len() <= VERDICTS {
            counts.insert(text.to_owned(), 1);
        }
    }
}

fn trial(plan: &Plan<'_>, scripts: &Scripts, inputs: IndexMap<String, Value>) -> Result<Outcome, String> {
    let first = |problems: Vec<standpipe_diagnostic::Diagnostic>| problems.into_iter().next().map(|one| one.message);
    let checked = plan
        .sheet
        .check_inputs(inputs, plan.units, &Places::default())
        .map_err(|refused| first(refused.problems).unwrap_or_else(|| not_known(&refused.unknown)))?;
    plan.sheet.run_checked(scripts, checked).map_err(|fault| match fault {
        script::Fault::Failed(problem) => problem.message,
        script::Fault::NotShown(names) => not_known(&names),
    })
}

fn not_known(names: &[String]) -> String {
    format!("{} is not known", names.join(", "))
}

fn moved(value: &mut Value, error: f64) {
    match value {
        Value::Number(number) => *number += error,
        Value::Quantity(quantity) => {
            *quantity = Quantity { si: quantity.si + error, written: None, ..quantity.clone() }
        }
        _ => {}
    }
}

/// First-order contributions, as a budget of JCGM 100:2008 (GUM) 5.1.3 has them. An input at the edge of what the sheet
/// takes has none.
fn contributions(plan: &Plan<'_>, scripts: &Scripts) -> IndexMap<String, IndexMap<String, f64>> {
    let mut all: IndexMap<String, IndexMap<String, f64>> = IndexMap::new();
    for (name, spread) in plan.spreads {
        let at = |error: f64| {
            let mut inputs = plan.inputs.clone();
            if let Some(value) = inputs.get_mut(name) {
                moved(value, error);
            }
            trial(plan, scripts, inputs).ok()
        };
        let (Some(above), Some(below)) = (at(spread.standard()), at(-spread.standard())) else { continue };
        for (output, value) in &above.outputs {
            let number = |value: &Value| match value {
                Value::Number(number) => Some(*number),
                Value::Quantity(quantity) => Some(quantity.si),
                _ => None,
            };
            let other = below.outputs.get(output).and_then(number);
            if let (Some(above), Some(below)) = (number(value), other) {
                all.entry(output.clone()).or_default().insert(name.clone(), ((above - below) / 2.0).abs());
            }
        }
    }
    all
}
