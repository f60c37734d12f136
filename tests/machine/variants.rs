use standpipe_job::{Pending, What};

use crate::bench::Job;

const FEET: &str = "
steps:
  - { id: count, read: { feet_seen: { recognise: feet } } }
  - { id: spread, compute: { value: spec.area * 1.mm, gives: spread } }
  - { id: end, do: End. }
";

#[test]
fn a_variant_is_recognised_by_what_is_seen_and_brings_its_values() {
    let mut job = Job::new(FEET);
    job.enter("count", &[("feet_seen", "4")]).unwrap();
    assert_eq!(job.state.variant.as_deref(), Some("four-feet"));
    assert_eq!(job.asks(), "end");
}

#[test]
fn signs_that_fit_nothing_stop_the_job_until_corrected() {
    let mut job = Job::new(FEET);
    job.enter("count", &[("feet_seen", "5")]).unwrap();
    let Pending::Stopped { because, .. } = job.pending() else { panic!("{:?}", job.pending()) };
    assert!(because.contains("three-feet has 3"), "{because}");
    let values = [("feet_seen".to_owned(), "4".to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "miscounted".into() }).unwrap();
    assert_eq!(job.state.variant.as_deref(), Some("four-feet"));
    assert_eq!(job.asks(), "end");
}

#[test]
fn a_sign_that_nobody_could_see_says_nothing() {
    let mut job = Job::new(FEET);
    job.enter("count", &[("feet_seen", "unknown")]).unwrap();
    assert_eq!(job.state.variant, None);
    let Pending::Facts { missing, .. } = job.pending() else { panic!("{:?}", job.pending()) };
    assert_eq!(missing, ["spec.area"], "what hangs on the variant is not known");
}
