use standpipe::job::{Pending, What};

use crate::bench::Job;

const MAIN: &str = "
reachable: [spill]
on_pause: leave-it
on_resume: come-back
tag:
  - { text: \"EMPTY - DO NOT HEAT\", when: water == \"none\" }
  - { text: \"{job.owner}: {water}\" }
steps:
  - { id: a, do: A. }
  - { id: b, do: B. }
";
const SPILL: &str = "
abandon_when: decision == \"abandon\"
steps:
  - { id: wipe, do: Wipe. }
  - { id: decide, pick: { decision: [go on, abandon] } }
";
const OTHERS: &[(&str, &str)] = &[
    ("spill", SPILL),
    ("leave-it", "steps:\n  - { id: water-in, pick: { water: [none, some] } }\n"),
    ("come-back", "steps:\n  - { id: looked, do: Look at all of it. }\n"),
];

fn call(job: &mut Job) {
    job.input(What::Call { procedure: "spill".into() }).unwrap();
    job.done("wipe");
}

#[test]
fn a_procedure_can_be_called_at_any_step_and_comes_back() {
    let mut job = Job::with(MAIN, OTHERS);
    job.done("a");
    call(&mut job);
    job.enter("decide", &[("decision", "go on")]).unwrap();
    assert_eq!(job.asks(), "b");
    call(&mut job);
    assert_eq!(job.asks(), "decide[2]", "the second call has its own entries");
    job.enter("decide", &[("decision", "abandon")]).unwrap();
    assert!(matches!(job.pending(), Pending::Nothing { abandoned: true }));
    assert!(job.input(What::Call { procedure: "spill".into() }).is_err(), "closed");
}

#[test]
fn pausing_asks_prints_a_tag_and_resuming_asks_to_look() {
    let mut job = Job::with(MAIN, OTHERS);
    job.done("a");
    job.input(What::Pause).unwrap();
    assert_eq!(job.asks(), "water-in[1]");
    job.enter("water-in", &[("water", "none")]).unwrap();
    let Pending::Resumption { tag } = job.pending() else { panic!("{:?}", job.pending()) };
    assert_eq!(tag, ["EMPTY - DO NOT HEAT", "nobody: none"]);
    job.by("bob").later(900).input(What::Resume).unwrap();
    assert_eq!(job.asks(), "looked[1]");
    job.done("looked");
    assert_eq!(job.asks(), "b");
    assert_eq!(job.state.actor.as_deref(), Some("bob"));
    job.input(What::Pause).unwrap();
    assert_eq!(job.asks(), "water-in[2]");
}
