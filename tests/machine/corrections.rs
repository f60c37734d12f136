use standpipe_job::{Event, Pending, Verdict, What};

use crate::bench::Job;

const FILL: &str = "
may_accept: [head]
steps:
  - id: cool
    read: { heat: { is: temperature } }
    gate: { must: heat < spec.limit, otherwise: wait, at_stake: A scalded hand. }
  - { id: pour, read: { filled: { is: volume } } }
  - { id: pour-more, read: { filled: { is: volume } } }
  - { id: total, compute: { value: sum(all(filled)), gives: total } }
  - id: enough
    do: Look at the total.
    gate: { must: total >= 4.L, otherwise: { ask: [head] } }
  - { id: end, do: End. }
";

fn correct(job: &mut Job, name: &str, value: &str) -> Vec<Event> {
    let values = [(name.to_owned(), value.to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "misread".into() }).unwrap()
}

fn filled() -> Job {
    let mut job = Job::new(FILL);
    job.enter("cool", &[("heat", "25 degC")]).unwrap();
    job.enter("pour", &[("filled", "2.5 L")]).unwrap();
    job.enter("pour-more", &[("filled", "2 L")]).unwrap();
    job.done("enough");
    job
}

#[test]
fn a_correction_computes_and_judges_again_and_nothing_is_rewritten() {
    let mut job = filled();
    let before = job.records.len();
    let events = correct(&mut job, "filled", "1 L");
    assert!(matches!(&events[0], Event::Corrected { .. }));
    assert!(events.iter().any(|e| matches!(e, Event::Computed { supersedes: Some(_), .. })), "{events:?}");
    assert!(
        events.iter().any(|e| matches!(e, Event::Judged { supersedes: Some(_), verdict: Verdict::NotMet, .. })),
        "{events:?}"
    );
    assert_eq!(job.records.len(), before + events.len());
    assert_eq!(job.asks(), "end", "branches taken stand");
    job.done("end");
    assert!(matches!(job.pending(), Pending::Acceptance { .. }), "it can't close over the verdict");
    job.by("bob").input(What::Accept { because: "weighed again, it is enough".into() }).unwrap();
    assert!(job.is_finished());
}

#[test]
fn a_correction_reaches_the_entry_that_a_verdict_looked_at() {
    let mut job = filled();
    let events = correct(&mut job, "heat", "31 degC");
    assert!(events.iter().any(|e| matches!(e, Event::Judged { verdict: Verdict::NotMet, .. })));
    // Whoever goes on with other work is told.
    assert_eq!(job.prompt().turned, ["Now not met: cool. A scalded hand."]);
    // And back: the last word is met again.
    let events = correct(&mut job, "heat", "29 degC");
    assert!(job.prompt().turned.is_empty());
    assert!(events.iter().any(|e| matches!(e, Event::Judged { verdict: Verdict::Met, .. })), "{events:?}");
    job.done("end");
    assert!(job.is_finished(), "{}", job.asks());
}

#[test]
fn what_a_correction_spares_is_said_to_be_so_and_can_be_left_out() {
    for (keep, spared) in [("", true), (", keep: true", false)] {
        let more = format!("{{ id: more, when: filled < 2.L, do: Pour more.{keep} }}");
        let steps = format!("steps:\n  - {{ id: pour, read: {{ filled: {{ is: volume }} }} }}\n  - {more}\n");
        let mut job = Job::new(&format!("{steps}  - {{ id: end, do: End. }}\n"));
        let said = |job: &Job| match job.pending() {
            Pending::Entry(prompt) => (prompt.asks.clone(), prompt.spared),
            other => panic!("{other:?}"),
        };
        job.enter("pour", &[("filled", "1 L")]).unwrap();
        assert_eq!(said(&job), ("more".to_owned(), false));
        correct(&mut job, "filled", "3 L");
        assert_eq!(said(&job), ("more".to_owned(), spared), "it stays until somebody says what became of it");
        if spared {
            job.input(What::Skip { because: "not called for any more".into() }).unwrap();
            assert_eq!(job.asks(), "end");
        }
    }
}

#[test]
fn what_is_computed_can_not_be_corrected() {
    let mut job = filled();
    let values = [("total".to_owned(), "9 L".to_owned())].into_iter().collect();
    let refusal = job.input(What::Correct { entry: None, values, because: "more".into() }).unwrap_err();
    assert!(refusal.message.contains("computed"));
}

#[test]
fn one_of_several_entries_of_a_name_is_corrected_by_its_number() {
    let mut job = filled();
    let first = job.state.readings.iter().find(|reading| reading.name == "filled").map(|reading| reading.seq);
    let values = [("filled".to_owned(), "3 L".to_owned())].into_iter().collect();
    job.input(What::Correct { entry: first, values, because: "misread".into() }).unwrap();
    let filled: Vec<f64> = job
        .state
        .readings
        .iter()
        .filter(|reading| reading.name == "filled")
        .map(|reading| match &reading.value {
            standpipe_quantity::value::Value::Quantity(litres) => litres.si * 1000.0,
            other => panic!("{other:?}"),
        })
        .collect();
    assert!((filled[0] - 3.0).abs() < 1e-9 && (filled[1] - 2.0).abs() < 1e-9, "{filled:?}");
}

/// Who accepts one verdict has not seen the other.
#[test]
fn of_two_verdicts_that_turned_each_is_accepted_by_itself() {
    let mut job = Job::new(
        "
may_accept: [head]
steps:
  - { id: pour, read: { filled: { is: volume } } }
  - { id: one, do: Look., gate: { must: filled >= 4.L, otherwise: stop } }
  - { id: two, do: Look., gate: { must: filled >= 3.L, otherwise: stop } }
  - { id: end, do: End. }
",
    );
    job.enter("pour", &[("filled", "5 L")]).unwrap();
    job.done("one");
    job.done("two");
    correct(&mut job, "filled", "2 L");
    job.done("end");
    job.by("bob");
    for step in ["one", "two"] {
        let Pending::Acceptance { address, verdict, .. } = job.pending() else { panic!("{:?}", job.pending()) };
        assert_eq!((address.to_string().as_str(), verdict), (step, Verdict::NotMet));
        job.input(What::Accept { because: "weighed again".into() }).unwrap();
    }
    assert!(job.is_finished());
    let accepted = job.state.verdicts.iter().filter(|passed| passed.accepted).count();
    assert_eq!(accepted, 2, "the verdicts that turned, and not those that had been met");
}
