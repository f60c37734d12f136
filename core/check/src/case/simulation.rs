//! Cases of simulations: many jobs over invented units and people, and what may come of them.

use std::sync::atomic::{AtomicBool, AtomicU32};

use super::raw::{RawSimulation, RawSimulationExpect};
use super::written::{faulty, one_of};
use super::{Bench, Line, Report};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::Kind;
use standpipe_simulate::count::interval;
use standpipe_simulate::limit::{limit, share, word_first};
use standpipe_simulate::without::Part;
use standpipe_simulate::{Changes, Claim, Question, Settings, Stand, Tally};
use standpipe_yaml::{self as yaml, At, Node};

#[derive(Debug)]
pub struct SimulationCase {
    pub question: Question,
    jobs: u32,
    faults: Vec<At<String>>,
    at_most: Vec<AtMost>,
    at_least: Vec<AtLeast>,
    /// Faults, each with a step whose gate has to notice it.
    noticed_at: Vec<(At<String>, At<String>)>,
}

/// So many may be harmed though shown.
#[derive(Debug)]
struct AtMost {
    written: At<String>,
    /// Number of the harm, or any.
    harm: Option<usize>,
    share: f64,
}

/// So many have to end so.
#[derive(Debug)]
struct AtLeast {
    written: At<String>,
    claim: usize,
    share: f64,
}

/// Jobs of a case that does not say how many, and who does them.
const JOBS: u32 = 200;
const PEOPLE: &str = "careful";
/// How often an interval may miss what is true.
const ALPHA: f64 = 0.05;

impl SimulationCase {
    /// Family of the units, without the variant.
    pub fn family(&self) -> &str {
        self.question.family.split('/').next().unwrap_or_default()
    }
}

/// Everything that can be told without doing a job.
pub(super) fn read(
    raw: RawSimulation,
    expect: &Node,
    parsed: &Parsed,
    problems: &mut Problems,
) -> Option<SimulationCase> {
    let without = raw.without.into_iter().map(|step| (step, Part::Gate)).collect();
    let question = Question {
        procedure: raw.procedure,
        family: raw.family,
        model: raw.model,
        people: raw.people.unwrap_or_else(|| typed("people", PEOPLE)),
        rates: 1.0,
        seed: raw.seed.map_or(1, |seed| seed.value),
        changes: Changes { set: raw.set, without, without_gates: false },
    };
    let family = question.family.split('/').next().unwrap_or_default();
    let family = At::new(family.to_owned(), question.family.place.clone());
    for (kind, id) in
        [(Kind::Procedure, &question.procedure), (Kind::Family, &family), (Kind::People, &question.people)]
    {
        parsed.library.find(kind, id, problems)?;
    }
    let model = question.model(parsed, problems)?;
    let expected: RawSimulationExpect = yaml::read_node(expect, problems)?;
    if expected.at_most.is_empty() && expected.at_least.is_empty() && expected.noticed_at.is_empty() {
        problems.push(
            Diagnostic::error(Code::FaultyCase, &expect.head(), "nothing is expected")
                .expected("at least one of `at_most`, `at_least` and `noticed_at`"),
        );
        return None;
    }
    let mut case = SimulationCase {
        question,
        jobs: raw.jobs.map_or(JOBS, |jobs| jobs.value),
        faults: raw.faults,
        at_most: Vec::new(),
        at_least: Vec::new(),
        noticed_at: expected.noticed_at.into_iter().collect(),
    };
    let mut unfit = |problem: Box<Diagnostic>| problems.push(Diagnostic { code: Code::FaultyCase, ..*problem });
    for written in expected.at_most {
        match limit(&written, &model) {
            Ok((harm, share)) => case.at_most.push(AtMost { written, harm, share }),
            Err(problem) => unfit(problem),
        }
    }
    for written in expected.at_least {
        let (word, rest) = word_first(&written);
        let claim = Claim::ALL.iter().position(|claim| Some(claim.words()) == word);
        match (claim, share(&written, rest, "behind how a job ends")) {
            (Some(claim), Ok(share)) => case.at_least.push(AtLeast { claim, share, written }),
            (None, _) => {
                let words = Claim::ALL.map(Claim::words);
                one_of(&At::new(word.unwrap_or_default().to_owned(), written.place), &words, problems);
                return None;
            }
            (_, Err(problem)) => unfit(problem),
        }
    }
    let known = || model.faults.keys().map(String::as_str);
    for fault in case.faults.iter().chain(case.noticed_at.iter().map(|(fault, _)| fault)) {
        if !model.faults.contains_key(fault.as_str()) {
            let problem = faulty(fault, format!("the model `{}` knows no fault `{}`", model.id, fault.value));
            problems.push(problem.nearest(fault, known(), known().collect::<Vec<_>>().join(", ")));
        }
    }
    let steps = if case.noticed_at.is_empty() { None } else { steps(&case.question, parsed) };
    for (_, step) in &case.noticed_at {
        if let Some(steps) = steps.as_ref().filter(|steps| !steps.contains(&step.value)) {
            let message = format!("`{}` has no step `{}`", case.question.procedure.value, step.value);
            let known = steps.iter().map(String::as_str);
            let problem = faulty(step, message);
            problems.push(problem.nearest(step, known, "`standpipe show procedure ID` lists the steps of a procedure"));
        }
    }
    Some(case)
}

