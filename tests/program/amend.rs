//! A job that its data hold up goes on by corrected ones, and its record says so.

use std::fs;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::audit::bench::{audit, copy_plan, forge, point, sha256, standpipe};

const FILES: &[(&str, &str)] = &[
    ("p/plugin.yaml", "plugin: p\nversion: \"1.0.0\"\nlicence: MIT\nauthor: tests\nplugins: [units]\n"),
    (
        "p/forms/kiln.yaml",
        "form: kiln\ntitle: Kiln\nfields:\n  shelves: { is: list of text, required: true }\n  window: { is: range of temperature, required: true }\njob:\n  vehicle.plate: { is: text }\n",
    ),
    (
        "p/families/small.yaml",
        "family: small\nform: kiln\ntitle: Small\ninvented: true\nshelves: [low, high]\nwindow: 36..44 degC\n\
         sources: [{ covers: all, from: invented for the tests }]\n",
    ),
    (
        "p/procedures/main.yaml",
        "procedure: main\nform: kiln\ntitle: Main\nmay_accept: [head]\nsteps:\n\
         \x20 - id: warm\n    title: Wait for it\n    await: { sample: warmth, is: temperature, within: spec.window, unit: degC }\n\
         \x20 - id: third-shelf\n    title: Take the third shelf out\n    do: Take it out.\n    when: spec.shelves[2] == \"top\"\n\
         \x20 - id: close\n    title: Close it\n    do: Close it.\n",
    ),
    (
        "shop.yaml",
        "shop: bench\npeople:\n  ann: { name: Ann A., roles: [hand] }\n  eve: { name: Eve E., roles: [head] }\nplugins: [p]\n",
    ),
    ("job.yaml", "job: T-1\nfamily: small\nprocedure: main\nshop: shop.yaml\nvehicle: { plate: AB 1 }\n"),
    (
        "answers.yaml",
        "answers: a\nfor: job.yaml\nlist:\n\
         \x20 - { step: warm, at: \"2026-11-23T08:00:00+01:00\", by: ann, enter: { warmth: 40 degC } }\n",
    ),
    (
        "more.yaml",
        "answers: b\nfor: job.yaml\nlist:\n\
         \x20 - { step: warm, at: \"2026-11-23T08:00:00+01:00\", by: ann, enter: { warmth: 40 degC } }\n\
         \x20 - { step: warm, at: \"2026-11-23T08:30:00+01:00\", by: ann, enter: { warmth: 50 degC } }\n\
         \x20 - { step: close, at: \"+1 min\", by: ann, enter: done }\n",
    ),
];

fn workshop() -> TempDir {
    let folder = TempDir::new().unwrap();
    for (path, text) in FILES {
        let path = folder.path().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }
    folder
}

fn said(folder: &Path, arguments: &[&str]) -> (i32, String) {
    let output = standpipe().current_dir(folder).args(arguments).output().unwrap();
    (output.status.code().unwrap(), String::from_utf8([output.stdout, output.stderr].concat()).unwrap())
}

const AMEND: [&str; 9] =
    ["amend", "job.job", "--by", "eve", "--because", "It has two shelves", "--plugins", "p", "--at"];

/// A job that was held up, went on by corrected data, and is closed.
fn mended() -> (TempDir, PathBuf) {
    let folder = workshop();
    let (code, text) = said(folder.path(), &["run", "job.yaml", "--answers", "answers.yaml"]);
    assert_ne!(code, 0, "{text}");
    let family = folder.path().join("p/families/small.yaml");
    let amend = [&AMEND[..], &["2026-11-23T08:20:00"]].concat();
    // Nobody has touched the data yet.
    let (code, text) = said(folder.path(), &amend);
    assert!(code == 2 && text.contains("are the ones that the job already has"), "{text}");
    let data = fs::read_to_string(&family).unwrap();
    fs::write(&family, data.replace("[low, high]", "[low, middle, high]").replace("36..44", "46..55")).unwrap();
    let other = amend.iter().map(|word| if *word == "eve" { "ann" } else { word }).collect::<Vec<_>>();
    let (code, text) = said(folder.path(), &other);
    assert!(code == 2 && text.contains("may not decide"), "{text}");
    let (code, text) = said(folder.path(), &amend);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("p/families/small.yaml") && text.contains("asked again: `warm`"), "{text}");
    let (code, text) = said(folder.path(), &["run", "job.yaml", "--answers", "more.yaml"]);
    assert_eq!(code, 0, "{text}");
    let journal = folder.path().join("job.job");
    (folder, journal)
}

