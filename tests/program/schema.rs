//! Every file that is shipped fits the schema of its kind, and a file with a slip in it does not.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use regex::Regex;
use serde_json::Value;

use crate::mistakes;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn schema(args: &[&str]) -> Value {
    let output = Command::cargo_bin("standpipe").unwrap().arg("schema").args(args).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// As much of JSON Schema as ours use: a whole validator would bring sixty packages.
fn fits(value: &Value, schema: &Value, root: &Value) -> Result<(), String> {
    let Some(keys) = schema.as_object() else {
        return if schema == &Value::Bool(false) { Err(format!("{value} has no place here")) } else { Ok(()) };
    };
    for (key, wanted) in keys {
        match key.as_str() {
            "$ref" => {
                let path = wanted.as_str().unwrap().strip_prefix('#').unwrap();
                fits(value, root.pointer(path).unwrap(), root)?;
            }
            "type" => {
                let types: Vec<&str> = match wanted {
                    Value::Array(list) => list.iter().map(|one| one.as_str().unwrap()).collect(),
                    one => vec![one.as_str().unwrap()],
                };
                if !types.iter().any(|kind| is(value, kind)) {
                    let told: String = value.to_string().chars().take(120).collect();
                    return Err(format!("{told} is no {}", types.join(" or ")));
                }
            }
            "enum" if !wanted.as_array().unwrap().contains(value) => {
                return Err(format!("{value} is none of {wanted}"));
            }
            "const" if wanted != value => return Err(format!("{value} is not {wanted}")),
            "minimum" if value.is_number() && value.as_f64() < wanted.as_f64() => {
                return Err(format!("{value} is below {wanted}"));
            }
            "maximum" if value.as_f64() > wanted.as_f64() => return Err(format!("{value} is above {wanted}")),
            "pattern" if value.is_string() => {
                let text = value.as_str().unwrap();
                if !Regex::new(wanted.as_str().unwrap()).unwrap().is_match(text) {
                    return Err(format!("`{text}` is not of the form {wanted}"));
                }
            }
            "not" if fits(value, wanted, root).is_ok() => return Err(format!("{value} is what it must not be")),
            "dependentRequired" => {
                for (of, others) in wanted.as_object().unwrap() {
                    let map = value.as_object().filter(|map| map.contains_key(of));
                    for other in others.as_array().unwrap() {
                        if map.is_some_and(|map| !map.contains_key(other.as_str().unwrap())) {
                            return Err(format!("`{of}` needs {other}"));
                        }
                    }
                }
            }
            "propertyNames" => {
                for name in value.as_object().into_iter().flat_map(|map| map.keys()) {
                    fits(&Value::from(name.as_str()), wanted, root)?;
                }
            }
            "oneOf" => {
                let fit = wanted.as_array().unwrap().iter().filter(|one| fits(value, one, root).is_ok()).count();
                if fit != 1 {
                    return Err(format!("{fit} of {wanted} fit"));
                }
            }
            "anyOf" => {
                let faults: Vec<String> =
                    wanted.as_array().unwrap().iter().filter_map(|one| fits(value, one, root).err()).collect();
                if faults.len() == wanted.as_array().unwrap().len() {
                    return Err(faults.join("; "));
                }
            }
            "required" => {
                if let (Some(map), Some(names)) = (value.as_object(), wanted.as_array()) {
                    for name in names {
                        if !map.contains_key(name.as_str().unwrap()) {
                            return Err(format!("{name} is missing"));
                        }
                    }
                }
            }
            "items" => {
                for (index, item) in value.as_array().into_iter().flatten().enumerate() {
                    fits(item, wanted, root).map_err(|fault| format!("[{index}] {fault}"))?;
                }
            }
            "properties" | "additionalProperties" => {
                for (name, inner) in value.as_object().into_iter().flatten() {
                    let of = match key.as_str() {
                        "properties" => wanted.get(name),
                        _ => keys.get("properties").and_then(|own| own.get(name)).is_none().then_some(wanted),
                    };
                    if let Some(of) = of {
                        fits(inner, of, root).map_err(|fault| format!("{name}: {fault}"))?;
                    }
                }
            }
            "minItems"
                if value.is_array() && (value.as_array().map_or(0, Vec::len) as u64) < wanted.as_u64().unwrap() =>
            {
                return Err(format!("{value} has fewer than {wanted} entries"));
            }
            "maxItems" if value.as_array().map_or(0, Vec::len) as u64 > wanted.as_u64().unwrap() => {
                return Err(format!("{value} has more than {wanted} entries"));
            }
            "prefixItems" => {
                for (item, of) in value.as_array().into_iter().flatten().zip(wanted.as_array().unwrap()) {
                    fits(item, of, root)?;
                }
            }
            "enum" | "const" | "pattern" | "not" | "minimum" | "maximum" | "minItems" | "maxItems" => {}
            // These say something to people alone.
            "$schema" | "$defs" | "title" | "description" | "default" | "format" => {}
            other => panic!("the schema has a key `{other}` that this test does not know"),
        }
    }
    Ok(())
}

fn is(value: &Value, kind: &str) -> bool {
    match kind {
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "boolean" => value.is_boolean(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "null" => value.is_null(),
        other => panic!("no type `{other}`"),
    }
}

fn read(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap();
    serde_yaml::from_str(&text).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
}

/// Files below a folder that lie in a folder of this name, or are called so.
fn files(below: &Path, name: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(below).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, name, found);
        } else if path.extension().is_some_and(|it| it == "yaml")
            && (path.parent().unwrap().ends_with(name) && !path.ends_with("plugin.yaml") || path.ends_with(name))
        {
            found.push(path);
        }
    }
}

