//! Corrected data for a job that is under way.

use std::path::Path;

use standpipe_job::journal::LINES;
use standpipe_job::plan::{Plan, Snapshot, renewed};
use standpipe_job::{Asked, Entry, Event, Given, Hold, Moment, NotKept, OpenJob, Pending, Verdict, What};
use standpipe_library::{File, Files, Layer};
use tempfile::TempDir;

use super::bench::{FAMILY, plan, plan_over};

const STEPS: &str = "
may_accept: [head]
steps:
  - { id: warm, await: { sample: heat, is: temperature, within: spec.window } }
  - { id: look, read: { feet: { is: count } }, gate: { must: feet < 50, otherwise: stop } }
  - { id: polish, do: Polish., when: 'spec.positions[1] == \"sideways\"' }
  - { id: turn, do: Turn., when: 'spec.positions[5] == \"up\"' }
  - { id: wipe, do: Wipe. }
";

fn now() -> Moment {
    "2026-11-23T08:00:00+01:00".parse().unwrap()
}

fn begun() -> (TempDir, OpenJob) {
    begun_on(STEPS)
}

fn begun_on(steps: &str) -> (TempDir, OpenJob) {
    let dir = tempfile::tempdir().unwrap();
    let plan = plan(steps, &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let mut job = OpenJob::open(&dir.path().join("job"), Hold::Begin(Box::new(plan))).unwrap();
    job.give(Given::typed("ann", What::Open), now()).unwrap();
    (dir, job)
}

fn enter(job: &mut OpenJob, step: &str, typed: &[(&str, &str)]) {
    let typed = typed.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    let what = What::Enter(Entry { step: step.to_owned(), typed, ..Entry::default() });
    job.give(Given::typed("ann", what), now()).unwrap();
}

/// The plan with another text in a file of its plugin.
fn corrected(job: &OpenJob, file: &str, from: &str, to: &str) -> Plan {
    let mut files = job.plan().snapshot.files.clone();
    let found = files.list.iter_mut().find(|one| one.plugin == "test" && one.path == file).unwrap();
    let text = found.source.text.replace(from, to);
    assert_ne!(text, found.source.text);
    *found = File::new(found.layer, "test", file, text);
    renewed(&job.plan().snapshot, &files).unwrap()
}

fn asks(asked: &Asked) -> &str {
    asked.on.as_ref().map_or("", |on| on.asks.as_str())
}

fn lines(job: &OpenJob) -> String {
    std::fs::read_to_string(job.dir().join(LINES)).unwrap()
}

fn look(dir: &Path) -> OpenJob {
    OpenJob::open(dir, Hold::Look).unwrap()
}

#[test]
fn what_was_held_against_another_range_is_asked_again() {
    let (_dir, mut job) = begun();
    enter(&mut job, "warm", &[("heat", "40 degC")]);
    assert_eq!(asks(&job.asked()), "look");
    let before = lines(&job);
    let plan = corrected(&job, "families/grebe.yaml", "35..45 degC", "46..55 degC");
    job.amend(plan, "bob", "The window was that of another kettle", now()).unwrap();
    assert_eq!(asks(&job.asked()), "warm");
    assert!(lines(&job).starts_with(&before), "nothing is rewritten");
    // Whoever opens it again goes on by the same data.
    let again = look(job.dir());
    assert!(again.problems().is_empty());
    assert_eq!((asks(&again.asked()), &again.plan().hash), ("warm", &job.plan().hash));
    enter(&mut job, "warm", &[("heat", "50 degC")]);
    assert_eq!(asks(&job.asked()), "look");
}

#[test]
fn a_gate_is_judged_again_and_a_branch_opens() {
    let (_dir, mut job) = begun();
    enter(&mut job, "warm", &[("heat", "40 degC")]);
    enter(&mut job, "look", &[("feet", "30")]);
    let plan = corrected(&job, "procedures/main.yaml", "feet < 50", "feet < 20");
    job.amend(plan, "bob", "Nobody has so many feet", now()).unwrap();
    let judged = job.records().iter().rev().find_map(|record| match &record.event {
        Event::Judged { verdict, supersedes, .. } => Some((*verdict, supersedes.is_some())),
        _ => None,
    });
    assert_eq!(judged, Some((Verdict::NotMet, true)));
    assert!(!matches!(job.pending(), Pending::Entry(_)), "{:?}", job.pending());
    let plan = corrected(&job, "procedures/main.yaml", "feet < 20", "feet < 40");
    job.amend(plan, "bob", "A few may have", now()).unwrap();
    let plan = corrected(&job, "families/grebe.yaml", "positions: [up, down]", "positions: [up, sideways]");
    job.amend(plan, "bob", "It does not go down", now()).unwrap();
    assert_eq!(asks(&job.asked()), "polish");
}

#[test]
fn a_job_that_a_fault_of_its_plan_holds_goes_on_once_that_is_mended() {
    let (_dir, mut job) = begun();
    enter(&mut job, "warm", &[("heat", "40 degC")]);
    enter(&mut job, "look", &[("feet", "3")]);
    assert!(matches!(job.pending(), Pending::Fault { .. }), "{:?}", job.pending());
    let plan = corrected(&job, "procedures/main.yaml", "positions[5]", "positions[0]");
    job.amend(plan, "bob", "There are two positions", now()).unwrap();
    assert_eq!(asks(&job.asked()), "turn");
}

#[test]
fn who_may_not_decide_it_and_data_that_lose_an_entry_are_refused_and_nothing_is_written() {
    let (_dir, mut job) = begun();
    enter(&mut job, "warm", &[("heat", "40 degC")]);
    let before = (lines(&job), std::fs::read_dir(job.dir()).unwrap().count());
    let refused = |job: &mut OpenJob, plan: Plan, by: &str, because: &str| match job.amend(plan, by, because, now()) {
        Err(NotKept::Refused(refusal)) => refusal.message,
        other => panic!("{other:?}"),
    };
    let other = |job: &OpenJob| corrected(job, "families/grebe.yaml", "35..45 degC", "46..55 degC");
    let plan = other(&job);
    assert!(refused(&mut job, plan, "ann", "It is so").contains("may not decide"));
    let plan = other(&job);
    assert!(refused(&mut job, plan, "bob", " ").contains("reason"));
    let plan = renewed(&job.plan().snapshot, &job.plan().snapshot.files).unwrap();
    assert!(refused(&mut job, plan, "bob", "It is so").contains("are the ones that the job already has"));
    let plan = corrected(&job, "procedures/main.yaml", "id: warm", "id: warmer");
    assert!(refused(&mut job, plan, "bob", "It is so").contains("no step `warm`"));
    let plan = corrected(&job, "procedures/main.yaml", "sample: heat", "sample: warmth");
    assert!(refused(&mut job, plan, "bob", "It is so").contains("does not ask for `heat`"));
    assert_eq!((lines(&job), std::fs::read_dir(job.dir()).unwrap().count()), before);
    assert_eq!(asks(&job.asked()), "look");
}

#[test]
fn data_that_change_the_kind_of_a_step_lose_the_variant_or_come_with_another_shop_are_refused() {
    let refused = |job: &mut OpenJob, plan: Plan| match job.amend(plan, "bob", "It is so", now()) {
        Err(NotKept::Refused(refusal)) => refusal.message,
        other => panic!("{other:?}"),
    };
    let (_dir, mut job) = begun();
    enter(&mut job, "warm", &[("heat", "40 degC")]);
    let await_it = "await: { sample: heat, is: temperature, within: spec.window }";
    let plan = corrected(&job, "procedures/main.yaml", await_it, "read: { heat: { is: temperature } }");
    assert!(refused(&mut job, plan).contains("`warm` is of another kind"));
    let loose =
        plan_over(STEPS, &[], &[("ours", "procedure: main\nchanges:\n  - { leave_out: look, because: no need }\n")]);
    assert!(refused(&mut job, loose.unwrap()).contains("its shop have changed"));

    let (_dir, mut job) = begun_on(
        "may_accept: [head]\nsteps:\n  - { id: feet, read: { feet: { recognise: feet } } }\n  - { id: end, do: End. }\n",
    );
    enter(&mut job, "feet", &[("feet", "4")]);
    assert_eq!(job.state().variant.as_deref(), Some("four-feet"));
    let plan = corrected(&job, "families/grebe.yaml", "four-feet:", "more-feet:");
    assert!(refused(&mut job, plan).contains("no variant `four-feet`"));
}

/// Who supplied it did so because nobody knew better.
#[test]
fn what_corrected_data_say_stands_over_what_was_supplied_before() {
    let (_dir, mut job) = begun_on(
        "may_accept: [head]
steps:
  - { id: count, read: { feet: { recognise: feet } } }
  - { id: run-off, compute: { value: spec.area * 10.mm, gives: run_off } }
  - { id: end, do: End. }
",
    );
    let run_off = |job: &OpenJob| {
        let value = job.state().latest("run_off").map(|reading| reading.value.clone());
        value.map(|value| job.plan().show(&value))
    };
    enter(&mut job, "count", &[("feet", "3")]);
    let (path, typed, source) = ("spec.area".to_owned(), "120 cm2".to_owned(), "looked up by Ann".to_owned());
    job.give(Given::typed("ann", What::Supply { path, typed, source }), now()).unwrap();
    assert_eq!(run_off(&job).as_deref(), Some("0.120 L"));
    let (unknown, known) = ("{ feet: 3 } }", "{ feet: 3 }, area: 90 cm2 }");
    let plan = corrected(&job, "families/grebe.yaml", unknown, known);
    job.amend(plan, "bob", "It is published now", now()).unwrap();
    assert_eq!(run_off(&job).as_deref(), Some("0.0900 L"));
}

#[test]
fn plans_say_the_same_that_are_made_of_the_same_texts_by_the_same_versions() {
    let plan = plan(STEPS, &[]).unwrap();
    let other = |change: fn(&mut Snapshot)| {
        let mut other = plan.snapshot.clone();
        change(&mut other);
        (plan.snapshot.says_the_same(&other), other.says_the_same(&plan.snapshot))
    };
    assert_eq!(other(|other| other.job.name = "elsewhere/job.yaml".to_owned()), (true, true));
    let changes: [fn(&mut Snapshot); 8] = [
        |other| other.language += 1,
        |other| other.scripts += 1,
        |other| other.tool.push('1'),
        |other| other.interpreter.push('1'),
        |other| other.job.text.push('1'),
        |other| other.shop.as_mut().unwrap().text.push('1'),
        |other| other.shop = None,
        |other| other.texts.push('1'),
    ];
    for (index, change) in changes.into_iter().enumerate() {
        assert_eq!(other(change), (false, false), "change {index}");
    }
}

/// Newer data are over all that the job has, whatever plugins it has them from: those of an earlier correction too.
#[test]
fn a_newer_plugin_that_the_job_did_not_have_is_over_those_that_it_has() {
    let (_dir, job) = begun();
    let corrected = |plan: &Plan, plugin: &str, window: &str| {
        let newer = |path: &str, text: &str| File::new(Layer::BuiltIn, plugin, path, text);
        let manifest = format!("plugin: {plugin}\nversion: \"1.0.0\"\nlicence: MIT\nplugins: [test]\ninvented: true\n");
        let family = format!("override: true\n{}", FAMILY.replace("35..45 degC", window));
        let mut files = Files::default();
        files.list = vec![newer("plugin.yaml", &manifest), newer("families/grebe.yaml", &family)];
        renewed(&plan.snapshot, &files).unwrap_or_else(|problems| panic!("{problems:?}"))
    };
    let window = |plan: &Plan| plan.show(plan.facts(None, &Default::default()).at(&["window"]).unwrap());
    let once = corrected(job.plan(), "zander", "46..55 degC");
    let twice = corrected(&once, "bream", "50..58 degC");
    let windows = [job.plan(), &once, &twice].map(window);
    assert_eq!(windows, ["35..45 °C", "46..55 °C", "50..58 °C"]);
}

/// A word that nothing was worked out with is kept apart from the journal, and a copy without it has to come to the same.
#[test]
fn data_that_compute_with_what_a_job_keeps_apart_are_refused() {
    let steps = "
may_accept: [head]
steps:
  - { id: words, read: { words: { is: text }, smell: { is: text } } }
  - { id: look, read: { feet: { is: count } }, gate: { must: 'feet < 50 && smell != \"burnt\"', otherwise: stop } }
";
    let (_dir, mut job) = begun_on(steps);
    enter(&mut job, "words", &[("words", " as ever "), ("smell", "sweet")]);
    let journal = lines(&job);
    assert!(!journal.contains("as ever") && journal.contains("sweet"), "{journal}");
    let typed = |job: &OpenJob| match &job.records().last().unwrap().event {
        Event::Entered { typed, .. } => typed["words"].clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!((typed(&job).as_str(), typed(&look(job.dir())).as_str()), ("as ever", "as ever"));
    let plan = corrected(&job, "procedures/main.yaml", "feet < 50", "words != \"\"");
    match job.amend(plan, "bob", "It matters", now()) {
        Err(NotKept::Refused(refusal)) => assert!(refusal.message.contains("compute with `words`"), "{refusal:?}"),
        other => panic!("{other:?}"),
    }
    let plan = corrected(&job, "procedures/main.yaml", "feet < 50", "feet < 20");
    job.amend(plan, "bob", "Nobody has so many", now()).unwrap();
}
