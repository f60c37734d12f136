//! The limits that an entry is held against are told before it is made, as they are enforced.

use crate::bench::{Job, plan_over};

fn told(must: &str, overlay: &str) -> Vec<String> {
    let procedure = format!(
        "steps:\n  - id: heat\n    read: {{ heat: {{ is: temperature }}, feet: {{ is: count, ask: How many? }} }}\n    \
         gate: {{ must: '{must}', otherwise: wait }}\n"
    );
    let overlay = format!("procedure: main\nchanges:\n  - {{ tighten_gate: heat, must: '{overlay}' }}\n");
    let job = Job::on(plan_over(&procedure, &[], &[("ours", &overlay)]));
    job.prompt().limits
}

#[test]
fn of_a_gate_and_what_an_overlay_tightens_the_narrower_is_told() {
    assert_eq!(told("heat < 50.degC", "heat < 40.5.degC"), ["It counts up to 40.5 °C."]);
    assert_eq!(told("heat in spec.window", "heat > 36.degC"), ["It counts within 36.0..45.0 °C."]);
    assert_eq!(told("heat >= spec.window.low && feet == 4", "true"), ["It counts from 35.0 °C upwards."]);
}

/// A limit that holds in the first round only, as a start from cold has it.
#[test]
fn what_the_round_leaves_open_is_told_in_that_round() {
    assert_eq!(told("round > 1 || heat < 30.degC", "true"), ["It counts up to 30.0 °C."]);
    assert!(told("round < 2 || heat < 30.degC", "true").is_empty());
}

#[test]
fn where_the_limits_hang_on_something_else_none_is_told() {
    assert!(told("heat < 50.degC || feet == 4", "true").is_empty());
    assert!(told("feet == 4", "true").is_empty());
}
