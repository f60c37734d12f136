//! A model as it is written.

use std::hash::Hash;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use standpipe_yaml::{At, Node, Script};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawModel {
    /// Id of the model: the name of its file.
    ///
    /// Example: `model: pan-bench`
    pub model: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    #[serde(default)]
    pub title: Option<At<String>>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    pub invented: bool,
    /// Another model, whose lines hold here too, except for those that are given anew.
    ///
    /// Example: `like: pan-bench`
    #[serde(default)]
    pub like: Option<At<String>>,
    /// The form whose families its units are of.
    ///
    /// Example: `form: automatic-transmission`
    #[serde(default)]
    pub form: Option<At<String>>,
    /// Procedures that it can answer.
    ///
    /// Example: `serves: [pan-service-overflow]`
    #[serde(default)]
    pub serves: Vec<At<String>>,
    /// The script of its functions; `fresh` and `advance` are among them.
    ///
    /// Example: `script: pan_bench`
    #[serde(default)]
    pub script: Option<At<String>>,
    /// A shop file in its plugin, for where none is named.
    ///
    /// Example: `shop: cases/shop.yaml`
    #[serde(default)]
    pub shop: Option<At<String>>,
    /// The facts of its jobs, as a job file has them.
    ///
    /// Example: `job: { vehicle: { plate: X 1 } }`
    #[serde(default)]
    pub job: IndexMap<At<String>, Node>,
    /// What is known of the family, by name, worked out once; scripts see it beside the hidden state.
    ///
    /// Example: `known: { pan_count: spec.fasteners.pan.count }`
    #[serde(default)]
    pub known: IndexMap<At<String>, Script>,
    /// What differs from unit to unit.
    ///
    /// Example: `draws: { bay: { normal: [18 degC, 3 degC_diff] } }`
    #[serde(default)]
    pub draws: IndexMap<At<String>, At<RawSpread>>,
    /// What can be wrong with a unit, and in what share of jobs.
    ///
    /// Example: `faults: { short: { title: it came in short, chance: 0.05, source: own choice } }`
    #[serde(default)]
    pub faults: IndexMap<At<String>, RawFault>,
    /// The truth behind each answer, by the name of the value, or `step.name`.
    ///
    /// Example: `truth: { sump_temperature: { is: temperature } }`
    #[serde(default)]
    pub truth: IndexMap<At<String>, At<RawTruth>>,
    /// Functions that change the hidden state: when a step was really done, or something happened.
    ///
    /// Example: `effects: { change-open: opened }`
    #[serde(default)]
    pub effects: IndexMap<At<String>, At<String>>,
    /// How long things take, by kind of step or by step.
    ///
    /// Example: `times: { do: 90 s }`
    #[serde(default)]
    pub times: IndexMap<At<String>, At<String>>,
    /// When somebody calls a procedure that is reachable, told by a function.
    ///
    /// Example: `calls: { fill-plug-seized: seized }`
    #[serde(default)]
    pub calls: IndexMap<At<String>, At<String>>,
    /// What can have gone wrong in truth when a job has ended.
    ///
    /// Example: `harms: { low: { title: left short, is: short } }`
    #[serde(default)]
    pub harms: IndexMap<At<String>, RawHarm>,
    /// A function whose result must stay what it was at the start.
    ///
    /// Example: `conserved: litres`
    #[serde(default)]
    pub conserved: Option<At<String>>,
    /// A function that gives the number that matters in the end: `--inputs` says what moves it.
    ///
    /// Example: `matters: level_error`
    #[serde(default)]
    pub matters: Option<At<String>>,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [own choice]`
    pub sources: Vec<At<String>>,
}

impl RawModel {
    /// This model on top of the one that it is like.
    pub fn on(self, mut base: Self) -> Self {
        base.name_functions_in_full();
        over(&mut base.job, self.job);
        over(&mut base.known, self.known);
        over(&mut base.draws, self.draws);
        over(&mut base.faults, self.faults);
        over(&mut base.truth, self.truth);
        over(&mut base.effects, self.effects);
        over(&mut base.times, self.times);
        over(&mut base.calls, self.calls);
        over(&mut base.harms, self.harms);
        base.sources.extend(self.sources);
        Self {
            model: self.model,
            title: self.title,
            invented: self.invented || base.invented,
            like: self.like,
            form: self.form.or(base.form),
            serves: if self.serves.is_empty() { base.serves } else { self.serves },
            script: self.script.or(base.script),
            shop: self.shop.or(base.shop),
            conserved: self.conserved.or(base.conserved),
            matters: self.matters.or(base.matters),
            ..base
        }
    }

    /// Its functions are those of its own script, in whatever model they stand.
    fn name_functions_in_full(&mut self) {
        let Some(script) = &self.script else { return };
        let truth = self.truth.values_mut().flat_map(|truth| [truth.value.is.as_mut(), truth.value.sets.as_mut()]);
        let named = truth.flatten().chain(self.effects.values_mut()).chain(self.calls.values_mut());
        let harms = self.harms.values_mut().map(|harm| &mut harm.is);
        for function in named.chain(harms).chain(self.conserved.as_mut()).chain(self.matters.as_mut()) {
            function.value = in_full(&script.value, &function.value);
        }
    }
}

/// As scripts are called: `script::function`.
pub fn in_full(script: &str, function: &str) -> String {
    if function.contains("::") { function.to_owned() } else { format!("{script}::{function}") }
}

fn over<K: Hash + Eq, V>(base: &mut IndexMap<K, V>, own: IndexMap<K, V>) {
    for (key, value) in own {
        // The place of a line given anew is its own.
        base.shift_remove(&key);
        base.insert(key, value);
    }
}

/// How a number is spread: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawSpread {
    /// Evenly between two ends.
    ///
    /// Example: `uniform: 10..25 degC`
    #[serde(default)]
    pub uniform: Option<At<String>>,
    /// Mean and standard deviation.
    ///
    /// Example: `normal: [18 degC, 3 degC_diff]`
    #[serde(default)]
    pub normal: Option<(At<String>, At<String>)>,
    /// Median, and the factor that one standard deviation is.
    ///
    /// Example: `lognormal: [2 min, 1.5]`
    #[serde(default)]
    pub lognormal: Option<(At<String>, At<f64>)>,
    /// A whole number between two ends, both included.
    ///
    /// Example: `whole: 1..6`
    #[serde(default)]
    pub whole: Option<At<String>>,
    /// Values with their weights.
    ///
    /// Example: `one_of: { light: 1, severe: 2 }`
    #[serde(default)]
    pub one_of: IndexMap<At<String>, f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawFault {
    /// What is wrong.
    ///
    /// Example: `title: it came in short`
    #[serde(default)]
    pub title: Option<At<String>>,
    /// In what share of jobs.
    ///
    /// Example: `chance: 0.05`
    pub chance: At<f64>,
    /// Draws that differ with it.
    ///
    /// Example: `draws: { fill: { uniform: 3..4 L } }`
    #[serde(default)]
    pub draws: IndexMap<At<String>, At<RawSpread>>,
    /// What it does to instruments, by kind.
    ///
    /// Example: `instruments: { jug: { by: 0.1 L } }`
    #[serde(default)]
    pub instruments: IndexMap<At<String>, At<RawOff>>,
    /// Where the chance is from.
    ///
    /// Example: `source: own choice`
    pub source: At<String>,
}

/// What is wrong with an instrument: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawOff {
    /// By this much more than it is.
    ///
    /// Example: `by: 0.1 L`
    #[serde(default)]
    pub by: Option<At<String>>,
    /// This many times what it is.
    ///
    /// Example: `times: 1.02`
    #[serde(default)]
    pub times: Option<At<f64>>,
    /// It shows what it showed first.
    ///
    /// Example: `stuck: true`
    #[serde(default)]
    pub stuck: bool,
}

/// What is true of what is asked: exactly one of these.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawTruth {
    /// A function that tells it.
    ///
    /// Example: `is: temperature`
    #[serde(default)]
    pub is: Option<At<String>>,
    /// A function that says what somebody wants the instrument to show: what they set rather than read.
    ///
    /// Example: `sets: wanted`
    #[serde(default)]
    pub sets: Option<At<String>>,
    /// Always the same words.
    ///
    /// Example: `says: none stored`
    #[serde(default)]
    pub says: Option<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RawHarm {
    /// What went wrong.
    ///
    /// Example: `title: left short`
    #[serde(default)]
    pub title: Option<At<String>>,
    /// A function that is true of the hidden state when the job has ended.
    ///
    /// Example: `is: short`
    pub is: At<String>,
}
