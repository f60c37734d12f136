//! What `new` writes loads as it is, and can be shown and run at once.

use std::fs;
use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use indexmap::IndexMap;
use serde_json::Value;
use standpipe::diagnostic::{Look, Problems, human};
use standpipe::library::{Files, Kind, Layer};
use standpipe::plan::Parsed;
use standpipe::sheet::Sheet;
use tempfile::TempDir;

fn run(here: &Path, args: &[&str]) -> Output {
    Command::cargo_bin("standpipe").unwrap().current_dir(here).args(args).output().unwrap()
}

fn well(here: &Path, args: &[&str]) -> String {
    let output = run(here, args);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{args:?}: {said}");
    assert!(!said.contains("warning") && !said.contains("error"), "{args:?}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

/// All plugins below a folder over the built-in ones, without a complaint.
fn parsed(here: &Path) -> Parsed {
    let mut problems = Problems::new();
    let mut files = Files::built_in();
    files.add_folder(here, Layer::Given(1), &mut problems);
    let parsed = Parsed::new(files, &mut problems);
    assert!(problems.is_empty(), "{}", human(&problems, Look { color: false, width: 100, folded: false }));
    parsed
}

const FORM: &[&str] = &["--form", "automatic-transmission"];

#[test]
fn a_family_asks_every_question_of_its_form_and_leaves_it_unknown() {
    let here = TempDir::new().unwrap();
    let text = well(here.path(), &[&["new", "family", "osprey", "--format", "json"], FORM].concat());
    let made: Value = serde_json::from_str(&text).unwrap();
    let unknown = made["unknown"].as_array().unwrap();
    assert!(unknown.iter().any(|path| path == "level.window") && unknown.len() > 30);
    let text = fs::read_to_string(here.path().join("osprey/families/osprey.yaml")).unwrap();
    assert!(text.contains("  # Temperature window of the level, from - to? (a range of temperature"), "{text}");
    assert!(text.contains("\n  window: unknown\n"));
    let mut problems = Problems::new();
    let (_, family) = parsed(here.path()).family(&standpipe::plan::typed("id", "osprey"), &mut problems).unwrap();
    assert!(problems.is_empty(), "{problems:?}");
    assert!(family.facts(None).at(&["level", "window"]).unwrap().is_unknown());
    // The folder is called as the family is, and the card is of the family all the same.
    let card = well(here.path(), &["card", "osprey", "--procedure", "pan-service-overflow", "--plugins", "osprey"]);
    assert!(card.contains("level window"), "{card}");
}

#[test]
fn a_family_that_was_filled_in_has_nothing_against_it() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "form", "crate-lift"]);
    well(here.path(), &["new", "family", "pine", "--form", "crate-lift", "--plugins", "crate-lift"]);
    let path = here.path().join("pine/families/pine.yaml");
    let text = fs::read_to_string(&path).unwrap();
    let text = text.replace("length: unknown", "length: 40 cm").replace("state: unknown", "state: used");
    let text = text.replace("# sources:\n#   -", "sources:\n  -").replace("# variants:", "variants:");
    let text = text.replace("#   one: { recognised_by: { marks: unknown } }", "  one: { recognised_by: { marks: 1 } }");
    let text =
        text.replace("#   other: { recognised_by: { marks: unknown } }", "  other: { recognised_by: { marks: 2 } }");
    fs::write(&path, text).unwrap();
    let shown = well(here.path(), &["show", "family", "pine", "--plugins", "."]);
    assert!(shown.contains("40 cm") || shown.contains("400 mm"), "{shown}");
    assert!(shown.contains("variant other: marks 2"), "{shown}");
}

#[test]
fn a_procedure_runs_from_answers_as_it_is_written() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "form", "crate-lift"]);
    well(here.path(), &["new", "family", "pine", "--form", "crate-lift", "--plugins", "crate-lift"]);
    well(here.path(), &["new", "procedure", "look-it-over", "--form", "crate-lift", "--plugins", "crate-lift"]);
    let job = "job: J-1\nfamily: pine\nprocedure: look-it-over\ncustomer: { name: nobody }\n";
    fs::write(here.path().join("job.yaml"), job).unwrap();
    let answers = "answers: j-1\nlist:\n\
        \x20 - { step: look-it-over-prepare, at: \"2026-11-23T08:00:00\", by: ann, enter: done }\n\
        \x20 - { step: look-it-over-measure, at: \"+1 min\", by: ann, enter: { look_it_over_temperature: 20 degC } }\n\
        \x20 - { step: look-it-over-look, at: \"+1 min\", by: ann, enter: as it should be }\n";
    fs::write(here.path().join("answers.yaml"), answers).unwrap();
    let record = well(here.path(), &["run", "job.yaml", "--answers", "answers.yaml", "--plugins", "."]);
    assert!(record.contains("2 gates met"), "{record}");
}

