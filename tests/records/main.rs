//! What cards, records, lists and tags say of small jobs.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

#[path = "../machine/bench.rs"]
#[allow(dead_code, reason = "shared with the tests of the machine")]
mod bench;
mod rounds;

use std::path::Path;

use serde_json::json;
use standpipe_diagnostic::columns::width;
use standpipe_job::What;
use standpipe_report::{card, jobs, record, tag};

use bench::Job;

const STEPS: &str = "\
reachable: [help]
tag:
  - { text: \"DO NOT USE\" }
cautions: { hot: Steam burns. }
steps:
  - id: water
    title: Read the water
    read: { water: { is: temperature, instrument: reader, ask: Water? } }
    gate: { must: water < spec.limit, otherwise: wait, at_stake: A scalded hand. }
    caution: [hot]
  - id: settle
    title: Wait for it
    when: water > 90.degC
    do: Wait.
  - id: doubled
    title: Double the count
    compute: { value: 2 * feet_seen, gives: twice }
    when: feet_seen > 0
  - id: lid
    title: Look at the lid
    do: Look.
    witness: The lid is shut
  - id: last
    title: Wipe it
    do: Wipe.
";

fn job() -> Job {
    let steps = STEPS.replace(
        "  - id: doubled",
        "  - id: count\n    title: Count the feet\n    read: { feet_seen: { is: count, ask: How many feet? } }\n  - id: doubled",
    );
    let help = "steps: [{ id: helped, title: Help, do: Help. }]\n";
    Job::with(&steps, &[("help", help)])
}

/// Warm at first, then cool; the count is corrected; the lid is seen by another; the wiping is left out.
fn done() -> Job {
    let mut job = job();
    let probe = |entry: &mut standpipe_job::Entry| {
        entry.with.insert("water".to_owned(), "probe".to_owned());
    };
    job.enter_with("water", &[("water", "42")], probe).unwrap();
    job.later(5).enter_with("water", &[("water", "68 degF")], probe).unwrap();
    job.later(1).enter("count", &[("feet_seen", "3")]).unwrap();
    let values = [("feet_seen".to_owned(), "4".to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "counted from the wrong side".to_owned() }).unwrap();
    job.later(1).enter_with("lid", &[], |entry| entry.witness = Some("bob".to_owned())).unwrap();
    job.input(What::Skip { because: "no cloth".to_owned() }).unwrap();
    assert!(job.is_finished());
    job
}

#[test]
fn a_record_tells_required_measured_and_computed_apart_and_hides_no_try() {
    let job = done();
    let view = record::view(&job.machine, &job.records, Some("5ea1"), None);
    let text = record::text(&view, 80, false);
    for expected in [
        "INVENTED DATA",
        "Finished on 2026-11-23 08:07, begun on 2026-11-23 08:00, done by Ann A.",
        "1 gate met, 1 step left out, 1 correction.",
        "The maker's service information, local rules and licensed practice come first.",
        "REQUIRED, BY THE DATA OF THIS UNIT\n  limit  30 °C\n  from: invented for the tests",
        "  water      20.0 °C, 08:05 Ann A., probe",
        "  feet seen  4, 08:06 Ann A., corrected",
        "COMPUTED\n  twice  8, again after a correction",
        "    1  Read the water                                          met  08:05 Ann A.\n",
        "       tried 08:00: water 42 °C (probe)\n",
        "       NOT MET, asked again: must water < spec.limit; limit 30 °C\n",
        "       water 20.0 °C (typed 68 degF, probe)\n",
        "       corrected 08:06 by Ann A.: feet seen 3 -> 4, because counted from the\n",
        "       seen by Bob B.\n",
        "  Not needed here: 2\n",
        "- left out: Wipe it (last)\n",
        "seal  5ea1",
    ] {
        assert!(text.contains(expected), "not found: {expected}\n{text}");
    }
}

#[test]
fn what_counts_no_more_is_told_where_it_was_entered_with_what_undid_it() {
    let steps = "
steps:
  - { id: rinse, title: Rinse it, do: Rinse. }
  - id: rinsed
    title: Count the rinses
    read: { rinses: { is: count } }
    gate: { must: rinses == 2, otherwise: { again: [rinse] } }
";
    let mut job = Job::with(steps, &[]);
    for rinses in ["1", "2"] {
        job.done("rinse");
        job.enter("rinsed", &[("rinses", rinses)]).unwrap();
    }
    let text = record::text(&record::view(&job.machine, &job.records, None, None), 80, false);
    assert_eq!(text.matches("undone at \"Count the rinses\", due again").count(), 1, "{text}");
    let rinse = text.split("Rinse it").nth(1).unwrap();
    assert!(rinse.split("Count the rinses").next().unwrap().contains("undone at"), "{text}");
}

/// Nobody needs to have read what the shop file says; what a correction makes of it was read.
#[test]
fn an_end_of_a_scale_from_the_shop_file_is_assumed_and_no_use_of_the_instrument() {
    let marks =
        "steps: [{ id: marks, read: { low: { is: temperature, lowest_of: reader } } }, { id: last, do: Wipe it. }]\n";
    let mut job = Job::new(marks);
    let probe = |entry: &mut standpipe_job::Entry| drop(entry.with.insert("low".to_owned(), "probe".to_owned()));
    job.enter_with("marks", &[("low", "-20 degC")], probe).unwrap();
    let view = record::view(&job.machine, &job.records, None, None);
    let text = record::text(&view, 80, false);
    assert!(view.instruments.is_empty(), "{:?}", view.instruments);
    let assumed = text.split_once("ASSUMED").unwrap_or_else(|| panic!("{text}")).1;
    assert!(assumed.contains("-20 °C (shop file: probe)\n") && !text.contains("\nMEASURED"), "{text}");
    let values = [("low".to_owned(), "-30 degC".to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "looked at it".to_owned() }).unwrap();
    let text = record::text(&record::view(&job.machine, &job.records, None, None), 80, false);
    let measured = text.split_once("\nMEASURED").unwrap_or_else(|| panic!("{text}")).1;
    assert!(measured.contains("low  -30 °C, 08:00 Ann A., corrected\n") && !text.contains("low    -30"), "{text}");
}

#[test]
fn nothing_is_wider_than_the_page() {
    let job = done();
    let view = record::view(&job.machine, &job.records, Some(&"5ea1".repeat(16)), None);
    let card = card::view(&job.machine.plan, &Default::default());
    let rows = [jobs::row(&job.machine, &job.records, Path::new("a/long/folder/T-1.job"))];
    for columns in [60, 80] {
        let pages = [
            record::text(&view, columns, false),
            record::summary(&view, columns, false),
            card::text(&card, columns, false),
            jobs::text(&rows, 0, columns, false),
        ];
        for line in pages.iter().flat_map(|page| page.lines()) {
            // A hash has no place to break and is worth more whole.
            assert!(width(line) <= columns || line.contains("5ea1") || line.starts_with("Plan"), "{columns}: {line}");
        }
    }
    assert!(record::summary(&view, 80, false).lines().count() <= 25);
}

#[test]
fn the_json_of_a_record_has_exact_values_and_what_was_typed() {
    let job = done();
    let view = serde_json::to_value(record::view(&job.machine, &job.records, None, None)).unwrap();
    assert_eq!(view["schema"], "standpipe.record/1");
    assert_eq!(view["invented"], true);
    let water = &view["measured"][0];
    assert_eq!(
        (&water["name"], &water["typed"], &water["with"]),
        (&json!("water"), &json!("68 degF"), &json!("probe"))
    );
    // 68 °F is 20 °C, computed by hand: (68 + 459.67) * 5 / 9 = 293.15 K.
    assert!((water["value"]["quantity"]["si"].as_f64().unwrap() - 293.15).abs() < 1e-9, "{water}");
    assert_eq!(view["corrections"][0]["before"], "3");
    assert_eq!(view["steps"][0]["deeds"][1]["what"], "judged");
    assert_eq!(view["steps"][0]["deeds"][1]["verdict"], "not met");
    assert_eq!(view["made_with"]["plan"], job.machine.plan.hash.as_str());
}

#[test]
fn an_open_job_has_no_seal_and_says_where_it_stands() {
    let mut job = job();
    job.input(What::Pause).unwrap();
    let view = record::view(&job.machine, &job.records, Some("5ea1"), None);
    assert_eq!(view.made_with.seal, None);
    assert_eq!(view.outcome.state, "paused");
    assert!(view.outcome.lines[0].starts_with("Not finished: paused on 2026-11-23 08:00"), "{:?}", view.outcome);
    let row = jobs::row(&job.machine, &job.records, Path::new("T-1.job"));
    assert!(row.open && row.stands == "Read the water" && row.step == Some((1, 6)), "{row:?}");
    assert_eq!(row.remains, ["DO NOT USE"]);
    assert!(jobs::text(&[row], 0, 80, false).contains("1 open job\n"));
    let tag = tag::of(&job.machine, &job.state);
    assert!(
        tag.contains("| DO NOT USE ") && tag.contains("Paused 2026-11-23 08:00, Ann A.") && tag.contains("Job T-1")
    );
}

#[test]
fn a_held_gate_is_open_once_and_an_accepted_one_stays_visible() {
    let steps = "steps:\n  - { id: lid, title: Look at the lid, pick: { lid: [shut, open] }, gate: { must: lid == \"shut\", otherwise: { ask: [head] }, at_stake: It boils over. } }\n";
    let mut job = Job::new(steps);
    job.enter("lid", &[("lid", "open")]).unwrap();
    let view = record::view(&job.machine, &job.records, None, None);
    assert_eq!(view.outcome.state, "stopped");
    assert_eq!(
        view.left_open,
        ["Look at the lid: not met: It boils over; to be accepted by head", "the variant is not settled"]
    );
    job.by("bob").input(What::Accept { because: "it is only water".to_owned() }).unwrap();
    let view = record::view(&job.machine, &job.records, None, None);
    assert_eq!(view.outcome.lines[1], "0 gates met, 1 NOT MET, 1 of these accepted by Bob B.");
    assert_eq!(view.left_open, ["not met, accepted: Look at the lid (lid)"]);
    assert_eq!(view.accepted[0].because, "it is only water");
}

#[test]
fn a_record_says_first_what_was_asked_of_it_and_never_more_than_is_shown() {
    let procedure = "\
record:
  - title: Is it cool and shut?
    shown_by: [water, lid]
    answer: { what: \"shut below {spec.limit}\", found: \"water at {water}\", step: lid }
steps:
  - { id: water, read: { water: { is: temperature, instrument: reader } }, gate: { must: water < spec.limit, otherwise: { ask: [head] } } }
  - { id: lid, title: Look at the lid, do: Look., witness: The lid is shut }
";
    let for_customer = |job: &Job| {
        let view = record::view(&job.machine, &job.records, None, None);
        standpipe_report::customer::view(&view, &job.machine.plan)
    };
    let said = |job: &Job| {
        let view = record::view(&job.machine, &job.records, None, None);
        let summary = record::summary(&view, 120, false);
        let line = summary.lines().skip_while(|line| !line.is_empty()).nth(1).map(str::to_owned);
        line.unwrap_or_default()
    };
    let read = |job: &mut Job, water: &str| {
        job.enter_with("water", &[("water", water)], |entry| {
            entry.with.insert("water".to_owned(), "probe".to_owned());
        })
        .unwrap();
    };
    let mut job = Job::new(procedure);
    assert_eq!(
        said(&job),
        "NOT SHOWN YET: shut below 30 °C, because of \"water\" (not come to) and \"Look at the lid\" (not come to)."
    );
    read(&mut job, "20");
    job.later(3).enter_with("lid", &[], |entry| entry.witness = Some("bob".to_owned())).unwrap();
    assert_eq!(said(&job), "SHOWN: shut below 30 °C, water at 20 °C, on 2026-11-23 08:03.");

    // Accepted is gone on with, and not met all the same.
    let mut job = Job::new(procedure);
    read(&mut job, "31");
    assert!(
        said(&job).starts_with("NOT MET: shut below 30 °C, because of \"water\" (not met) and 1 more."),
        "{}",
        said(&job)
    );
    job.by("eve").input(What::Accept { because: "it is only water".to_owned() }).unwrap();
    job.by("ann").enter_with("lid", &[], |entry| entry.witness = Some("bob".to_owned())).unwrap();
    assert_eq!(said(&job), "NOT MET: shut below 30 °C, because of \"water\" (not met, accepted).");
    let page = for_customer(&job);
    assert_eq!(page.otherwise, ["water: not met; Eve E. decided to go on"]);
    assert_eq!(page.answers, [("not met", "shut below 30 °C, because of \"water\" (not met, accepted).".to_owned())]);

    // What was entered without a gate, and corrected when all was done, shows nothing any more.
    let picked = "\
record:
  - title: Is it shut?
    shown_by: [lid]
    answer: { what: shut, must: 'lid == \"shut\"', step: lid }
steps:
  - { id: lid, pick: { lid: [shut, open] } }
  - { id: last, do: Wipe it. }
";
    let mut job = Job::new(picked);
    job.enter("lid", &[("lid", "shut")]).unwrap();
    assert_eq!(said(&job), "SHOWN: shut, on 2026-11-23 08:00.");
    let values = [("lid".to_owned(), "open".to_owned())].into_iter().collect();
    job.input(What::Correct { entry: None, values, because: "looked again".to_owned() }).unwrap();
    assert_eq!(said(&job), "NOT MET: shut, because of lid == \"shut\", which is not so.");
    // Who brought the work in reads no expressions.
    assert_eq!(for_customer(&job).answers, [("not met", "shut, because of what was found in the end.".to_owned())]);

    let mut job = Job::new(procedure);
    read(&mut job, "20");
    job.input(What::Skip { because: "no light".to_owned() }).unwrap();
    assert_eq!(said(&job), "NOT SHOWN: shut below 30 °C, because of \"Look at the lid\" (left out).");
    let page = for_customer(&job);
    assert_eq!(page.otherwise, ["Look at the lid: left out"]);
    assert_eq!(page.done[0].1, "done, but not as planned");
}

#[test]
fn a_card_puts_what_is_unknown_and_what_tells_variants_apart_before_the_rest() {
    let job = job();
    let view = card::view(&job.machine.plan, &Default::default());
    let text = card::text(&view, 80, false);
    let at = |wanted: &str| text.find(wanted).unwrap_or_else(|| panic!("not found: {wanted}\n{text}"));
    assert!(at("How many feet? 3 is three-feet, 4 is four-feet") < at("\nUNKNOWN"));
    assert!(at("\nUNKNOWN") < at("! Steam burns. (step 1)"));
    assert!(at("unknown for three-feet; 120 cm² (18.6 in²) for") < at("VALUES AND LIMITS"));
    assert!(at("limit  30 °C (86 °F)") < at("6 STEPS, 1 GATE"));
    assert!(at("must    water < spec.limit; else asked again until met") < at("stake   A scalded hand."));
    at("reader                  probe -20..150 °C, good until 2030-01-01 (step 1)");
    at("a second person, who looks at once (step 5)");
    at("WHEN SOMETHING GOES WRONG, AT ANY STEP\n  help");
    let json = serde_json::to_value(&view).unwrap();
    assert_eq!(json["schema"], "standpipe.card/1");
    assert_eq!(json["steps"][0]["gate"]["at_stake"], "A scalded hand.");
}