const KINDS: &[(&str, &str)] = &[
    ("plugin", "plugin.yaml"),
    ("units", "units"),
    ("form", "forms"),
    ("family", "families"),
    ("procedure", "procedures"),
    ("sheet", "sheets"),
    ("overlay", "overlays"),
    ("log", "logs"),
    ("shop", "shop.yaml"),
    ("job", "jobs"),
    ("answers", "answers"),
];

#[test]
fn every_shipped_file_fits_the_schema_of_its_kind() {
    for (kind, name) in KINDS {
        let schema = schema(&[kind]);
        let mut found = Vec::new();
        files(&root().join("plugins"), name, &mut found);
        files(&root().join("examples"), name, &mut found);
        assert!(!found.is_empty(), "no file to try the schema of {kind} on");
        for path in found {
            let text = fs::read_to_string(&path).unwrap();
            let pointed = text.starts_with(&format!("# Keys: standpipe schema {kind}"));
            assert!(pointed, "{} does not say where its keys are listed", path.display());
            if let Err(fault) = fits(&read(&path), &schema, &schema) {
                panic!("{}: {fault}", path.display());
            }
        }
    }
}

#[test]
fn families_and_jobs_fit_the_schema_of_their_form_with_its_questions() {
    let of_family = schema(&["family", "--form", "automatic-transmission"]);
    let family = read(&root().join("plugins/heron/families/heron.yaml"));
    fits(&family, &of_family, &of_family).unwrap();
    let of_job = schema(&["job", "--form", "automatic-transmission"]);
    let job = read(&root().join("examples/jobs/heron-van.yaml"));
    fits(&job, &of_job, &of_job).unwrap();
    let window = &of_family["properties"]["level"]["properties"]["window"];
    assert_eq!(window["description"], "Temperature window of the level, from - to?");

    let mut slip = family.clone();
    slip["level"]["engine"] = "runing".into();
    assert!(fits(&slip, &of_family, &of_family).is_err());
    let mut slip = family;
    slip["level"]["windw"] = "51..58 degC".into();
    assert!(fits(&slip, &of_family, &of_family).is_err());
}

#[test]
fn a_slip_does_not_fit() {
    let of_procedure = schema(&["procedure"]);
    let good = read(&root().join("plugins/automatic-transmissions/procedures/drain.yaml"));
    fits(&good, &of_procedure, &of_procedure).unwrap();
    for (key, value) in
        [("tilte", "x".into()), ("keep", "x".into()), ("gate", serde_json::json!({ "otherwise": "wait" }))]
    {
        let mut slip = good.clone();
        slip["steps"][0][key] = value;
        assert!(fits(&slip, &of_procedure, &of_procedure).is_err(), "{key}");
    }
    let of_overlay = schema(&["overlay"]);
    let slip = serde_json::json!({ "overlay": "x", "changes": [{ "ater": "y" }] });
    assert!(fits(&slip, &of_overlay, &of_overlay).is_err());
}

