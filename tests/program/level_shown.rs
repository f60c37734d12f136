//! What the shipped procedures name for a level that is shown: everything that it rests on.

use std::fs;

use serde_yaml::Value as Yaml;

use crate::trade::{root, steps};

/// Gates that may fail and the level be right all the same, each with what it is for.
const BESIDE: &[(&str, &str)] = &[
    ("odometer", "the next service"),
    ("on-runways", "who works beneath"),
    ("on-locks", "who works beneath"),
    ("on-locks-again", "who works beneath"),
    ("nobody-beneath", "who works beneath"),
    ("level-nobody-beneath", "who works beneath"),
    ("pan-fits-data", "the parts; what holds the fluid is seen by `hot-leak`"),
    ("fluid-enough", "that the work can be ended"),
    ("cool-enough-to-open", "hands"),
    ("fill-plug-first", "that it can be filled again"),
    ("cupful-consent", "consent"),
    ("colour-and-smell", "what the old fluid says"),
    ("magnet-places", "what the pan says"),
    ("what-the-magnets-hold", "what the pan says"),
    ("weigh-out", "litres out, which `drip-believed` does not take from it"),
    ("fill-to-expect", "a leak before; the level is set anew"),
    ("first-fill-in", "the start; what is in at the end is judged by `drip-believed`"),
    ("rest-in", "foam; what is in at the end is judged by `drip-believed`"),
    ("top-up", "what is in at the end is judged by `drip-believed`"),
    ("let-it-run", "how it drips in the end stands in `must:`"),
    ("bolts-counted", "the pan's bolts, seen by `hot-leak`"),
    ("marks-counted", "the pan's bolts, seen by `hot-leak`"),
    ("gasket-on", "the pan's bolts, seen by `hot-leak`"),
    ("pan-dial", "the pan's bolts, seen by `hot-leak`"),
    ("drain-plug-tight", "seen by `hot-leak`"),
    ("fill-plug-tight", "seen by `hot-leak`"),
    ("leak-tightened", "seen by `hot-leak`"),
    ("filter-bolts-out", "the filter"),
    ("filter-wrench-fit", "the filter"),
    ("filter-dial", "the filter"),
    ("old-seal", "the filter"),
    ("codes-after", "the control unit"),
    ("tray-on", "the tray"),
    ("ledger-looked-at", "litres: less in than out may have been an overfill before, which a foreman can tell"),
];

/// The same of the other ways to set a level.
const BESIDE_OTHERWISE: &[(&str, &str)] = &[
    ("change-odometer", "the next service"),
    ("change-look", "who comes back to it"),
    ("change-fill-free", "that it can be filled again"),
    ("change-cool", "hands"),
    ("change-drain-shut", "seen by `change-dry`"),
    ("change-plug-tight", "where the level is read at a stick, its plug is seen by `change-dry`"),
    ("change-first-fill", "the start; what is in at the end is judged by `change-fill-believed`"),
    ("change-cold", "the start; where the level rests on it, it is named"),
    ("check-thin", "how it drips in the end stands in `must:`"),
    ("check-top-up", "how much; the look after it is judged"),
    ("marked-cold", "the first look, cold; the level is read hot"),
    ("marked-top-up", "how much; the look after it is judged"),
    ("stick-top-up", "how much; the look after it is judged"),
    ("side-fill-top-up", "how much; the look after it is judged"),
];

/// Work at the level and the selector that may be left out with a reason, and why the level is right all the same.
const MAY_BE_LEFT_OUT: &[(&str, &str)] = &[
    ("adapter-off", "nothing hangs on the hose: the opening is looked into"),
    ("engine-since", "what it says decides what is asked next: without it the job does not go on"),
    ("look", "the same"),
    ("check-since", "the same"),
    ("shut-and-cool", "the next round judges the start anew"),
    ("check-caught", "litres in the jug; the look after it is judged"),
    ("marked-draw-off", "the look after it is judged"),
    ("stick-draw-off", "the look after it is judged"),
    ("side-fill-run", "the look after it is judged"),
];

