//! Jobs of an archive under newer data: the same jobs, verdicts and amounts as by their journals, and what only those show is said.

use std::fs;
use std::path::{Path, PathBuf};

use regex::Regex;
use serde_json::Value as Json;
use tempfile::TempDir;

use crate::archive::columns::{archive, one, room, simulate};
use crate::audit::bench::{root, standpipe};

/// Exit code and what was said, as data.
fn audit(path: &Path, newer: &Path, more: &[&str]) -> (i32, Json) {
    let mut command = standpipe();
    command.args(["audit", "--format", "json"]).arg(path).arg("--against").arg(newer).args(more);
    let output = command.output().unwrap();
    let told = serde_json::from_slice(&output.stdout);
    (output.status.code().unwrap(), told.unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr))))
}

/// The families that ship and those of a workshop, in plugins of the same names, with every number of a kind another one.
fn corrected(room: &TempDir, kind: &str, by: &dyn Fn(f64) -> f64) -> PathBuf {
    let newer = room.path().join(format!("newer {kind}").replace('/', "-"));
    let number = Regex::new(&format!(r"(\d+(?:\.\d+)?) {kind}\b")).unwrap();
    let mut changed = 0;
    for plugins in ["plugins", "examples/workshop"] {
        for plugin in fs::read_dir(root().join(plugins)).unwrap() {
            let plugin = plugin.unwrap().path();
            if !plugin.join("families").is_dir() {
                continue;
            }
            let to = newer.join(plugin.file_name().unwrap());
            crate::folders::copy(&plugin, &to);
            for family in fs::read_dir(to.join("families")).unwrap() {
                let family = family.unwrap().path();
                let text = fs::read_to_string(&family).unwrap();
                let other = number.replace_all(&text, |found: &regex::Captures<'_>| {
                    format!("{} {kind}", (by(found[1].parse::<f64>().unwrap()) * 100.0).round() / 100.0)
                });
                changed += usize::from(text != other);
                fs::write(family, &*other).unwrap();
            }
        }
    }
    assert!(changed > 0, "no family has a number of {kind}");
    newer
}

/// By job what is missed, and what could not be judged. Of a shop that is not at hand nobody knows how it writes numbers.
fn found(told: &Json) -> Vec<(String, Json, Json)> {
    let numbers = |job: &str, mut missed: Json| {
        if job.starts_with("simulated") {
            for one in missed.as_array_mut().unwrap() {
                one["found"] = Json::Null;
                if let Some(margin) = one["margin"].as_object_mut() {
                    margin.retain(|key, _| key == "name" || key == "off_si");
                }
            }
        }
        missed
    };
    let jobs = told["journals"].as_array().unwrap_or_else(|| panic!("{told:#}")).iter();
    let mut all: Vec<_> = jobs
        .map(|job| (job["job"].as_str().unwrap().to_owned(), &job["recheck"]))
        .filter(|(_, recheck)| recheck["missed"][0].is_object() || recheck["not_judged"][0].is_string())
        .map(|(job, recheck)| {
            let missed = numbers(&job, recheck["missed"].clone());
            (job, missed, recheck["not_judged"].clone())
        })
        .collect();
    all.sort_by(|one, other| one.0.cmp(&other.0));
    all
}

fn shop() -> String {
    root().join("examples/workshop/shop.yaml").display().to_string()
}

#[test]
fn an_archive_names_the_jobs_that_the_journals_name() {
    let (folder, jobs, into) = room();
    simulate(&jobs.join("herons"), &["pan-service-overflow", "--family", "heron"], 12);
    assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
    let shop = shop();
    let newer = [
        root().join("examples/newer"),
        corrected(&folder, "N·m", &|number| number * 0.93),
        corrected(&folder, "degC", &|number| number - 2.0),
        corrected(&folder, "L", &|number| number * 1.3),
        corrected(&folder, "min", &|number| number * 2.0),
    ];
    let mut missed = Vec::new();
    for newer in &newer {
        let (code, by_journals) = audit(&jobs, newer, &[]);
        let (again, by_archive) = audit(&into, newer, &["--shop", &shop]);
        let (journals, archived) = (found(&by_journals), found(&by_archive));
        assert_eq!(archived, journals, "{}", newer.display());
        // What does not hold for other reasons the journals alone show.
        let some = journals.iter().any(|(_, missed, _)| missed[0].is_object());
        assert_eq!(again, i32::from(some), "{by_archive:#}");
        assert!(code >= again);
        missed.push(journals.iter().map(|(_, missed, _)| missed.as_array().unwrap().len()).sum::<usize>());
    }
    assert!(missed[0] == 2 && missed.iter().all(|missed| *missed > 0), "{missed:?}");
    // Data that are as they were.
    let (code, told) = audit(&into, &root().join("plugins"), &["--shop", &shop]);
    assert_eq!((code, found(&told)), (0, Vec::new()), "{told:#}");
    assert_eq!((&told["archived"]["finished"], &told["archived"]["others"]), (&24.into(), &4.into()));
}

