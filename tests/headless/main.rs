//! Jobs that an answers file drives, with their journal.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

#[path = "../machine/bench.rs"]
#[allow(dead_code, reason = "shared with the tests of the machine")]
mod bench;

use std::fs;
use std::path::Path;

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Problems};
use standpipe_drivers::answers::Answers;
use standpipe_drivers::headless::{self, End, Outcome};
use standpipe_job::journal::evidence;
use standpipe_job::plan::{Plan, kept};
use standpipe_job::replay::{batches, input_of, replay, verify};
use standpipe_job::{Event, Given, Hold, Journal, Machine, OpenJob, Origin, Phase, Record, What};

use bench::plan;

const DAY: &str = "
steps:
  - id: beneath
    read: { beneath: { is: text, ask: Who is beneath? } }
    stale: [pause]
  - { id: warm, read: { heat: { is: temperature, instrument: reader } }, gate: { must: heat < 50.degC, otherwise: wait } }
  - { id: tighten, each: { of: spec.ring, do: Tighten it. } }
  - { id: look, pick: { drip: [nothing, thin drip] }, evidence: photo }
  - { id: wipe, do: Wipe. }
";

const ANSWERS: &str = "\
answers: day
list:
  - { step: beneath, at: \"2026-11-23T08:05:00\", by: ann, enter: nobody }
  - { step: warm, at: \"+1 min\", by: ann, enter: { heat: 61.5 } }
  - { step: warm, at: \"+90 min\", by: ann, enter: { heat: 41.5 °C } }
  - { at: \"+0 s\", by: ann, note: still drips }
  - { at: \"+0 s\", by: ann, note: \"another: größer\" }
  - { at: \"2026-11-23T09:00:00\", entered_at: \"+1 min\", by: ann, note: late }
  - { step: tighten, at: \"2026-11-23T09:40:00\", by: ann, enter: done }
  - { step: tighten, item: full/1, at: \"+1 min\", by: ann, enter: done }
  - { at: \"+1 min\", by: ann, pause: true }
  - { at: \"+15 h\", by: ann, resume: true }
  - { step: beneath, at: \"+1 min\", by: ann, enter: { beneath: nobody } }
  - { step: tighten, at: \"+1 min\", by: ann, enter: done }
  - { step: look, at: \"+1 min\", by: ann, enter: thin drip, evidence: photo.jpg }
  - { at: \"+1 min\", by: ann, correct: { heat: 41.0 degC, because: misread } }
  - { step: wipe, at: \"+1 min\", by: ann, enter: done }
";

struct Bench {
    dir: tempfile::TempDir,
    machine: Machine,
}

impl Bench {
    fn new(procedure: &str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("photo.jpg"), b"a photo").unwrap();
        let plan = plan(procedure, &[]).unwrap_or_else(|problems| panic!("{problems}"));
        Self { dir, machine: Machine::new(plan) }
    }

    fn journal(&self) -> std::path::PathBuf {
        self.dir.path().join("journal")
    }

    /// Begins the journal, or goes on with it, as `run` does.
    fn run(&self, answers: &str) -> Outcome {
        self.run_in(&self.journal(), answers)
    }

    fn run_in(&self, dir: &Path, answers: &str) -> Outcome {
        let mut problems = Problems::new();
        let answers = Answers::read(&Source::new("answers.yaml", answers), &mut problems);
        let answers = answers.unwrap_or_else(|| panic!("{problems:?}"));
        let hold = match Journal::is_in(dir) {
            true => Hold::Write,
            false => Hold::Begin(Box::new(self.plan())),
        };
        let mut job = OpenJob::open(dir, hold).unwrap_or_else(|problems| panic!("{problems:?}"));
        headless::run(&mut job, &answers, self.dir.path(), None)
    }

    /// The plan of the machine once more.
    fn plan(&self) -> Plan {
        kept(&self.machine.plan.snapshot.kept(), "plan.json").unwrap()
    }

    fn records(&self) -> Vec<Record> {
        let contents = Journal::read(&self.journal()).unwrap();
        assert!(contents.problems.is_empty(), "{:?}", contents.problems);
        contents.records
    }
}

/// The first so many answers.
fn first(count: usize) -> String {
    ANSWERS.lines().take(2 + count).map(|line| format!("{line}\n")).collect()
}

fn message(outcome: &Outcome) -> (Code, usize, String) {
    assert_eq!(outcome.problems.len(), 1, "{:?}", outcome.problems);
    let problem = &outcome.problems[0];
    (problem.code, problem.place.line(), problem.message.clone())
}

#[test]
fn a_day_runs_to_its_end_and_the_journal_tells_it_again() {
    let bench = Bench::new(DAY);
    let outcome = bench.run(ANSWERS);
    assert!(outcome.problems.is_empty(), "{:?}", outcome.problems);
    assert_eq!((outcome.end, outcome.code(), outcome.taken, outcome.skipped), (End::Finished, 0, 15, 0));
    let records = bench.records();
    assert!(records.iter().all(|record| record.origin == Origin::Answers));
    assert_eq!(replay(&records).phase, Phase::Finished);
    assert_eq!(format!("{:?}", replay(&records)), format!("{:?}", outcome.state));
    let late =
        records.iter().find(|record| matches!(&record.event, Event::Noted { text, .. } if text == "late")).unwrap();
    assert_eq!(late.at.to_string(), "2026-11-23T09:00:00+00:00");
    assert_eq!(late.entered_at.unwrap().to_string(), "2026-11-23T09:37:00+00:00");
    assert_eq!(evidence::named(&records).count(), 1);
    assert!(evidence::verify(&bench.journal(), &records).is_empty());
    let kept = evidence::path_of(&bench.journal(), evidence::named(&records).next().unwrap().1).unwrap();
    fs::write(kept, b"another photo").unwrap();
    assert_eq!(evidence::verify(&bench.journal(), &records)[0].code, Code::BrokenJournal);
}

#[test]
fn every_recorded_input_is_decided_the_same_again() {
    let bench = Bench::new(DAY);
    bench.run(ANSWERS);
    let contents = Journal::read(&bench.journal()).unwrap();
    let inputs = batches(&contents.records, &contents.ends).into_iter().filter_map(input_of).count();
    assert_eq!(inputs, 16, "the opening and fifteen answers");
    let machine = Machine::new(kept(&contents.plan, "plan.json").unwrap());
    let differences = verify(&machine, &contents.records, &contents.ends);
    assert!(differences.is_empty(), "{differences:?}");
    // A value that was not computed from what was entered shows up.
    let mut changed = contents.records.clone();
    for record in &mut changed {
        if let Event::Judged { verdict, .. } = &mut record.event {
            *verdict = standpipe_job::Verdict::NotShown;
        }
    }
    assert!(!verify(&machine, &changed, &contents.ends).is_empty());
}

#[test]
fn a_run_that_was_killed_at_any_batch_goes_on_to_the_same_journal() {
    let bench = Bench::new(DAY);
    bench.run(ANSWERS);
    let whole = fs::read(bench.journal().join("journal.jsonl")).unwrap();
    let mut cut = 0;
    let mut batches = 0;
    for line in whole.split_inclusive(|byte| *byte == b'\n') {
        let starts = cut;
        cut += line.len();
        if !String::from_utf8_lossy(line).contains(",\"end\":true,") || cut == whole.len() {
            continue;
        }
        batches += 1;
        let dir = bench.dir.path().join(format!("killed-{starts}"));
        fs::create_dir(&dir).unwrap();
        for entry in fs::read_dir(bench.journal()).unwrap().map(Result::unwrap) {
            if entry.path().extension().is_some_and(|kind| kind == "json" || kind == "jsonl") {
                fs::copy(entry.path(), dir.join(entry.file_name())).unwrap();
            }
        }
        fs::write(dir.join("journal.jsonl"), &whole[..cut]).unwrap();
        let outcome = bench.run_in(&dir, ANSWERS);
        assert!(outcome.end == End::Finished && outcome.problems.is_empty(), "killed after {cut} bytes: {outcome:?}");
        assert_eq!(outcome.skipped + outcome.taken, 15);
        assert_eq!(fs::read(dir.join("journal.jsonl")).unwrap(), whole, "killed after {cut} bytes");
    }
    assert_eq!(batches, 15);
}

#[test]
fn a_missing_answer_names_the_step_that_waits_and_the_next_run_goes_on_there() {
    let bench = Bench::new(DAY);
    let outcome = bench.run(&first(3));
    assert_eq!((outcome.end, outcome.code()), (End::Waiting, 3));
    let (code, line, text) = message(&outcome);
    assert_eq!((code, line), (Code::MissingAnswer, 5));
    assert!(text.contains("`tighten[][hand/1]` waits"), "{text}");
    let outcome = bench.run(ANSWERS);
    assert_eq!((outcome.end, outcome.skipped, outcome.taken), (End::Finished, 3, 12));
}

#[test]
fn a_paused_job_is_not_finished() {
    let bench = Bench::new(DAY);
    let outcome = bench.run(&first(9));
    assert_eq!((outcome.end, outcome.code()), (End::Paused, 3));
    assert!(outcome.problems.is_empty(), "{:?}", outcome.problems);
}

#[test]
fn an_answer_that_does_not_fit_is_refused_at_its_line_and_what_came_before_is_kept() {
    let bench = Bench::new(DAY);
    let cases = [
        ("{ step: wipe, at: \"2026-11-23T08:07:00\", by: ann, enter: done }", Code::UnfitAnswer, "`warm` is asked"),
        ("{ step: warm, at: \"2026-11-23T08:07:00\", by: ann, enter: { heat: 3 L } }", Code::UnfitAnswer, "heat"),
        ("{ step: warm, at: \"2026-11-23T08:07:00\", by: ann, enter: { haet: 30 } }", Code::UnfitAnswer, "haet"),
        ("{ step: warm, at: \"2026-11-23T08:07:00\", by: ann, enter: done }", Code::UnfitAnswer, "nothing"),
        (
            "{ step: warm, at: \"2026-11-23T08:07:00\", by: bob, enter: { heat: 30 } }",
            Code::UnfitAnswer,
            "in the hands of ann",
        ),
        ("{ step: warm, at: \"2026-11-23T08:07:00\", by: nan, enter: { heat: 30 } }", Code::UnknownPerson, "nan"),
        (
            "{ step: warm, at: \"2026-11-23T08:04:00\", by: ann, enter: { heat: 30 } }",
            Code::TimeReversed,
            "before the last entry",
        ),
        (
            "{ step: look, at: \"2026-11-23T08:07:00\", by: ann, skip: no light }",
            Code::UnfitAnswer,
            "`warm` is under way",
        ),
        ("{ at: \"2026-11-23T08:07:00\", by: ann, attach: no.jpg }", Code::UnreadableFile, "no.jpg"),
    ];
    let before = format!("{}  - ", first(1));
    for (index, (written, code, words)) in cases.into_iter().enumerate() {
        let dir = bench.dir.path().join(index.to_string());
        let outcome = bench.run_in(&dir, &format!("{before}{written}\n"));
        assert_eq!((outcome.end, outcome.code(), outcome.taken), (End::Refused, 2, 1), "{written}");
        let (found, line, text) = message(&outcome);
        assert_eq!((found, line), (code, 4), "{written}: {text}");
        assert!(text.contains(words), "{written}: {text}");
        assert_eq!(Journal::read(&dir).unwrap().records.last().unwrap().seq, outcome.state.seq);
    }
}

#[test]
fn answers_that_are_left_over_are_an_error_at_the_first_of_them() {
    let bench = Bench::new(DAY);
    let outcome = bench.run(&format!(
        "{ANSWERS}  - {{ at: \"+1 min\", by: ann, note: more }}\n  - {{ at: \"+1 min\", by: ann, note: more }}\n"
    ));
    assert_eq!((outcome.end, outcome.code()), (End::Finished, 2));
    let (code, line, text) = message(&outcome);
    assert_eq!((code, line), (Code::AnswersLeftOver, 18));
    assert!(text.contains("2 answers are left over"), "{text}");
}

#[test]
fn a_gate_that_holds_the_job_ends_the_run() {
    let bench = Bench::new(
        "steps:
  - { id: warm, read: { heat: { is: temperature } }, gate: { must: heat < 50.degC, otherwise: stop } }
  - { id: wipe, do: Wipe. }
",
    );
    let answers = "answers: a\nlist:\n  - { step: warm, at: \"2026-11-23T08:05:00\", by: ann, enter: 60 degC }\n";
    let outcome = bench.run(answers);
    assert_eq!((outcome.end, outcome.code()), (End::Stopped, 1));
    assert!(outcome.problems.is_empty());
    // What would have come next is left over; the gate is what matters.
    let more = format!("{answers}  - {{ step: wipe, at: \"+1 min\", by: ann, enter: done }}\n");
    let outcome = bench.run(&more);
    assert_eq!((outcome.end, outcome.code(), outcome.skipped), (End::Stopped, 1, 1));
    let (code, line, text) = message(&outcome);
    assert_eq!((code, line), (Code::AnswersLeftOver, 4));
    assert!(text.contains("held at `warm`"), "{text}");
    // A correction lets it go on.
    let right = format!(
        "{answers}  - {{ at: \"+1 min\", by: ann, correct: {{ heat: 40 degC, because: misread }} }}\n  - {{ step: wipe, at: \"+1 min\", by: ann, enter: done }}\n"
    );
    let outcome = bench.run(&right);
    assert_eq!((outcome.end, outcome.code(), outcome.skipped, outcome.taken), (End::Finished, 0, 1, 2));
}

#[test]
fn a_bare_word_needs_a_step_that_asks_for_one_thing() {
    let bench = Bench::new(
        "steps:
  - { id: wipe, do: Wipe. }
  - { id: both, read: { left: { is: text, ask: Left? }, right: { is: text, ask: Right? } } }
",
    );
    let at = "at: \"2026-11-23T08:05:00\", by: ann";
    let outcome = bench.run(&format!("answers: a\nlist:\n  - {{ step: wipe, {at}, enter: clean }}\n"));
    assert!(message(&outcome).2.contains("`wipe` is only confirmed"), "{:?}", outcome.problems);
    let outcome = bench.run(&format!(
        "answers: a\nlist:\n  - {{ step: wipe, {at}, enter: done }}\n  - {{ step: both, {at}, enter: yes please }}\n"
    ));
    assert!(message(&outcome).2.contains("asks for 2 values"), "{:?}", outcome.problems);
}

#[test]
fn a_job_that_was_left_under_way_by_hand_is_resumed_first() {
    let bench = Bench::new(DAY);
    {
        let mut job = OpenJob::open(&bench.journal(), Hold::Begin(Box::new(bench.plan()))).unwrap();
        job.give(Given::typed("ann", What::Open), "2026-11-23T08:00:00+00:00".parse().unwrap()).unwrap();
    }
    let outcome = bench.run(&first(1));
    assert_eq!((outcome.end, message(&outcome).1), (End::Refused, 3));
    let resumed = "answers: a\nlist:\n  - { at: \"2026-11-23T08:02:00\", by: ann, resume: true }\n  - { step: beneath, at: \"+1 min\", by: ann, enter: nobody }\n";
    assert_eq!(bench.run(resumed).end, End::Waiting);
}

#[test]
fn the_first_answer_needs_a_time_of_its_own_and_an_empty_list_gives_nothing() {
    let bench = Bench::new(DAY);
    let outcome = bench.run("answers: a\nlist:\n  - { step: beneath, at: \"+1 min\", by: ann, enter: nobody }\n");
    assert_eq!((outcome.end, message(&outcome).1), (End::Refused, 3));
    let outcome = bench.run("answers: a\nlist: []\n");
    assert_eq!((outcome.end, outcome.code(), message(&outcome).0), (End::Waiting, 3, Code::MissingAnswer));
    assert!(bench.records().is_empty());
}