fn procedure(plugin: &str, id: &str) -> Yaml {
    let file = root().join("plugins").join(plugin).join("procedures").join(format!("{id}.yaml"));
    serde_yaml::from_str(&fs::read_to_string(file).unwrap()).unwrap()
}

/// The steps that a procedure's record names for its answer.
fn shown_by(procedure: &Yaml) -> Vec<&str> {
    let answer = procedure["record"].as_sequence().unwrap().iter().find(|block| !block["answer"].is_null()).unwrap();
    answer["shown_by"].as_sequence().unwrap().iter().filter_map(Yaml::as_str).collect()
}

/// What says whether the level was set properly is taken from the gates that the procedure names. One that is forgotten there may
/// fail in a correction, and the level is still called shown.
#[test]
fn every_gate_that_bears_on_the_level_shows_it() {
    let main = procedure("automatic-transmissions", "pan-service-overflow");
    let included = main["steps"].as_sequence().unwrap().iter().filter_map(|step| step["include"].as_str());
    let sections: Vec<Yaml> = included.map(|id| procedure("automatic-transmissions", id)).collect();
    let (shown, known) = (shown_by(&main), gates(&sections));
    for gate in &known {
        let beside = BESIDE.iter().any(|(id, _)| id == gate);
        assert!(shown.contains(gate) != beside, "`{gate}`: does it bear on the level or not?");
    }
    for (id, why) in BESIDE {
        assert!(known.contains(id), "there is no gate `{id}` ({why})");
    }
    let shared: Vec<Yaml> = ["change-resumed", "change-ready", "change-drain", "change-run", "change-close"]
        .map(|id| procedure("other-level-methods", id))
        .into();
    for id in OTHERWISE {
        let level = procedure("other-level-methods", id);
        let shown = shown_by(&level);
        for gate in gates(&shared).into_iter().chain(gates(std::slice::from_ref(&level))) {
            let beside = BESIDE_OTHERWISE.iter().any(|(id, _)| *id == gate);
            assert!(shown.contains(&gate) || beside, "{id}, `{gate}`: does it bear on the level or not?");
        }
    }
}

const OTHERWISE: [&str; 5] = [
    "level-check-plug",
    "level-marked-dipstick",
    "level-measured-quantity",
    "level-service-dipstick",
    "level-side-fill",
];

fn gates(sections: &[Yaml]) -> Vec<&str> {
    let mut all = Vec::new();
    sections.iter().for_each(|section| steps(section, &mut all));
    all.into_iter().filter(|step| !step["gate"].is_null()).filter_map(|step| step["id"].as_str()).collect()
}

#[test]
fn nothing_that_the_level_rests_on_can_be_left_out() {
    let mut sections: Vec<Yaml> = ["cycle", "level"].map(|id| procedure("automatic-transmissions", id)).into();
    let others = OTHERWISE.into_iter().chain(["change-run"]);
    sections.extend(others.map(|id| procedure("other-level-methods", id)));
    let mut all = Vec::new();
    sections.iter().for_each(|section| steps(section, &mut all));
    let is_work = |step: &&Yaml| step["steps"].is_null() && step["compute"].is_null();
    let main = procedure("automatic-transmissions", "pan-service-overflow");
    // Left out, these take back that it is shown.
    let shown: Vec<&str> =
        sections.iter().filter(|it| !it["record"].is_null()).chain([&main]).flat_map(shown_by).collect();
    let mut left_out = 0;
    for step in all.into_iter().filter(is_work) {
        let id = step["id"].as_str().unwrap();
        let stands = !step["gate"].is_null() || step["keep"] == true || shown.contains(&id);
        let reason = MAY_BE_LEFT_OUT.iter().any(|(known, _)| *known == id);
        assert!(stands != reason, "`{id}`: may it be left out, and the level be right?");
        left_out += usize::from(!stands);
    }
    assert_eq!(left_out, MAY_BE_LEFT_OUT.len(), "a reason for a step that is not there");
}
