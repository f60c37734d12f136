//! `standpipe compare`, over a copy of shipped plugins with known edits.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::Value as Json;
use tempfile::TempDir;

use crate::folders::copy;

const MAKE_SAFE: &str = "automatic-transmissions/procedures/make-safe.yaml";
const CYCLE: &str = "automatic-transmissions/procedures/cycle.yaml";
const LEVEL: &str = "automatic-transmissions/procedures/level.yaml";
const PLOVER: &str = "plover/families/plover.yaml";

/// File, what is written over, what stands there then; the way it goes, and words that say it. Nothing else may be said.
type Edit = (&'static str, &'static str, &'static str, &'static [(&'static str, &'static str)]);

const EDITS: &[Edit] = &[
    // A limit in other units is the same limit.
    (MAKE_SAFE, "sump_temperature < 45.degC", "sump_temperature < 113.degF", &[]),
    (MAKE_SAFE, "sump_temperature < 45.degC", "sump_temperature < 118.degF", &[("easier", "the gate is loosened")]),
    (MAKE_SAFE, "sump_temperature < 45.degC", "sump_temperature <= 45.degC", &[("easier", "the gate is loosened")]),
    (
        MAKE_SAFE,
        "sump_temperature < 45.degC",
        "sump_temperature < spec.level.start_below",
        &[("harder", "the gate is tightened")],
    ),
    (
        MAKE_SAFE,
        "sump_temperature < 45.degC",
        "sump_temperature < 46.degC && tilt_along > 0.deg",
        &[("open", "which of the two")],
    ),
    // Of a value that only a job shows, what is added to it and taken from it.
    (CYCLE, "expected.rest.high + 0.3.L", "expected.rest.high + 500.mL", &[("easier", "the gate is loosened")]),
    (
        CYCLE,
        "filled <= expected.rest.high + 0.3.L",
        "filled + 0.1.L <= expected.rest.high + 0.3.L",
        &[("harder", "tightened")],
    ),
    (CYCLE, "filled <= expected.rest.high + 0.3.L", "filled + 0.1.L <= expected.rest.high + 0.4.L", &[]),
    (CYCLE, "expected.rest.high + 0.3.L", "expected.rest.low + 0.3.L", &[("open", "which of the two")]),
    (LEVEL, "- spec.level.far_short", "- 2 * spec.level.far_short", &[("easier", "the gate is loosened")]),
    (MAKE_SAFE, " && pan_looks == \"as the data say\"", "", &[("easier", "the gate is loosened")]),
    (
        MAKE_SAFE,
        "must: stands_on == \"runways\"",
        "must: stands_on == \"runways\" || stands_on == \"two posts\"",
        &[("easier", "the gate is loosened")],
    ),
    (
        MAKE_SAFE,
        "abs(tilt_across) <= spec.level.tilt\n",
        "abs(tilt_across) <= spec.level.tilt / 2\n",
        &[("harder", "the gate is tightened")],
    ),
    (
        MAKE_SAFE,
        "      otherwise: stop\n      at_stake: Another pan",
        "      otherwise: { ask: [foreman] }\n      at_stake: Another pan",
        &[("easier", "where the gate is not met: stop -> ")],
    ),
    (
        MAKE_SAFE,
        "    witness: Every lock engaged, all corners\n",
        "",
        &[("easier", "a second person who looks is taken away: Every lock")],
    ),
    (
        MAKE_SAFE,
        "stale: [\"20 min\", pause]",
        "stale: [\"1200 s\"]",
        &[("easier", "an entry ends with `pause` no longer")],
    ),
    (MAKE_SAFE, "    evidence: photo\n\n", "\n", &[("easier", "a photo is taken away")]),
    (
        MAKE_SAFE,
        "tilt_along: { is: angle, instrument: inclinometer, ",
        "tilt_along: { is: angle, ",
        &[("easier", "`read.tilt_along.instrument` is gone")],
    ),
    (MAKE_SAFE, "overflow: 0.3.L", "overflow: 0.2.L", &[("open", "`compute.with.overflow` changed: 0.3.L -> 0.2.L")]),
    (MAKE_SAFE, "title: Measure how level it stands", "title: Measure its tilt", &[("words", "`title` changed")]),
    (
        PLOVER,
        "window: 47..56 degC",
        "window: 46..56 degC",
        &[("easier", "`level.window` takes more: 47..56 °C -> 46..56 °C, from invented for the demo")],
    ),
    (PLOVER, "    torque: 7.3 N·m", "    torque: 7.4 N·m", &[("open", "7.3 N·m")]),
    (PLOVER, "start_below: 34 degC", "start_below: 307.15 K # the same", &[]),
    ("plover/tables/pan-16.csv", "2,-31,196", "2,-31,195", &[("open", "`y [mm]` of the row `2` changed: 196 -> 195")]),
    ("plover/cases/one-go.yaml", "tolerance: 1e-5", "tolerance: 1e-2", &[("easier", "`expect.tolerance` changed")]),
];