/// Every key of a schema with what it says of it, wherever it stands.
fn keys(schema: &Value, found: &mut Vec<(String, Value)>) {
    match schema {
        Value::Object(map) => {
            for (name, inner) in map.get("properties").and_then(Value::as_object).into_iter().flatten() {
                found.push((name.clone(), inner.clone()));
            }
            map.values().for_each(|inner| keys(inner, found));
        }
        Value::Array(list) => list.iter().for_each(|inner| keys(inner, found)),
        _ => {}
    }
}

fn keys_of(kind: &str) -> Vec<(String, Value)> {
    let mut found = Vec::new();
    keys(&schema(&[kind]), &mut found);
    assert!(!found.is_empty(), "{kind}");
    found
}

/// Words that once said what a value is, or had two meanings, and the kinds of file in which they may still stand.
const RETIRED: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("flag", &[]),
    // The answers of a file of answers.
    ("list", &["answers"]),
    ("truth", &[]),
    ("date", &[]),
    ("count", &[]),
    ("person", &[]),
    ("options", &[]),
    ("raise", &[]),
    // A shop says what the scale of an instrument reaches.
    ("range", &["shop"]),
    // Of a tag and of a wait: words for people.
    ("text", &["procedure", "overlay"]),
    // The inputs of a sheet.
    ("with", &["procedure", "overlay"]),
    // Fields of the form without which a step can't be done.
    ("needs", &["procedure", "overlay"]),
    // A value of an overlay has one, and so has one that is supplied.
    ("source", &["overlay", "answers"]),
    // A signature.
    ("sign", &["procedure", "overlay"]),
    // The role of one who signs, and the instrument that wrote a log.
    ("as", &["procedure", "overlay", "answers"]),
];

#[test]
fn a_key_that_was_given_up_does_not_come_back() {
    for (kind, _) in KINDS {
        for (name, _) in keys_of(kind) {
            for (retired, allowed) in RETIRED {
                assert!(name != *retired || allowed.contains(kind), "`{name}` in the schema of {kind}");
            }
        }
    }
}

/// Keys that take another kind of thing in another place, and why they may.
const TWO_SHAPES: &[(&str, &str)] = &[
    ("ask", "a question; behind `otherwise:` the roles that are asked"),
    ("at", "when an answer was given; of what is learned, the steps at which it is read"),
    ("cautions", "of a procedure by the names under which its steps call them up; of a sheet one after the other"),
    ("facts", "those that a shop states; on a card, the names of those that it shows"),
    ("of", "the expression that an `each` goes over; of a course, the names that are drawn"),
    ("one_of", "choices; where each has an explanation, or the cells that mean it, by its name"),
    ("time", "the words that name the column of time in a log; of one log, how its times are written"),
    ("words", "the words that name a column of a log; of an instrument, what the words in its logs stand for"),
];

#[test]
fn a_key_takes_the_same_kind_of_thing_wherever_it_stands() {
    let mut shapes: BTreeMap<String, BTreeSet<String>> = Default::default();
    for (kind, _) in KINDS {
        let root = schema(&[kind]);
        for (name, told) in keys_of(kind) {
            // The first key of a file is the name of its kind, and elsewhere a heading may be called so.
            if KINDS.iter().any(|(kind, _)| *kind == name) {
                continue;
            }
            let told = match told.get("$ref").and_then(Value::as_str) {
                Some(path) => root.pointer(path.trim_start_matches('#')).unwrap().clone(),
                None => told,
            };
            let types = match told.get("type") {
                Some(Value::String(one)) if ["integer", "number"].contains(&one.as_str()) => "string".to_owned(),
                Some(Value::String(one)) => one.clone(),
                // Any of the ways in which YAML may write a text, and `null` for what may be left out.
                Some(Value::Array(all)) if all.iter().any(|one| one == "string") => "string".to_owned(),
                Some(Value::Array(all)) => {
                    let all: Vec<&str> = all.iter().filter_map(Value::as_str).filter(|one| *one != "null").collect();
                    all.join(" or ")
                }
                _ => continue,
            };
            shapes.entry(name).or_default().insert(types);
        }
    }
    let known = |name: &str| TWO_SHAPES.iter().any(|(key, _)| *key == name);
    let several: Vec<_> = shapes.iter().filter(|(name, types)| types.len() > 1 && !known(name)).collect();
    assert!(several.is_empty(), "{several:#?}");
    for (name, why) in TWO_SHAPES {
        assert!(shapes[*name].len() > 1 && !why.is_empty(), "`{name}` has one shape now");
    }
}

