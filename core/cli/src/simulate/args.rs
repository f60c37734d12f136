//! What `simulate` is asked.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use standpipe_job::plan::typed;
use standpipe_simulate::without::Part;
use standpipe_simulate::{Changes, Question};

#[derive(Debug, ClapArgs)]
pub struct Simulate {
    /// The procedure
    #[arg(value_name = "PROCEDURE")]
    pub procedure: String,
    /// Family of the units, or FAMILY/VARIANT
    #[arg(long, value_name = "FAMILY[/VARIANT]")]
    pub family: String,
    /// The model of the units; by default the only one that serves the procedure and is not like another
    #[arg(long, value_name = "ID")]
    pub model: Option<String>,
    /// Who works: what they do wrong, and how often
    #[arg(long, value_name = "ID", default_value = "careful")]
    pub people: String,
    /// How many jobs
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(1..))]
    pub jobs: u32,
    /// The seed of all draws
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Only these jobs, by number: the first, and the one after the last
    #[arg(long, value_name = "A..B", value_parser = runs, conflicts_with = "jobs")]
    pub runs: Option<std::ops::Range<u32>>,
    /// Multiply all chances, of faults and of people, by this
    #[arg(long, value_name = "FACTOR", default_value_t = 1.0)]
    pub rates: f64,
    /// A fault that every job has, and no others; may be given more than once
    #[arg(long, value_name = "ID")]
    pub fault: Vec<String>,
    /// Nothing is wrong with units and tools
    #[arg(long, conflicts_with = "fault")]
    pub no_faults: bool,
    /// Without the gate of this step; may be given more than once
    #[arg(long, value_name = "STEP")]
    pub without: Vec<String>,
    /// Without the witness at this step
    #[arg(long, value_name = "STEP")]
    pub without_witness: Vec<String>,
    /// Without this step
    #[arg(long, value_name = "STEP")]
    pub without_step: Vec<String>,
    /// Without any gate
    #[arg(long)]
    pub without_gates: bool,
    /// Another value: a path of the family, such as `level.window=50..60 degC`, or a step and its key, such as
    /// `level-rounds.repeat.at_most=3`; may be given more than once
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Simulate nothing, but add up what the same command with `--runs` and `--format json` wrote, here or on other machines
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["runs", "jobs", "gates", "inputs", "keep"])]
    pub merge: Vec<PathBuf>,
    /// What each gate and witness is worth: all jobs again without each of them
    #[arg(long)]
    pub gates: bool,
    /// What moves the number that the model says matters: each job again with each quantity of another unit
    #[arg(long)]
    pub inputs: bool,
    /// Don't run jobs with a fault again without it: nothing then shows what stopped a fault
    #[arg(long)]
    pub unpaired: bool,
    /// A harm, or `any`, and the share of jobs that may be harmed though their record claims that all is shown; exit code 1
    /// unless that is shown
    #[arg(long, value_name = "HARM SHARE")]
    pub at_most: Option<String>,
    /// Keep this many jobs with their journals, first those that are harmed though shown
    #[arg(long, value_name = "N", requires = "into")]
    pub keep: Option<usize>,
    /// Where they are kept, each in a folder of its own
    #[arg(long, value_name = "DIR", requires = "keep")]
    pub into: Option<PathBuf>,
    /// How many threads; by default as many as there are cores
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub threads: Option<u16>,
}

impl Simulate {
    pub fn question(&self) -> Question {
        let parts = [
            ("--without", &self.without, Part::Gate),
            ("--without-witness", &self.without_witness, Part::Witness),
            ("--without-step", &self.without_step, Part::Step),
        ];
        let steps = |(name, ids, part): (&'static str, &Vec<String>, Part)| {
            ids.iter().map(move |id| (typed(name, id), part)).collect::<Vec<_>>()
        };
        Question {
            procedure: typed("<PROCEDURE>", &self.procedure),
            family: typed("--family", &self.family),
            model: self.model.as_ref().map(|id| typed("--model", id)),
            people: typed("--people", &self.people),
            rates: self.rates,
            seed: self.seed,
            changes: Changes {
                set: self.set.iter().map(|setting| typed("--set", setting)).collect(),
                without: parts.into_iter().flat_map(steps).collect(),
                without_gates: self.without_gates,
            },
        }
    }

    pub fn threads(&self) -> usize {
        let cores = || std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
        self.threads.map_or_else(cores, usize::from)
    }
}

/// `A..B`, with something in it.
fn runs(text: &str) -> Result<std::ops::Range<u32>, String> {
    let range = text.split_once("..").and_then(|(from, to)| Some(from.trim().parse().ok()?..to.trim().parse().ok()?));
    range
        .filter(|range| !range.is_empty())
        .ok_or_else(|| "expected two numbers, the smaller first, such as 0..5000".to_owned())
}