#[test]
fn a_shop_whose_file_is_not_at_hand_is_counted_and_what_it_alone_knows_is_not_judged() {
    let (_room, jobs, into) = room();
    assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
    let newer = root().join("examples/newer");
    let (_, told) = audit(&into, &newer, &[]);
    let parts = ["finished", "others", "without_shop"].map(|key| told["archived"][key].as_u64().unwrap());
    assert_eq!(parts, [14, 2, 14]);
    // A family of the workshop's own plugins is in no plugin at hand.
    assert!(told.to_string().contains("the plan can't be built with the newer data"), "{told:#}");
    let output = standpipe().arg("audit").arg(&into).arg("--against").arg(&newer).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    for part in ["whose file `--shop` names: 14 jobs", "so not judged: 2 jobs", "no evidence", "not judged"] {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn a_gate_that_looks_at_something_else_is_not_judged_by_an_archive() {
    let (room, jobs, into) = room();
    assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
    // A gate that asks for the odometer now: nobody looked whether that was still fresh.
    let newer = room.path().join("newer");
    let procedures = newer.join("automatic-transmissions/procedures");
    crate::folders::copy(&root().join("plugins/automatic-transmissions"), &newer.join("automatic-transmissions"));
    let mut changed = 0;
    for procedure in fs::read_dir(&procedures).unwrap() {
        let procedure = procedure.unwrap().path();
        let text = fs::read_to_string(&procedure).unwrap();
        let other = text.replace("beneath_now == \"nobody\"", "beneath_now == \"nobody\" && odometer > 900000.km");
        changed += usize::from(other != text);
        fs::write(procedure, other).unwrap();
    }
    assert!(changed > 0, "no gate asks who is beneath any more");
    let (_, by_journals) = audit(&jobs, &newer, &[]);
    let (code, told) = audit(&into, &newer, &["--shop", &shop()]);
    assert!(by_journals.to_string().contains("900000.km"), "{by_journals:#}");
    let said = told.to_string();
    assert!(code == 0 && said.contains("it did not look at `odometer` then"), "{told:#}");
    assert!(!said.contains("900000.km"), "{told:#}");
}

const BELLS: [(&str, &str); 6] = [
    (
        "bells/plugin.yaml",
        "plugin: bells\nversion: \"1.0.0\"\ntitle: Bells\nplugins: [units]\nlicence: unknown\nauthor: unknown\n",
    ),
    ("bells/forms/bell.yaml", "form: bell\nfields:\n  height: { is: length, required: true }\n"),
    (
        "bells/families/small.yaml",
        "family: small\nform: bell\nheight: 20 cm\nsources: [{ covers: all, from: invented for the tests }]\n",
    ),
    (
        "bells/procedures/ring.yaml",
        "procedure: ring
form: bell
title: Ring the bell
steps:
  - id: name-it
    title: Say who rings
    read: { who: { is: person, ask: Who rings? } }
    gate: { must: who != \"bob\", otherwise: stop }
  - id: hear-it
    title: Write what is heard
    read: { heard: { is: text, ask: What is heard? } }
    gate: { must: heard != \"nothing\", otherwise: stop }
sources: [{ covers: all, from: invented for the tests }]
",
    ),
    ("job.yaml", "job: bell-1\nfamily: small\nprocedure: ring\n"),
    (
        "answers.yaml",
        "answers: one
list:
  - { step: name-it, at: \"2026-11-01T08:00:00+01:00\", by: ann, enter: { who: ann } }
  - { step: hear-it, at: \"+1 min\", by: ann, enter: { heard: a fine tone } }
",
    ),
];

/// Somebody is a hash, which no name is; words are left out, or there as they were.
#[test]
fn a_gate_over_people_and_words_is_judged_only_where_the_archive_has_them() {
    let room = TempDir::new().unwrap();
    let put = |path: &Path, text: &str| {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    };
    BELLS.iter().for_each(|(file, text)| put(&room.path().join(file), text));
    for (file, text) in &BELLS[..4] {
        let text = text.replace("who != \"bob\"", "who != \"ann\"").replace("\"nothing\"", "\"a fine tone\"");
        put(&room.path().join("newer").join(file), &text);
    }
    let at = |name: &str| room.path().join(name);
    let plugins = at("bells").display().to_string();
    let mut run = standpipe();
    run.arg("run").arg(at("job.yaml")).arg("--answers").arg(at("answers.yaml")).args(["--plugins", &plugins]);
    assert!(run.arg("--journal").arg(at("jobs/one")).output().unwrap().status.success());
    assert_eq!(archive(&[&at("jobs")], &at("without"), &[]).0, 0);
    assert_eq!(archive(&[&at("jobs")], &at("with"), &["--words"]).0, 0);
    let judged = |of: &str, newer: &str| -> (Vec<String>, Vec<String>) {
        let told = audit(&at(of), &at(newer), &["--plugins", &plugins]).1;
        let (mut missed, mut not_judged) = (Vec::new(), Vec::new());
        for (_, missing, unjudged) in found(&told) {
            missed.extend(missing.as_array().unwrap().iter().map(|one| one["address"].as_str().unwrap().to_owned()));
            not_judged.extend(unjudged.as_array().into_iter().flatten().map(|one| one.as_str().unwrap().to_owned()));
        }
        (missed, not_judged)
    };
    let both = ["name-it", "hear-it"].map(str::to_owned);
    assert_eq!(judged("jobs", "newer"), (both.to_vec(), Vec::new()));
    let who = "`name-it`: who `who` is the archive does not say".to_owned();
    let heard = "`hear-it`: what was written as `heard` was left out of the archive".to_owned();
    assert_eq!(judged("without", "newer"), (Vec::new(), vec![who.clone(), heard]));
    assert_eq!(judged("with", "newer"), (vec!["hear-it".to_owned()], vec![who]));
    // Data that leave these gates as they are leave nothing to be said of them.
    assert_eq!(judged("without", "bells"), (Vec::new(), Vec::new()));
}

#[test]
fn files_that_do_not_hold_are_named_and_the_rest_is_judged() {
    let (_room, jobs, into) = room();
    assert_eq!(archive(&[&jobs], &into, &[]).0, 0);
    let (newer, shop) = (root().join("examples/newer"), shop());
    let whole = audit(&into, &newer, &["--shop", &shop]).1;
    let finished = |told: &Json| told["archived"]["finished"].as_u64().unwrap();
    for table in ["readings", "looked_at", "jobs"] {
        let file = one(&into, table, "2026-11");
        let bytes = fs::read(&file).unwrap();
        let mut other = bytes.clone();
        other[bytes.len() / 2] ^= 1;
        for broken in [bytes[..bytes.len() / 2].to_vec(), other, Vec::new()] {
            fs::write(&file, broken).unwrap();
            let (code, told) = audit(&into, &newer, &["--shop", &shop]);
            let said = told["problems"].to_string();
            assert!(code == 1 && said.contains(table) && said.contains("jobs were not judged"), "{told:#}");
            assert!(finished(&told) > 0 && finished(&told) < finished(&whole), "{told:#}");
        }
        fs::write(&file, &bytes).unwrap();
    }
    assert_eq!(audit(&into, &newer, &["--shop", &shop]).1, whole);
    // A list of a newer version, and what is asked of an archive that it can't say.
    let list = into.join("archive.json");
    let text = fs::read_to_string(&list).unwrap();
    let refused = |arguments: &[&str], wanted: &str| {
        let output = standpipe().arg("audit").arg(&into).args(arguments).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && said.contains(wanted), "{said}");
    };
    refused(&[], "nothing in it can be audited");
    refused(&["--instrument", "reader", "--off", "2 K"], "nothing in it can be audited");
    refused(&[jobs.to_str().unwrap(), "--against", newer.to_str().unwrap()], "asked by itself");
    fs::write(&list, text.replace("standpipe.archive/1", "standpipe.archive/2")).unwrap();
    refused(&["--against", newer.to_str().unwrap()], "of version 2 of its tables");
    fs::write(&list, "{").unwrap();
    refused(&["--against", newer.to_str().unwrap()], "the list of the archive can't be read");
}