#[test]
fn a_sheet_computes_what_its_case_says() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "sheet", "share-of"]);
    let parsed = parsed(here.path());
    let document = parsed.library.document(Kind::Sheet, "share-of").unwrap();
    let mut problems = Problems::new();
    let sheet = Sheet::read(&document.source, &document.plugin, &parsed.units, &mut problems).unwrap();
    let case: Value =
        serde_yaml::from_str(&fs::read_to_string(here.path().join("share-of/cases/share-of.yaml")).unwrap()).unwrap();
    let inputs: IndexMap<String, _> = case["given"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, value)| (name.clone(), parsed.units.read(value.as_str().unwrap(), None, None).unwrap()))
        .collect();
    let scripts = parsed.scripts();
    let outcome = sheet.run(&scripts, inputs).unwrap();
    let expected = parsed.units.read(case["expect"]["share"].as_str().unwrap(), None, None).unwrap();
    let number = |value: &standpipe::value::Value| match value {
        standpipe::value::Value::Number(number) => *number,
        standpipe::value::Value::Quantity(quantity) => quantity.si,
        other => panic!("{other:?}"),
    };
    assert!((number(&outcome.outputs["share"]) - number(&expected)).abs() < 1e-12);
}

#[test]
fn an_overlay_is_in_force_where_a_shop_lists_it() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "overlay", "our-ways", "--procedure", "pan-service-overflow"]);
    let shop = "shop: ours\nplugins: [our-ways]\noverlays: [our-ways]\n";
    fs::write(here.path().join("shop.yaml"), shop).unwrap();
    let text = well(here.path(), &["show", "procedure", "pan-service-overflow", "--places", "--shop", "shop.yaml"]);
    assert!(text.contains("our-ways-step  (do)") && text.contains("by the overlay our-ways: added"), "{text}");
}

#[test]
fn units_and_tables_are_read() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "units", "hops"]);
    assert_eq!(well(here.path(), &["convert", "3 hops-unit", "hops-unit", "--plugins", "hops"]).trim(), "3 hops-unit");
    well(here.path(), &["new", "table", "places", "--into", "hops"]);
    assert!(here.path().join("hops/tables/places.csv").exists());
    assert!(!here.path().join("hops/places").exists());
    assert!(parsed(here.path()).library.document(Kind::Table, "places").is_some());
}

/// What a procedure asks is found by walking it; `check` and `simulate` find it by their own means, and miss nothing.
#[test]
fn a_model_answers_all_that_a_procedure_asks_and_can_be_simulated_as_it_is() {
    for (procedure, family) in
        [("pan-service-overflow", "heron"), ("fluid-change", "knot"), ("extra-work", "heron/deep-pan")]
    {
        let here = TempDir::new().unwrap();
        let of = ["--procedure", procedure, "--family", family];
        let made = well(here.path(), &[&["new", "model", "first-bench"][..], &of, &["--format", "json"]].concat());
        let made: Value = serde_json::from_str(&made).unwrap();
        let text = fs::read_to_string(here.path().join("first-bench/models/first-bench.yaml")).unwrap();
        let open = made["unknown"].as_array().unwrap();
        assert!(!open.is_empty() && text.matches("# to be replaced: ").count() == open.len(), "{text}");
        let checked = run(here.path(), &["check", "first-bench", "--strict"]);
        let said = String::from_utf8(checked.stdout).unwrap() + &*String::from_utf8(checked.stderr).unwrap();
        assert_eq!(checked.status.code(), Some(0), "{said}");
        assert_eq!(said.matches("a placeholder is still here").count(), 2, "chance and source are marked: {said}");
        let jobs = ["--model", "first-bench", "--plugins", "first-bench", "--jobs", "40", "--format", "json"];
        let found = well(here.path(), &[&["simulate", procedure, "--family", family][..], &jobs].concat());
        let found: Value = serde_json::from_str(&found).unwrap();
        assert_eq!(found["simulation"]["jobs"], 40);
        assert!(found["simulation"]["faults"][0]["jobs"].as_u64() > Some(0), "its fault comes up: {found}");
    }
}

#[test]
fn what_is_there_is_not_written_over_and_slips_are_named() {
    let here = TempDir::new().unwrap();
    well(here.path(), &["new", "units", "hops"]);
    for (args, word) in [
        (&["new", "units", "hops"][..], "there already"),
        (&["new", "units", "My Units"], "can't be an id"),
        (&["new", "family", "heron"], "already"),
        (&["new", "family", "osprey", "--form", "automatic-transmision"], "did you mean `automatic-transmission`?"),
        (&["new", "overlay", "ours", "--procedure", "pan-servce-overflow"], "did you mean `pan-service-overflow`?"),
        (&["new", "model", "osprey", "--procedure", "fluid-change"], "which family?"),
        (&["new", "model", "osprey", "--procedure", "fluid-chnge", "--family", "knot"], "did you mean `fluid-change`?"),
        (&["new", "model", "osprey", "--procedure", "fluid-change", "--family", "knto"], "did you mean `knot`?"),
        (&["new", "model", "osprey", "--procedure", "fluid-change", "--family", "heron"], "`plug-or-stick`"),
        (&["new", "model", "pan-bench", "--procedure", "fluid-change", "--family", "knot"], "already"),
        (&["new", "sheet", "osprey", "--family", "knot"], "does not go with"),
        (&["new", "sheet", "osprey", "--form", "automatic-transmission"], "does not go with"),
    ] {
        let output = run(here.path(), args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains(word), "{args:?}: {said}");
    }
    assert_eq!(fs::read_dir(here.path()).unwrap().count(), 1);
}
