use standpipe_job::{Pending, What};

use crate::bench::Job;

const AREA: &str = "
steps:
  - { id: easy, do: Easy. }
  - { id: run-off, compute: { value: spec.area * 2.mm, gives: run_off } }
  - { id: after, do: After. }
";

#[test]
fn an_unknown_value_blocks_the_step_that_needs_it_and_no_other() {
    let mut job = Job::new(AREA);
    job.done("easy");
    let Pending::Facts { missing, .. } = job.pending() else { panic!("{:?}", job.pending()) };
    assert_eq!(missing, ["spec.area"]);
    let supply = |typed: &str, source: &str| What::Supply {
        path: "spec.area".into(),
        typed: typed.into(),
        source: source.into(),
    };
    assert!(job.input(supply("120 cm2", "")).is_err(), "no source");
    assert!(job.input(supply("120 mm", "sheet 4")).is_err(), "a length");
    job.input(supply("120 cm2", "sheet 4, looked up by Ann")).unwrap();
    assert_eq!(job.asks(), "after");
}

#[test]
fn or_the_step_is_left_out_with_a_reason() {
    let mut job = Job::new(AREA);
    job.done("easy");
    assert!(job.input(What::Skip { because: "".into() }).is_err());
    job.input(What::Skip { because: "area not published".into() }).unwrap();
    assert_eq!(job.asks(), "after");
}
