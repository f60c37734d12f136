use standpipe_job::replay::is_recovery;
use standpipe_job::{Event, Record};

use crate::bench::Job;

#[test]
fn five_steps_from_first_to_last_and_back_from_the_records() {
    let mut job = Job::new(
        "steps:
  - { id: fill, do: Fill it. }
  - { id: warm, read: { heat: { is: temperature } } }
  - { id: choose, pick: { colour: [red, green] } }
  - { id: twice, compute: { value: heat - 20.degC, gives: above } }
  - { id: tighten, each: { of: spec.ring, do: Tighten it. } }
",
    );
    job.done("fill");
    job.enter("warm", &[("heat", "95 degF")]).unwrap();
    job.enter("choose", &[("colour", "green")]).unwrap();
    assert_eq!(job.asks(), "tighten[][hand/1]");
    job.done("tighten");
    assert_eq!(job.asks(), "tighten[][full/1]", "an entry without an item stands for one pass");
    job.enter_with("tighten", &[], |entry| entry.item = Some("full/1".into())).unwrap();
    job.done("tighten");
    assert!(job.is_finished());
    let replayed = job.replayed();
    assert_eq!(replayed.seq, job.state.seq);
    assert_eq!(replayed.phase, job.state.phase);
    let above = replayed.latest("above").unwrap();
    assert_eq!(job.machine.plan.show(&above.value), "15.0 Δ°C");
}

#[test]
fn an_answer_to_another_step_is_refused_with_what_is_asked() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n");
    let refusal = job.enter("b", &[]).unwrap_err();
    assert!(refusal.message.contains("`a` is asked"), "{refusal:?}");
    assert_eq!(job.records.len(), 1, "nothing but the opening is recorded");
}

/// Only what the journal tells of itself needs no input; anything else in such a batch has to follow from one.
#[test]
fn a_batch_that_no_input_led_to_tells_of_nothing_but_a_recovery() {
    let mut job = Job::new("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n");
    job.done("a");
    let entered = job.records.last().unwrap().clone();
    let recovered = Record { event: Event::Recovered { bytes: 7, moved_to: "torn-1".into() }, ..entered.clone() };
    assert!(is_recovery(std::slice::from_ref(&recovered)) && is_recovery(&[recovered.clone(), recovered.clone()]));
    for batch in [vec![], vec![entered.clone()], vec![recovered.clone(), entered.clone()], vec![entered, recovered]] {
        assert!(!is_recovery(&batch), "{batch:?}");
    }
}