#[test]
fn it_goes_on_and_both_plans_are_audited() {
    let (folder, journal) = mended();
    let (code, journals) = audit(&journal, &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"holds".into()), "{}", journals[0]);
    assert_eq!(point(&journals[0], "corrected data")["verdict"], "holds");
    let (code, text) = said(folder.path(), &["report", "job.job"]);
    assert_eq!(code, 0, "{text}");
    let text: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Eve E.: p/families/small.yaml, because It has two shelves"), "{text}");
    assert!(text.contains("1 data correction"), "{text}");
}

type Change<'a> = &'a dyn Fn(&Path);

#[test]
fn corrected_data_that_are_gone_forged_or_brought_in_by_another_do_not_hold() {
    let (_folder, journal) = mended();
    let plan = |folder: &Path| {
        let mut files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        files.find(|path| path.file_name().unwrap().to_str().unwrap().starts_with("plan-")).unwrap()
    };
    let changes: [(&str, Change); 5] = [
        ("gone", &|folder| fs::remove_file(plan(folder)).unwrap()),
        ("other bytes", &|folder| {
            let text = fs::read_to_string(plan(folder)).unwrap();
            fs::write(plan(folder), text.replace("plate: apart-", "plate: Apart-")).unwrap();
        }),
        ("another vehicle, with hashes that fit", &|folder| {
            let text = fs::read_to_string(plan(folder)).unwrap();
            let at = text.find("plate: ").unwrap() + "plate: ".len();
            let other = format!("{}AB 2{}", &text[..at], &text[at + 70..]);
            let (was, is) = (sha256(text.as_bytes()), sha256(other.as_bytes()));
            fs::write(folder.join(format!("plan-{}.json", &is[..16])), other).unwrap();
            forge(folder, |_, line| line.replace(&was, &is));
        }),
        ("by someone who may not", &|folder| {
            forge(folder, |_, line| match line.contains("\"event\":\"amended\"") || line.contains("eve") {
                true => line.replace("\"by\":\"eve\"", "\"by\":\"ann\""),
                false => line,
            });
        }),
        ("with other files named", &|folder| {
            forge(folder, |_, line| line.replace("families/small.yaml\"]", "procedures/main.yaml\"]"));
        }),
    ];
    for (what, change) in changes {
        let copy = TempDir::new().unwrap();
        copy_plan(&journal, copy.path());
        fs::copy(plan(&journal), copy.path().join(plan(&journal).file_name().unwrap())).unwrap();
        fs::copy(journal.join("journal.jsonl"), copy.path().join("journal.jsonl")).unwrap();
        assert_eq!(audit(copy.path(), &[]).0, 0);
        change(copy.path());
        let (code, journals) = audit(copy.path(), &[]);
        assert_eq!(code, 1, "{what}: {}", journals[0]);
        assert_eq!(point(&journals[0], "corrected data")["verdict"], "does not hold", "{what}: {}", journals[0]);
    }
}

/// Somebody gives the job another text under a name and version that are at hand, in the plan that it went on by.
#[test]
fn texts_of_a_later_plan_are_held_against_those_at_hand() {
    let (_folder, journal) = mended();
    let read = |path: &Path| fs::read_to_string(path).unwrap();
    let (_, journals) = audit(&journal, &[]);
    assert_eq!(point(&journals[0], "texts of the plan")["verdict"], "holds", "{}", journals[0]);
    let named = |begins: &str, has: &str| {
        let mut files = fs::read_dir(&journal).unwrap().map(|entry| entry.unwrap().path());
        let fits = |path: &PathBuf| path.file_name().unwrap().to_str().unwrap().starts_with(begins);
        files.find(|path| fits(path) && read(path).contains(has)).unwrap()
    };
    let (texts, plan) = (named("texts-", "46..55"), named("plan-", ""));
    let changed = read(&texts).replace("of NIST SP 811, from memory", "of NIST SP 811, from nowhere");
    assert_ne!(changed, read(&texts));
    let (was, is) = (sha256(read(&texts).as_bytes()), sha256(changed.as_bytes()));
    fs::write(journal.join(format!("texts-{}.json", &is[..16])), &changed).unwrap();
    let later = read(&plan).replace(&was, &is);
    let (was, is) = (sha256(read(&plan).as_bytes()), sha256(later.as_bytes()));
    fs::write(journal.join(format!("plan-{}.json", &is[..16])), &later).unwrap();
    forge(&journal, |_, line| {
        let owns_up = "families/small.yaml\",\"units/units/temperature.yaml\"]";
        line.replace(&was, &is).replace("families/small.yaml\"]", owns_up)
    });
    let (_, journals) = audit(&journal, &[]);
    let texts = point(&journals[0], "texts of the plan");
    assert_eq!(texts["verdict"], "not shown", "{}", journals[0]);
    assert!(texts.to_string().contains("differs from the text at hand"), "{texts}");
}