/// All that its jobs could come to, with what the shop of the model lays over it. `None` for what can't be simulated: why is
/// said where that stands.
fn steps(question: &Question, parsed: &Parsed) -> Option<Vec<String>> {
    let mut quiet = Problems::new();
    let stand = Stand::new(question, parsed.library.files(), parsed, None, &mut quiet)?;
    let plan = stand.plan(&stand.files, None, &mut quiet)?;
    let all = plan.procedures.values().flat_map(|procedure| procedure.all_steps());
    Some(all.map(|step| step.id.value.clone()).collect())
}

pub(super) fn run(case: &SimulationCase, bench: &Bench<'_>, report: &mut Report) {
    let mut problems = Problems::new();
    let done = stand(case, bench, &mut problems);
    problems.retain(Diagnostic::is_error);
    report.problems.extend(problems);
    let Some((stand, tally)) = done else { return };
    report.reached.steps.extend(tally.reached.iter().cloned());
    for AtMost { written, harm, share } in &case.at_most {
        let name = harm.and_then(|harm| stand.model.harms.get_index(harm)).map_or("any", |(id, _)| id.as_str());
        let found = interval(tally.shown_and_harmed(*harm), tally.jobs, ALPHA);
        report.lines.push(Line {
            holds: found.high <= *share,
            expected: format!("at most {}", percent(*share)),
            found: counted(tally.shown_and_harmed(*harm), tally.jobs),
            ..line(format!("shown and harmed, {name}"), &written.place)
        });
    }
    for AtLeast { written, claim, share } in &case.at_least {
        let found = interval(tally.claims[*claim], tally.jobs, ALPHA);
        report.lines.push(Line {
            holds: found.low >= *share,
            expected: format!("at least {}", percent(*share)),
            found: counted(tally.claims[*claim], tally.jobs),
            ..line(Claim::ALL[*claim].words().to_owned(), &written.place)
        });
    }
    for (fault, step) in &case.noticed_at {
        let of = stand.model.faults.get_index_of(fault.as_str()).and_then(|index| tally.faults.get(index));
        let (jobs, noticed) = of.map_or((0, 0), |of| (of.jobs, of.stopped_by.get(step.as_str()).copied().unwrap_or(0)));
        report.lines.push(Line {
            holds: noticed > 0,
            expected: "in some job".to_owned(),
            found: format!("{noticed} of {jobs}"),
            ..line(format!("{} noticed at {}", fault.value, step.value), &step.place)
        });
    }
}

fn stand(case: &SimulationCase, bench: &Bench<'_>, problems: &mut Problems) -> Option<(Stand, Tally)> {
    let stand = Stand::new(&case.question, bench.files, bench.parsed, None, problems)?;
    let (always, by_chance) = stand.faults(&case.faults, problems)?;
    let paired = !case.noticed_at.is_empty();
    let settings = Settings { seed: stand.seed, always, by_chance, rates: case.question.rates, paired };
    let mut tally = Tally::new(stand.model.harms.len(), stand.model.faults.len());
    // What is wrong with plan or model is told here, once.
    stand.bench(&stand.files, problems)?;
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
    let made = || stand.bench(&stand.files, &mut Problems::new());
    let (stop, done) = (AtomicBool::new(false), AtomicU32::new(0));
    if let Err(failed) = settings.run(0..case.jobs, threads, &stop, &done, &made, &mut tally) {
        problems.extend(failed.map(|failed| failed.told(&settings)));
        return None;
    }
    Some((stand, tally))
}

fn line(what: String, place: &Place) -> Line {
    Line {
        what,
        expected: String::new(),
        found: String::new(),
        difference: None,
        tolerance: None,
        holds: false,
        place: place.clone(),
    }
}

fn percent(share: f64) -> String {
    // Three digits, without what floating-point numbers add.
    format!("{} %", (share * 100_000.0).round() / 1_000.0)
}

/// So many, with the interval in which their share lies.
fn counted(count: u64, jobs: u64) -> String {
    let found = interval(count, jobs, ALPHA);
    format!("{count} of {jobs}: {:.1} to {:.1} %", found.low * 100.0, found.high * 100.0)
}
