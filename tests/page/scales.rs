//! The ends of a scale as the shop file has them, on a page.

use crate::by_forms::walk_to;
use crate::form::{Device, words};
use crate::server::Shop;

const JOB: &str = "heron-estate";

#[test]
fn a_tap_takes_what_the_shop_file_has_and_leaves_what_was_typed() {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let rita = Device::first(&server, "rita");
    rita.keeps(JOB, "take", &[]);
    walk_to(&rita, JOB, JOB, "pan-wrench-marks");
    let page = rita.page(JOB);
    assert!(words(&page).contains("Small wrench: pan wrench low 2 N·m, pan wrench high 25 N·m"), "{}", words(&page));
    // Enter in a field taps the first button: that one takes nothing that was not typed.
    let buttons = page.split_once("value=\"enter\"").unwrap().1;
    let at = |what: &str| buttons.find(what).unwrap_or_else(|| panic!("no {what}: {page}"));
    assert!(at("data-writes") < at("name=\"scale\""));
    let half = rita.say(JOB, "enter", &[("f.pan_wrench_low", "3"), ("u.pan_wrench_low", "N·m")]);
    assert_eq!(half.status, 422, "{}", words(&half.text));
    // One that the shop has not is no reason to fall over.
    assert_eq!(rita.say(JOB, "enter", &[("scale", "nothing")]).status, 422);
    rita.keeps(JOB, "enter", &[("f.pan_wrench_low", "3"), ("u.pan_wrench_low", "N·m"), ("scale", "small-wrench")]);
    let journal = std::fs::read_to_string(shop.jobs().join(format!("{JOB}.job/journal.jsonl"))).unwrap();
    let line = journal.lines().find(|line| line.contains("\"pan_wrench_low\"")).unwrap();
    let entry: serde_json::Value = serde_json::from_str(line).unwrap();
    let typed = serde_json::json!({ "pan_wrench_low": "3 N·m", "pan_wrench_high": "25 N·m" });
    assert_eq!((&entry["typed"], &entry["with"]), (&typed, &serde_json::json!({ "pan_wrench_high": "small-wrench" })));
}
