//! What a shop lays over a procedure: what it may change, and what it may not.

use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Inputs, Plan, build};
use standpipe_job::{Event, Pending, Verdict};
use standpipe_procedure::Changed;

use crate::bench::{Job, plan_over};

const MAIN: &str = "
cautions: { hot: It is hot. }
steps:
  - { id: first, title: Look, do: Look at it. }
  - id: heat
    read: { heat: { is: temperature } }
    gate: { must: heat < 50.degC, otherwise: wait }
    keep: true
  - id: rounds
    repeat: { until: ok == \"well\", at_most: 2 }
    steps:
      - { id: ok, pick: { ok: [well, ill] } }
  - { id: part, include: part }
  - { id: last, title: Wipe, do: Wipe. }
";

const PART: &str = "
steps:
  - { id: window, await: { sample: heat, is: temperature, within: spec.window }, keep: true }
  - { id: count, read: { feet: { is: count, ask: How many feet? } } }
  - { id: note, do: Write it down. }
";

fn over(overlay: &str) -> Result<Plan, String> {
    plan_over(MAIN, &[("part", PART)], &[("ours", overlay)])
}

fn refused(overlay: &str) -> String {
    match over(overlay) {
        Ok(_) => panic!("nothing was said about:\n{overlay}"),
        Err(problems) => problems,
    }
}

/// Every one of the words, so that a message is known to name both places.
#[track_caller]
fn says(problems: &str, words: &[&str]) {
    for word in words {
        assert!(problems.contains(word), "`{word}` is not in\n{problems}");
    }
}

#[test]
fn steps_are_added_beside_any_step_in_reach_and_keep_their_places() {
    let plan = over(
        "procedure: main
cautions: { wet: The floor is wet. }
changes:
  - after: first
    add:
      - { id: after-a, do: A. }
      - { id: after-b, do: B., caution: [wet, hot] }
  - before: ok
    add: [{ id: before-ok, do: C. }]
  - after: count
    add: [{ id: after-count, do: D. }]
",
    )
    .unwrap();
    let order: Vec<&str> = plan.order().iter().map(String::as_str).collect();
    assert_eq!(
        order,
        ["first", "after-a", "after-b", "heat", "before-ok", "ok", "window", "count", "after-count", "note", "last"]
    );
    let step = plan.step("after-b").unwrap();
    assert_eq!(step.id.place.to_string(), "ours/overlays/ours.yaml:8:15");
    assert_eq!(step.marks.len(), 1);
    assert_eq!((step.marks[0].overlay.as_str(), step.marks[0].what), ("ours", Changed::Added));
    let cautions: Vec<_> = step.caution.iter().filter_map(|id| plan.caution(id)).collect();
    assert_eq!(cautions, ["The floor is wet.", "It is hot."]);
    assert!(plan.step("first").unwrap().marks.is_empty());
    assert_eq!(plan.enclosing_repeat("before-ok"), Some("rounds"));
}

#[test]
fn an_added_step_is_asked_in_its_turn() {
    let mut job = Job::on(over("procedure: main\nchanges:\n  - { after: first, add: [{ id: ours, do: Ours. }] }\n"));
    job.done("first");
    assert_eq!(job.asks(), "ours");
    job.done("ours");
    assert_eq!(job.asks(), "heat");
}

#[test]
fn an_added_step_may_bring_in_a_procedure_and_a_later_overlay_may_change_that() {
    let extra = "steps:\n  - { id: extra-step, do: More. }\n";
    let plan = plan_over(
        MAIN,
        &[("part", PART), ("extra", extra)],
        &[
            ("one", "procedure: main\nchanges:\n  - { after: last, add: [{ id: more, include: extra }] }\n"),
            ("two", "procedure: main\nchanges:\n  - { replace: extra-step, title: Even more }\n"),
        ],
    )
    .unwrap();
    assert_eq!(plan.order().last().map(String::as_str), Some("extra-step"));
    assert_eq!(plan.step("extra-step").unwrap().marks[0].overlay, "two");
}

#[test]
fn a_tightened_gate_wants_both_conditions() {
    let overlay = "procedure: main\nchanges:\n  - { tighten_gate: heat, must: heat < 40.degC }\n";
    let mut job = Job::on(over(overlay));
    job.done("first");
    for (typed, verdict) in [("55", Verdict::NotMet), ("45", Verdict::NotMet), ("39", Verdict::Met)] {
        let events = job.enter("heat", &[("heat", &format!("{typed} degC"))]).unwrap();
        let judged = events.iter().find_map(|event| match event {
            Event::Judged { verdict, found, .. } => Some((*verdict, found.contains_key("heat"))),
            _ => None,
        });
        assert_eq!(judged, Some((verdict, true)), "{typed}");
    }
    let gate = job.machine.plan.step("heat").unwrap().gate.as_ref().unwrap();
    assert_eq!(gate.must.text(), "heat < 50.degC, and heat < 40.degC");
    let overlay = "procedure: main\nchanges:\n  - { tighten_gate: heat, must: heat < 40.5.degC, confidence: 95 % }\n";
    let mut job = Job::on(over(overlay));
    job.done("first");
    let Pending::Entry(prompt) = job.pending() else { panic!("{:?}", job.pending()) };
    assert_eq!(
        prompt.show,
        ["Stricter here: heat < 40.5 degC", "It must be sure to 95 %, by what the instrument may be off."],
        "the limit that is shown is the one that holds"
    );
}

#[test]
fn what_a_tightened_gate_lacks_is_named_on_either_side() {
    let overlay = "procedure: main\nchanges:\n  - { tighten_gate: heat, must: spec.area > 1.cm2 }\n";
    let mut job = Job::on(over(overlay));
    job.done("first");
    job.enter("heat", &[("heat", "60 degC")]).unwrap();
    assert!(format!("{:?}", job.pending()).contains("spec.area"), "{:?}", job.pending());
}

#[test]
fn a_condition_of_an_overlay_that_is_faulty_is_shown_where_it_stands() {
    let problems = refused("procedure: main\nchanges:\n  - { tighten_gate: heat, must: heat < 40.degX }\n");
    says(&problems, &["ours/overlays/ours.yaml, line 4", "degX"]);
}

#[test]
fn words_are_replaced_and_evidence_is_added() {
    let plan = over(
        "procedure: main
changes:
  - { replace: first, title: Look twice, do: Look at it from below. }
  - { replace: first, show: [With a lamp., Both sides.] }
  - { replace: heat, why: It burns. }
  - { add_evidence: count }
",
    )
    .unwrap();
    let first = plan.step("first").unwrap();
    assert_eq!(first.kind.summary(), "Look at it from below.");
    assert_eq!(first.title.fill(|_| String::new()), "Look twice");
    let shown: Vec<String> = first.show.iter().map(|line| line.fill(|_| String::new())).collect();
    assert_eq!(shown, ["With a lamp.", "Both sides."]);
    assert_eq!(first.marks[0].what, Changed::Text);
    assert!(plan.step("heat").unwrap().why.is_some());
    assert!(plan.step("count").unwrap().evidence.is_some_and(|evidence| evidence.required()));
}

#[test]
fn a_step_is_left_out_with_a_reason_that_stays_with_the_plan() {
    let plan = over("procedure: main\nchanges:\n  - { leave_out: note, because: the record does it }\n").unwrap();
    assert!(plan.step("note").is_none());
    let changes = plan.overlaid();
    assert_eq!(changes.len(), 1);
    assert_eq!(changes[0].words(), "note: left out, the record does it");
    says(&refused("procedure: main\nchanges:\n  - { leave_out: note }\n"), &["change-without-target", "because"]);
}

#[test]
fn what_is_kept_cannot_be_left_out_nor_said_otherwise() {
    let problems = refused("procedure: main\nchanges:\n  - { leave_out: heat, because: slow }\n");
    says(&problems, &["loosens-kept", "ours/overlays/ours.yaml, line 4", "test/procedures/main.yaml, line 7"]);
    // Inside an included procedure as well.
    let problems = refused("procedure: main\nchanges:\n  - { leave_out: part, because: slow }\n");
    says(&problems, &["loosens-kept", "`window` in it", "test/procedures/part.yaml, line 5"]);
    let problems = refused("procedure: main\nchanges:\n  - { replace: heat, title: Never mind }\n");
    says(&problems, &["loosens-kept", "test/procedures/main.yaml, line 7"]);
    let problems = refused("procedure: main\nchanges:\n  - { replace: heat, show: [] }\n");
    says(&problems, &["loosens-kept", "test/procedures/main.yaml, line 7"]);
}

#[test]
fn a_value_that_a_kept_step_rests_on_may_become_narrower_and_not_wider() {
    let set = |window: &str| {
        format!("changes:\n  - {{ family: grebe, values: {{ window: {window} }}, source: measured here }}\n")
    };
    let plan = over(&set("38..42 degC")).unwrap();
    let origin = plan.family.known(None).origin("window").unwrap();
    assert_eq!(origin.place.name(), "ours/overlays/ours.yaml");
    assert_eq!(origin.source.as_ref().unwrap().from, "measured here");
    assert_eq!(origin.overrides[0].name(), "test/families/grebe.yaml");
    assert_eq!(plan.overlaid()[0].words(), "window: value set to 38..42 °C, measured here");
    let problems = refused(&set("34..42 degC"));
    says(
        &problems,
        &[
            "loosens-kept",
            "ours/overlays/ours.yaml, line 3",
            "test/procedures/part.yaml, line 5",
            "test/families/grebe.yaml, line 6",
        ],
    );
}

#[test]
fn a_value_of_one_variant_is_set_in_that_one_alone() {
    let text = "changes:\n  - { family: grebe, variant: three-feet, values: { area: 90 cm2 }, source: measured }\n";
    let plan = over(text).unwrap();
    assert!(plan.family.known(None).value("area").unwrap().is_unknown());
    assert!(plan.family.known(None).differs_by_variant("area"));
    assert!(!plan.family.known(Some("three-feet")).value("area").unwrap().is_unknown());
    // Without a variant it would put one figure over two that differ.
    let problems = refused("changes:\n  - { family: grebe, values: { area: 90 cm2 }, source: measured }\n");
    says(&problems, &["unfit-change", "variant: ID"]);
    let problems = refused("changes:\n  - { family: grebe, values: { \"ring.torque\": 9 N·m } }\n");
    says(&problems, &["change-without-target", "source"]);
    let plan = over("changes:\n  - { family: grebe, values: { ring.torque: 9 N·m }, source: bulletin }\n").unwrap();
    assert_eq!(plan.overlaid()[0].of, "ring.torque");
}

#[test]
fn a_step_that_others_rest_on_is_not_left_out() {
    let main = "
steps:
  - { id: ask, read: { feet: { is: count, ask: How many? } } }
  - { id: judge, do: Go on., gate: { must: feet == 3, otherwise: wait } }
";
    let overlay = "procedure: main\nchanges:\n  - { leave_out: ask, because: slow }\n";
    let problems = plan_over(main, &[], &[("ours", overlay)]).err().unwrap();
    says(&problems, &["leaves-out-needed", "`feet` is read there", "`judge` looks at it"]);
    let both = format!("{overlay}  - {{ leave_out: judge, because: slow }}\n  - {{ after: ask, add: [] }}\n");
    says(&plan_over(main, &[], &[("ours", &both)]).err().unwrap(), &["change-without-target", "`add` is missing"]);
}

#[test]
fn what_does_not_fit_is_said_with_its_place() {
    for (overlay, words) in [
        (
            "procedure: main\nchanges:\n  - { after: frist, add: [{ id: x, do: X. }] }\n",
            &["unknown-step", "`first`"][..],
        ),
        ("procedure: mian\nchanges:\n  - { add_evidence: first }\n", &["unknown-reference", "`main`"]),
        ("changes:\n  - { add_evidence: first }\n", &["change-without-target", "procedure: ID"]),
        (
            "procedure: main\nchanges:\n  - { after: first, leave_out: last }\n",
            &["change-without-target", "after, leave_out"],
        ),
        ("procedure: main\nchanges:\n  - { because: of nothing }\n", &["change-without-target", "exactly one of"]),
        (
            "procedure: main\nchanges:\n  - { add_evidence: first, must: true }\n",
            &["change-without-target", "takes nothing else"],
        ),
        ("procedure: main\nchanges:\n  - { add_evidence: rounds }\n", &["unfit-change", "repeat"]),
        ("procedure: main\nchanges:\n  - { tighten_gate: first, must: true }\n", &["unfit-change", "no gate"]),
        ("procedure: main\nchanges:\n  - { replace: count, do: Count. }\n", &["unfit-change", "read"]),
        (
            "procedure: main\nchanges:\n  - { leave_out: note, because: a }\n  - { add_evidence: note }\n",
            &["unknown-step", "left out before"],
        ),
        (
            "procedure: main\ncautions: { hot: Warm. }\nchanges:\n  - { after: first, add: [{ id: x, do: X., caution: [hot] }] }\n",
            &["unfit-change", "caution `hot` already"],
        ),
        (
            "procedure: main\nchanges:\n  - { after: first, add: [{ id: last, do: X. }] }\n",
            &["duplicate-step", "a second step"],
        ),
        ("procedure: main\nchanges:\n  - { ater: first }\n", &["unknown-key", "`after`"]),
        ("changes:\n  - { family: greeb, values: { area: 1 cm2 }, source: x }\n", &["unknown-reference", "`grebe`"]),
        ("changes:\n  - { family: grebe, values: { aera: 1 cm2 }, source: x }\n", &["unknown-field", "`area`"]),
    ] {
        says(&refused(overlay), words);
    }
}

#[test]
fn an_overlay_of_another_procedure_changes_nothing() {
    let other = "steps:\n  - { id: elsewhere, do: Else. }\n";
    let plan = plan_over(
        MAIN,
        &[("part", PART), ("other", other)],
        &[("ours", "procedure: other\nchanges:\n  - { add_evidence: elsewhere }\n")],
    )
    .unwrap();
    assert!(plan.overlaid().is_empty());
}

#[test]
fn a_plan_is_the_same_again_from_its_snapshot() {
    let overlay = "procedure: main\nchanges:\n  - { after: first, add: [{ id: ours, do: Ours. }] }\n";
    let plan = over(overlay).unwrap();
    assert!(plan.snapshot.files.of("ours").any(|file| file.path == "overlays/ours.yaml"));
    let mut problems = Problems::new();
    let again = build(Inputs::of_snapshot(&plan.snapshot), &mut problems).unwrap();
    assert_eq!(again.hash, plan.hash);
    assert_eq!(again.order(), plan.order());
}