fn compare(folder: &Path, how: &[&str]) -> (Option<i32>, String) {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.current_dir(folder).args(["compare", "before", "after"]).args(how).output().unwrap();
    (output.status.code(), String::from_utf8(output.stdout).unwrap())
}

fn differences(folder: &Path) -> Vec<(String, String)> {
    let (code, text) = compare(folder, &["--format", "json"]);
    let json: Json = serde_json::from_str(&text).unwrap_or_else(|fault| panic!("{fault}: {text}"));
    let list = json["differences"].as_array().unwrap();
    assert_eq!(code, Some(if list.is_empty() { 0 } else { 1 }), "{text}");
    let text = |value: &Json| value.as_str().unwrap().to_owned();
    list.iter().map(|one| (text(&one["way"]), format!("{}: {}", text(&one["of"]), text(&one["what"])))).collect()
}

fn two_versions() -> TempDir {
    let folder = TempDir::new().unwrap();
    let plugins = Path::new(env!("CARGO_MANIFEST_DIR")).join("plugins");
    for version in ["before", "after"] {
        for plugin in ["automatic-transmissions", "plover"] {
            copy(&plugins.join(plugin), &folder.path().join(version).join(plugin));
        }
    }
    folder
}

#[test]
fn each_edit_is_told_with_the_way_it_goes() {
    let folder = two_versions();
    assert_eq!(differences(folder.path()), []);
    let mut wrong = Vec::new();
    for (file, find, write, expected) in EDITS {
        let path = folder.path().join("after").join(file);
        let before = fs::read_to_string(&path).unwrap();
        assert!(before.contains(find), "{file} has no {find:?}");
        fs::write(&path, before.replacen(find, write, 1)).unwrap();
        let found = differences(folder.path());
        fs::write(&path, before).unwrap();
        let told = |(way, words): &(&str, &str)| found.iter().any(|(is, what)| is == way && what.contains(words));
        if found.len() != expected.len() || !expected.iter().all(told) {
            wrong.push(format!("{find:?} -> {write:?}\n  wanted {expected:?}\n  found  {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn steps_and_files_come_go_and_move_and_the_dangerous_comes_first() {
    let folder = two_versions();
    let path = folder.path().join("after").join(MAKE_SAFE);
    let text = fs::read_to_string(&path).unwrap();
    let step = |id: &str| {
        let start = text.find(&format!("  - id: {id}\n")).unwrap();
        let end = text[start + 4..].find("\n  - id: ").map_or(text.len(), |length| start + 5 + length);
        text[start..end].to_owned()
    };
    let (first, tilt, locks) = (step("rules-first"), step("tilt"), step("on-locks"));
    let runways = step("on-runways");
    let added = "  - id: wipe\n    title: Wipe it\n    do: With a cloth.\n\n";
    let new = text.replacen(&tilt, "", 1).replacen(&runways, &format!("{tilt}{runways}"), 1).replacen(&first, added, 1);
    fs::write(&path, new).unwrap();
    fs::remove_file(folder.path().join("after/plover/cases/one-go.yaml")).unwrap();
    let procedure = "procedure make-safe: the step";
    let told = differences(folder.path());
    assert_eq!(told[0], ("easier".into(), "case one-go: the worked example is taken away".into()), "{told:?}");
    for words in ["`rules-first` is dropped", "`wipe` is added", "`tilt` is moved after `extraction`"] {
        assert!(told.contains(&("open".into(), format!("{procedure} {words}"))), "{words}: {told:#?}");
    }
    assert_eq!(told.len(), 4, "{told:#?}");
    // From one procedure into another, with what it asked for.
    let intake = folder.path().join("after/automatic-transmissions/procedures/intake.yaml");
    let before = fs::read_to_string(&intake).unwrap();
    fs::write(&path, text.replacen(&tilt, "", 1)).unwrap();
    let there =
        before.replacen("steps:\n", &format!("steps:\n{}", tilt.replace("otherwise: wait", "otherwise: stop")), 1);
    fs::write(&intake, there).unwrap();
    let told = differences(folder.path());
    assert!(told.contains(&("open".into(), format!("{procedure} `tilt` is moved into `intake`"))), "{told:#?}");
    let stricter = "procedure make-safe, step tilt: where the gate is not met: wait -> stop";
    assert!(told.contains(&("harder".into(), stricter.into())) && told.len() == 3, "{told:#?}");
    fs::write(&intake, before).unwrap();

    // What has to be met is missed where it goes.
    fs::write(&path, text.replacen(&locks, "", 1)).unwrap();
    assert!(differences(folder.path()).contains(&("easier".into(), format!("{procedure} `on-locks` is dropped"))));
    let (code, told) = compare(folder.path(), &[]);
    assert!(code == Some(1) && told.starts_with("EASIER TO END AS SHOWN\n"), "{told}");
    assert!(told.lines().all(|line| line.chars().count() <= 80 || line.contains(".yaml:")), "{told}");
    assert!(told.contains("2 differences in 2 plugins, 2 easier to end as shown"), "{told}");
    let (code, _) = compare(folder.path(), &["--format", "csv"]);
    assert_eq!(code, Some(2));
}

#[test]
fn the_cases_that_run_what_differs_are_named() {
    let folder = two_versions();
    let edit = |file: &str, find: &str, write: &str| {
        let path = folder.path().join("after").join(file);
        let before = fs::read_to_string(&path).unwrap();
        assert!(before.contains(find), "{file} has no {find:?}");
        fs::write(&path, before.replacen(find, write, 1)).unwrap();
    };
    // Words alone make nothing come out otherwise.
    edit(MAKE_SAFE, "title: Measure how level it stands", "title: Measure its tilt");
    assert!(!compare(folder.path(), &[]).1.contains("CASES"));
    edit(MAKE_SAFE, "sump_temperature < 45.degC", "sump_temperature < 46.degC");
    edit("plover/tables/pan-16.csv", "2,-31,196", "2,-31,195");
    edit("automatic-transmissions/logs/level-log.yaml", "gap: 3 s", "gap: 4 s");
    let (_, text) = compare(folder.path(), &[]);
    let told: Vec<&str> = text.lines().skip_while(|line| *line != "CASES THAT RUN WHAT DIFFERS").skip(1).collect();
    // Those of plugins that were not named run it as well.
    assert!(told.contains(&"  heron/deep-pan: procedure make-safe"), "{text}");
    assert!(told.contains(&"  plover/one-go: procedure make-safe, table pan-16"), "{text}");
    assert!(told.contains(&"  none: log level-log"), "{text}");
    assert!(!text.contains("calculations/"), "no calculation differs: {text}");
    let json: Json = serde_json::from_str(&compare(folder.path(), &["--format", "json"]).1).unwrap();
    assert_eq!(json["cases"]["plover/one-go"], serde_json::json!(["procedure make-safe", "table pan-16"]));
    assert_eq!(json["untried"], serde_json::json!(["log level-log"]));
}