#[test]
fn a_form_that_is_not_there_is_named() {
    let run = |args: &[&str]| Command::cargo_bin("standpipe").unwrap().args(args).output().unwrap();
    let output = run(&["schema", "family", "--form", "automatic-transmision"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("did you mean `automatic-transmission`?"));
    assert_eq!(run(&["schema", "sheet", "--form", "automatic-transmission"]).status.code(), Some(2));
}

#[test]
fn completions_name_the_commands() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = Command::cargo_bin("standpipe").unwrap().args(["completions", shell]).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(output.status.success() && text.contains("convert") && text.contains("plugins"), "{shell}");
    }
}

#[test]
fn cards_and_records_as_data_fit_what_is_published_of_them() {
    let (of_card, of_record) = (schema(&["card"]), schema(&["record"]));
    let run = |args: &[&str]| {
        let output = Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(args).output().unwrap();
        output.stdout
    };
    let folder = tempfile::tempdir().unwrap();
    let mut jobs = Vec::new();
    files(&root().join("examples"), "jobs", &mut jobs);
    assert!(jobs.len() >= 10);
    for job in jobs {
        let name = job.file_stem().unwrap().to_str().unwrap().to_owned();
        let journal = folder.path().join(&name);
        let (job, journal) = (job.to_str().unwrap(), journal.to_str().unwrap());
        let card: Value = serde_json::from_slice(&run(&["card", job, "--format", "json"])).unwrap();
        fits(&card, &of_card, &of_card).unwrap_or_else(|fault| panic!("card of {name}: {fault}"));
        run(&["run", job, "--answers", &format!("examples/answers/{name}.yaml"), "--journal", journal]);
        let mut record: Value = serde_json::from_slice(&run(&["report", journal, "--format", "json"])).unwrap();
        fits(&record, &of_record, &of_record).unwrap_or_else(|fault| panic!("record of {name}: {fault}"));
        record["record"]["outcome"]["gates_met"] = Value::String("many".to_owned());
        assert!(fits(&record, &of_record, &of_record).is_err(), "{name}");
    }
}

