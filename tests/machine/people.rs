use standpipe_job::What;

use crate::bench::Job;

#[test]
fn a_witness_is_another_person_and_looks_now() {
    let mut job = Job::new("steps:\n  - { id: faces, do: Clean., witness: Faces clean }\n");
    assert!(job.enter("faces", &[]).is_err(), "nobody looked");
    assert!(job.enter_with("faces", &[], |e| e.witness = Some("ann".into())).is_err(), "her own work");
    assert!(job.enter_with("faces", &[], |e| e.witness = Some("zoe".into())).is_err(), "unknown");
    job.enter_with("faces", &[], |e| e.witness = Some("bob".into())).unwrap();
    assert!(job.is_finished());
}

#[test]
fn the_second_signature_is_by_another_in_that_role() {
    let mut job =
        Job::new("steps:\n  - { id: work, do: Work. }\n  - { id: second, sign: { as: checker, other_than: doer } }\n");
    job.done("work");
    assert!(job.enter("second", &[]).is_err(), "Ann is no checker");
    assert!(job.enter("second", &[("second", "eve")]).is_err(), "nobody signs for another");
    job.by("eve").enter("second", &[]).unwrap();
    assert!(job.is_finished());
}

#[test]
fn another_person_takes_the_work_over_first() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n");
    job.done("a");
    assert!(job.by("bob").enter("b", &[]).is_err());
    job.input(What::Resume).unwrap();
    job.done("b");
    assert!(job.is_finished());
}

/// Nobody is offered who would be refused.
#[test]
fn who_has_to_be_another_than_somebody_is_not_offered_them() {
    let mut job = Job::new(
        "steps:
  - { id: above, read: { above: { is: person, ask: Who is above? } } }
  - { id: below, read: { below: { is: person, ask: Who is below?, other_than: above } } }
  - { id: second, sign: { as: checker, other_than: doer } }
",
    );
    let offered =
        |job: &Job| -> Vec<String> { job.prompt().fields[0].options.iter().map(|(id, _)| id.clone()).collect() };
    assert_eq!(offered(&job), ["ann", "bob", "eve"]);
    job.enter("above", &[("above", "bob")]).unwrap();
    assert_eq!(offered(&job), ["ann", "eve"]);
    job.enter("below", &[("below", "ann")]).unwrap();
    assert_eq!(offered(&job), ["eve"]);
    job.by("eve").input(What::Resume).unwrap();
    job.state.doers.insert("eve".into());
    assert!(offered(&job).is_empty(), "she did some of the work");
}

#[test]
fn time_goes_forward() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n");
    assert!(job.later(-10).enter("a", &[]).is_err());
}

#[test]
fn after_a_late_entry_time_goes_on_from_when_it_was_entered() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n");
    job.late(30, "a").unwrap();
    assert!(job.later(10).enter("b", &[]).is_err(), "before the late entry was entered");
    job.later(20).enter("b", &[]).unwrap();
}

#[test]
fn a_late_entry_is_entered_neither_before_it_was_done_nor_before_the_last_one() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n  - { id: c, do: C. }\n");
    assert!(job.late(-1, "a").is_err(), "before it was done");
    job.late(0, "a").unwrap();
    job.late(30, "b").unwrap();
    assert!(job.late(20, "c").is_err(), "before the last one was entered");
    job.late(30, "c").unwrap();
    assert!(job.is_finished());
}

#[test]
fn a_corrected_name_is_held_to_the_same_as_an_entered_one() {
    let mut job = Job::new(
        "steps:\n  - id: who\n    read: { seat: { is: person, ask: Who sits? }, beneath: { is: person, ask: Who lies?, other_than: seat } }\n  - { id: a, do: A. }\n",
    );
    job.enter("who", &[("seat", "ann"), ("beneath", "bob")]).unwrap();
    let mut correct = |name: &str, value: &str| {
        let values = [(name.to_owned(), value.to_owned())].into_iter().collect();
        job.input(What::Correct { entry: None, values, because: "mixed up".into() })
    };
    assert!(correct("beneath", "zoe").is_err(), "unknown");
    assert!(correct("beneath", "ann").is_err(), "the same person");
    assert!(correct("beneath", "eve").is_ok());
}

#[test]
fn who_did_any_of_the_work_does_not_sign_as_another_than_the_doer() {
    let mut job = Job::new(
        "steps:
  - { id: first, do: Work. }
  - { id: last, do: Work on. }
  - { id: second, sign: { as: head, other_than: doer } }
",
    );
    job.by("bob").input(What::Resume).unwrap();
    job.done("first");
    // The part done last is not all that was done.
    job.by("ann").input(What::Resume).unwrap();
    job.done("last");
    let refusal = job.by("bob").enter("second", &[]).unwrap_err();
    assert!(refusal.message.contains("who did the work"), "{refusal:?}");
    assert!(job.enter("second", &[("second", "bob")]).is_err(), "nor by name");
    job.by("eve").enter("second", &[]).unwrap();
    assert!(job.is_finished());
}