#[test]
fn what_an_audit_writes_fits_its_schema() {
    let folder = tempfile::TempDir::new().unwrap();
    for job in ["heron-taxi", "dunlin-hatch", "dunlin-van"] {
        let examples = root().join("examples");
        let mut command = Command::cargo_bin("standpipe").unwrap();
        command.arg("run").arg(examples.join(format!("jobs/{job}.yaml")));
        command.arg("--answers").arg(examples.join(format!("answers/{job}.yaml")));
        command.arg("--journal").arg(folder.path().join(job)).output().unwrap();
    }
    let schema = schema(&["audit"]);
    let audit = |more: &[&str]| -> Value {
        let mut command = Command::cargo_bin("standpipe").unwrap();
        let output = command.args(["audit", "--format", "json"]).args(more).output().unwrap();
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let newer = root().join("examples/newer");
    let whole = audit(&[folder.path().to_str().unwrap(), "--against", newer.to_str().unwrap()]);
    assert!(whole["journals"][0]["recheck"]["missed"][0]["margin"].is_object(), "{whole}");
    fits(&whole, &schema, &schema).unwrap();
    fits(&audit(&["nowhere"]), &schema, &schema).unwrap();
    let mut slip = whole.clone();
    slip["journals"][0]["points"][0]["verdict"] = "good".into();
    assert!(fits(&slip, &schema, &schema).is_err());
    slip = whole;
    slip["journals"][0].as_object_mut().unwrap().remove("events");
    assert!(fits(&slip, &schema, &schema).is_err());
}

/// The kind of a file by where it lies, and its form if it has questions of one.
fn kind_of(file: &str, text: &str) -> Option<Vec<String>> {
    let (folder, name) = file.rsplit_once('/')?;
    let folder = folder.rsplit('/').next()?;
    let kind = match (folder, name) {
        (_, "plugin.yaml") => "plugin",
        (_, "shop.yaml") => "shop",
        ("cases", _) => "case",
        _ => KINDS.iter().find(|(_, of)| *of == folder && name.ends_with(".yaml")).map(|(kind, _)| *kind)?,
    };
    let form = match kind {
        "family" if file.contains("gannet") => "transfer-case",
        "family" | "job" => "automatic-transmission",
        _ => return Some(vec![kind.to_owned()]),
    };
    // Only with a form that is known are its questions told.
    let known = kind == "job" || text.contains(&format!("form: {form}\n"));
    let mut args = vec![kind.to_owned()];
    if known {
        args.extend(["--form".to_owned(), form.to_owned()]);
    }
    if form == "transfer-case" {
        args.extend(["--plugins".to_owned(), "examples/workshop/transfer-cases".to_owned()]);
    }
    Some(args)
}

/// Whether an editor marks a text: it is no YAML, or does not fit the schema of its kind.
fn marked(text: &str, schema: &Value) -> bool {
    // A key that stands twice is refused here, and taken by the other.
    match serde_yaml::from_str::<serde_yaml::Value>(text).and_then(|_| serde_yaml::from_str::<Value>(text)) {
        Ok(value) => fits(&value, schema, schema).is_err(),
        Err(_) => true,
    }
}

#[allow(clippy::print_stdout, reason = "what is asked for with STANDPIPE_MISTAKES")]
#[test]
fn an_editor_with_the_schemas_alone_marks_most_of_what_people_mistype() {
    let mut schemas: BTreeMap<Vec<String>, Value> = BTreeMap::new();
    let (mut found, mut all) = (0, 0);
    for as_meant in [false, true] {
        for tried in mistakes::all(as_meant) {
            let (text, _) = tried.made();
            let Some(args) = kind_of(&tried.file, &text) else { continue };
            let schema = schemas.entry(args.clone()).or_insert_with(|| {
                let args: Vec<&str> = args.iter().map(String::as_str).collect();
                schema(&args)
            });
            let marked = marked(&text, schema);
            if as_meant {
                assert!(!marked || tried.name.contains("Cross"), "{} is read well, and marked", tried.name);
                continue;
            }
            all += 1;
            found += usize::from(marked);
            if !marked && std::env::var_os("STANDPIPE_MISTAKES").is_some() {
                println!("not marked: {}", tried.name);
            }
        }
    }
    let summary =
        format!("An editor with the schemas alone marks {} of those in YAML files", mistakes::share(found, all));
    println!("{summary}");
    mistakes::published(&summary);
}

/// Every key that people write has a sentence and an example, and the example fits.
#[test]
fn every_key_is_described_with_an_example_that_fits() {
    let kinds = KINDS.iter().map(|(kind, _)| *kind).chain(["case", "model", "people"]);
    let mut wrong = Vec::new();
    let mut count = 0;
    for kind in kinds {
        let root = schema(&[kind]);
        described(kind, &root, &root, &mut wrong, &mut count);
    }
    assert!(count > 300, "{count} keys");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn described(path: &str, schema: &Value, root: &Value, wrong: &mut Vec<String>, count: &mut usize) {
    for (name, of) in schema["properties"].as_object().into_iter().flatten() {
        let path = format!("{path}.{name}");
        *count += 1;
        let said = of["description"].as_str().unwrap_or_default();
        let example = said.rsplit_once("Example: `").map(|(_, example)| example.trim_end().trim_end_matches('`'));
        match example.map(serde_yaml::from_str::<Value>) {
            _ if said.find("Example").unwrap_or(0) < 10 => wrong.push(format!("{path} has no sentence: {said:?}")),
            None => wrong.push(format!("{path} has no example: {said:?}")),
            Some(Err(fault)) => wrong.push(format!("{path}: {fault}: {said}")),
            Some(Ok(value)) => match value.get(name) {
                None => wrong.push(format!("{path}: the example is of another key: {said}")),
                Some(value) => {
                    if let Err(fault) = fits(value, of, root) {
                        wrong.push(format!("{path}: the example does not fit: {fault}"));
                    }
                }
            },
        }
    }
    match schema {
        Value::Object(keys) => keys.iter().for_each(|(key, inner)| {
            let path = if key == "$defs" || key == "properties" { path.to_owned() } else { format!("{path}/{key}") };
            if key != "properties" {
                described(&path, inner, root, wrong, count);
            } else {
                for (name, inner) in inner.as_object().into_iter().flatten() {
                    described(&format!("{path}.{name}"), inner, root, wrong, count);
                }
            }
        }),
        Value::Array(items) => items.iter().for_each(|inner| described(path, inner, root, wrong, count)),
        _ => {}
    }
}

#[test]
fn a_key_is_explained_by_its_path() {
    let show = |path: &str| {
        let output = Command::cargo_bin("standpipe").unwrap().args(["show", "key", path]).output().unwrap();
        (
            output.status.code(),
            String::from_utf8(output.stdout).unwrap() + String::from_utf8(output.stderr).unwrap().as_str(),
        )
    };
    let (code, text) = show("procedure.steps.hold");
    assert_eq!(code, Some(0), "{text}");
    for words in ["a time that has to pass", "example   hold: { for:", "\n  text  What happens meanwhile"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let (_, text) = show("procedure.steps.read.any-name.at_least");
    assert!(text.contains("A value below is refused."), "{text}");
    let (_, text) = show("sheet.inputs.x.outside");
    assert!(text.contains("one of    warn, refuse"), "{text}");
    let (code, text) = show("procedure.steps.hodl");
    assert!(code == Some(2) && text.contains("`hold`"), "{text}");
    let (code, text) = show("family");
    assert!(code == Some(0) && text.contains("signs that it is told") && text.contains("variants"), "{text}");
}

/// `plugins/KEYS.md` is made of the same words; `UPDATE_EXPECTED=1` writes it anew.
#[test]
fn the_page_of_all_keys_is_up_to_date() {
    let mut page = "# Every key of every file\n\nMade of what stands beside each key in the program; `standpipe show key PATH` says \
                    the same. A key in **bold** has to be there.\n"
        .to_owned();
    for kind in KINDS.iter().map(|(kind, _)| *kind).chain(["case", "model", "people"]) {
        let root = schema(&[kind]);
        page.push_str(&format!("\n## {kind}\n\n| key | what it says | example |\n| --- | --- | --- |\n"));
        rows("", &root, &root, &mut Vec::new(), &mut page);
    }
    let kept = root().join("plugins/KEYS.md");
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        fs::write(&kept, &page).unwrap();
    }
    assert!(fs::read_to_string(&kept).unwrap() == page, "write it anew with UPDATE_EXPECTED=1");
}

/// A row for each key below a schema; what stands in several places is told in the first.
fn rows(path: &str, schema: &Value, root: &Value, told: &mut Vec<String>, page: &mut String) {
    if let Some(reference) = schema["$ref"].as_str() {
        if told.iter().any(|known| known == reference) {
            return;
        }
        told.push(reference.to_owned());
        rows(path, root.pointer(&reference[1..]).unwrap(), root, told, page);
    }
    for (name, of) in schema["properties"].as_object().into_iter().flatten() {
        let needed = schema["required"].as_array().is_some_and(|all| all.iter().any(|one| one == name));
        let said = of["description"].as_str().unwrap_or_default();
        let (said, example) = said.split_once("Example: ").unwrap_or((said, ""));
        let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|");
        let key = format!("{path}{name}");
        let key = if needed { format!("**{key}**") } else { key };
        page.push_str(&format!("| {key} | {} | {} |\n", one_line(said), one_line(example)));
        rows(&format!("{path}{name}."), of, root, told, page);
    }
    for inner in ["items", "additionalProperties"].iter().filter_map(|key| schema.get(*key)).filter(|it| it.is_object())
    {
        rows(path, inner, root, told, page);
    }
    for inner in schema["anyOf"].as_array().into_iter().flatten() {
        rows(path, inner, root, told, page);
    }
}
