//! What finished jobs say of the values of their family: which jobs count, how far their values are relied on, and that nothing is
//! changed by it.

use std::fs;
use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value as Json;
use tempfile::TempDir;

const PLUGIN: &[(&str, &str)] = &[
    (
        "plugin.yaml",
        "plugin: urns\nversion: \"1.0.0\"\ntitle: Urns\nplugins: [units]\nlicence: unknown\nauthor: unknown\n",
    ),
    (
        "forms/urn.yaml",
        "form: urn\nfields:\n  fill: { is: range of volume, required: true }\n  heat_up: { is: time }\n  lid: { is: text }\n",
    ),
    (
        "families/tall.yaml",
        "family: tall\nform: urn\nfill: 2.0..2.5 L\nlid: flat\nsources: [{ covers: all, from: invented for the tests }]\n",
    ),
    (
        "procedures/fill-up.yaml",
        "procedure: fill-up
form: urn
title: Fill the urn
proposes:
  fill: { value: filled, must: look == \"clear\" }
  heat_up: { value: took }
steps:
  - id: pour
    title: Pour it in
    read: { filled: { is: volume }, took: { is: time, optional: true } }
  - { id: look-in, title: Look at it, pick: { look: [clear, cloudy] } }
sources: [{ covers: all, from: invented for the tests }]
",
    ),
];

/// Fills in litres, and whether it is clear. Mean of the clear ones 2.31667 L, standard deviation 0.318852 L.
const FILLS: [(f64, &str); 7] =
    [(2.0, "clear"), (2.1, "clear"), (2.2, "clear"), (9.0, "cloudy"), (2.3, "clear"), (2.4, "clear"), (2.9, "clear")];

/// A folder with the plugin.
fn urns() -> TempDir {
    let folder = TempDir::new().unwrap();
    for (file, text) in PLUGIN {
        let path = folder.path().join("urns").join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }
    folder
}

fn standpipe(folder: &Path, arguments: &[&str]) -> Output {
    let plugins = folder.join("urns").display().to_string();
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.current_dir(folder).args(arguments).args(["--plugins", &plugins]).output().unwrap()
}

/// A finished job; `took`: minutes until it was hot, if somebody looked.
fn job(folder: &Path, number: usize, filled: (f64, &str), took: Option<usize>) {
    job_of(folder, ("tall", "fill-up"), number, filled, took);
}

fn job_of(
    folder: &Path,
    (family, procedure): (&str, &str),
    number: usize,
    (filled, look): (f64, &str),
    took: Option<usize>,
) {
    let job = folder.join("job.yaml");
    fs::write(&job, format!("job: urn-{number}\nfamily: {family}\nprocedure: {procedure}\n")).unwrap();
    let took = took.map_or_else(String::new, |took| format!(", took: {took} min"));
    let answers = folder.join("answers.yaml");
    fs::write(
        &answers,
        format!(
            "answers: one\nlist:\n  - {{ step: pour, at: \"2026-11-{:02}T08:00:00+01:00\", by: ann, enter: {{ filled: {filled} L{took} }} }}\n  \
             - {{ step: look-in, at: \"+1 min\", by: ann, enter: {look} }}\n",
            number + 1
        ),
    )
    .unwrap();
    let into = format!("jobs/urn-{number}");
    let ran = standpipe(folder, &["run", "job.yaml", "--answers", "answers.yaml", "--journal", &into]);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
}

fn proposed(folder: &Path) -> Json {
    let ran = standpipe(folder, &["propose", "tall", "jobs", "--format", "json"]);
    let told: Json = serde_json::from_slice(&ran.stdout).unwrap();
    assert!(ran.status.success(), "{told}");
    told["said"].clone()
}

fn near(found: &Json, expected: f64) {
    let found = found["si"].as_f64().unwrap() * 1000.0;
    assert!((found - expected).abs() < 1e-6, "{found} where {expected} is expected");
}

/// Expected: mean and standard deviation by Python's `statistics`, t of 5 degrees of freedom 2.570582 (GUM, table G.2), for two values
/// together 3.163381 (the density integrated by Simpson's rule).
#[test]
fn jobs_that_count_say_where_the_next_one_lies_and_no_more_surely_than_they_can() {
    let folder = urns();
    for (number, fill) in FILLS.into_iter().enumerate() {
        job(folder.path(), number, fill, (number < 4).then_some(20));
    }
    let said = proposed(folder.path());
    assert_eq!(said["jobs"], 7);
    let fill = &said["facts"][0];
    assert_eq!((fill["fact"].as_str(), fill["jobs"].as_array().unwrap().len()), (Some("fill"), 6));
    assert_eq!(fill["aside"][0]["job"], "urn-3", "a cloudy one is none of those that count");
    let found = &fill["found"];
    near(&found["mean"], 2.3166666666666664);
    near(&found["mean_between"][0], 1.9820519008555066);
    near(&found["mean_between"][1], 2.651281432477826);
    near(&found["next_between"][0], 1.4313592113202196);
    near(&found["next_between"][1], 3.2019741220131133);
    assert_eq!((found["outside"].as_u64(), found["standing"].as_str()), (Some(1), Some("differs")));
    assert_eq!(found["proposed"], "1.43..3.20 L");
    // Four are too few to say anything.
    assert_eq!((said["facts"][1]["jobs"].as_array().unwrap().len(), &said["facts"][1]["found"]), (4, &Json::Null));

    // Two values at once: each is told less surely.
    job(folder.path(), 7, (9.0, "cloudy"), Some(22));
    let said = proposed(folder.path());
    near(&said["facts"][0]["found"]["mean_between"][0], 1.9048866842888683);
    near(&said["facts"][0]["found"]["next_between"][1], 3.40613409491288);
    assert_eq!(said["facts"][1]["found"]["standing"], "unknown");
    assert_eq!(said["facts"][1]["found"]["proposed"], "20.4 min");
}

#[test]
fn a_copy_counts_once_and_what_does_not_hold_or_is_not_finished_not_at_all() {
    let folder = urns();
    for (number, fill) in FILLS.into_iter().enumerate() {
        job(folder.path(), number, fill, None);
    }
    let jobs = folder.path().join("jobs");
    let copy = |from: &str, to: &str| {
        fs::create_dir_all(jobs.join(to)).unwrap();
        for file in fs::read_dir(jobs.join(from)).unwrap().map(|entry| entry.unwrap()) {
            if file.path().is_file() {
                fs::copy(file.path(), jobs.join(to).join(file.file_name())).unwrap();
            }
        }
    };
    copy("urn-6", "urn-6-again");
    // Lengthened by hand: the chain does not hold.
    let lines = jobs.join("urn-0/journal.jsonl");
    let text = fs::read_to_string(&lines).unwrap();
    assert!(text.contains("\"2 L\""));
    fs::write(&lines, text.replacen("\"2 L\"", "\"2.8 L\"", 1)).unwrap();
    let said = proposed(folder.path());
    let aside: Vec<&str> = said["aside"].as_array().unwrap().iter().filter_map(|one| one["job"].as_str()).collect();
    assert_eq!((said["jobs"].as_u64(), aside), (Some(6), vec!["urn-0", "urn-6"]), "{said}");
    let counted: Vec<&str> =
        said["facts"][0]["jobs"].as_array().unwrap().iter().filter_map(|one| one["job"].as_str()).collect();
    assert_eq!(counted, ["urn-1", "urn-2", "urn-4", "urn-5", "urn-6"]);
}

/// What a model answered stands in for nobody's work: it counts only where there is nothing else, and says so.
#[test]
fn simulated_jobs_are_left_aside_as_soon_as_there_is_a_real_one() {
    let folder = TempDir::new().unwrap();
    let here = |arguments: &[&str]| {
        let ran = Command::cargo_bin("standpipe").unwrap().current_dir(folder.path()).args(arguments).output().unwrap();
        String::from_utf8_lossy(&ran.stdout).into_owned()
    };
    let all = ["--family", "heron", "--jobs", "6", "--seed", "3", "--unpaired", "--keep", "6", "--into", "jobs"];
    here(&[&["simulate", "pan-service-overflow"], all.as_slice()].concat());
    let propose = || here(&["propose", "heron/short-pan", "jobs", "--format", "json"]);
    let said: Json = serde_json::from_str(&propose()).unwrap();
    let simulated = said["said"]["jobs"].as_u64().unwrap();
    assert!(said["said"]["simulated"] == true && simulated > 0, "{said}");
    assert!(here(&["propose", "heron/short-pan", "jobs"]).contains("SIMULATED"));
    let example = |of: &str| format!("{}/examples/{of}/heron-van.yaml", env!("CARGO_MANIFEST_DIR"));
    here(&["run", &example("jobs"), "--answers", &example("answers"), "--journal", "jobs/van"]);
    let said: Json = serde_json::from_str(&propose()).unwrap();
    let said = &said["said"];
    assert_eq!((&said["simulated"], said["jobs"].as_u64()), (&Json::Bool(false), Some(1)), "{said}");
    let aside = said["aside"].as_array().unwrap();
    assert_eq!(aside.iter().filter(|one| one["why"] == "a model answered it").count() as u64, simulated);
}

#[test]
fn a_proposal_is_a_file_that_somebody_has_to_list() {
    let folder = urns();
    for (number, fill) in FILLS.into_iter().enumerate() {
        job(folder.path(), number, fill, Some(20 + number));
    }
    let write = || standpipe(folder.path(), &["propose", "tall", "jobs", "--into", "proposals"]);
    let ran = write();
    let told = String::from_utf8_lossy(&ran.stdout).into_owned();
    assert!(ran.status.success() && told.contains("PROPOSED: 1.") && told.contains("wrote"), "{told}");
    let overlay = folder.path().join("proposals/proposed-tall/overlays/proposed-tall.yaml");
    let text = fs::read_to_string(&overlay).unwrap();
    assert!(text.contains("nobody has looked at it yet") && text.contains("heat_up: 23.0 min"), "{text}");
    let checked = standpipe(folder.path(), &["check", "proposals/proposed-tall"]);
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
    // It is there, and the family is as it was until a shop lists it.
    let card = |more: &[&str]| {
        let ran = standpipe(folder.path(), &[&["card", "tall", "--format", "json"], more].concat());
        String::from_utf8_lossy(&ran.stdout).into_owned()
    };
    assert!(card(&[]).contains("2.0..2.5 L") && !card(&[]).contains("23.0 min"));
    let shop = "shop: own\ntitle: Own\npeople: { ann: { name: Ann, roles: [doer] } }\nplugins: [proposals/proposed-tall, urns]\noverlays: [proposed-tall]\n";
    fs::write(folder.path().join("shop.yaml"), shop).unwrap();
    assert!(card(&["--shop", "shop.yaml"]).contains("23.0 min"), "{}", card(&["--shop", "shop.yaml"]));
    // A second time it writes over nothing.
    let again = write();
    let told = String::from_utf8_lossy(&again.stderr).into_owned();
    assert!(again.status.code() == Some(2) && told.contains("is there already"), "{told}");
    assert_eq!(fs::read_to_string(&overlay).unwrap(), text);
}

#[test]
fn without_a_family_every_one_is_asked_and_each_comes_to_the_same() {
    let folder = urns();
    let put = |file: &str, text: &str| fs::write(folder.path().join("urns").join(file), text).unwrap();
    put("families/wide.yaml", &PLUGIN[2].1.replace("tall", "wide"));
    put(
        "procedures/only-look.yaml",
        &PLUGIN[3]
            .1
            .replace("procedure: fill-up", "procedure: only-look")
            .replace("proposes:\n  fill: { value: filled, must: look == \"clear\" }\n  heat_up: { value: took }\n", "")
            .replace("pour\n", "pour-in\n")
            .replace("look-in,", "look-at,"),
    );
    for (number, fill) in FILLS.into_iter().enumerate() {
        job(folder.path(), number, fill, None);
        job_of(folder.path(), ("wide", "fill-up"), 10 + number % 6, (fill.0 + 1.0, fill.1), Some(20));
    }
    let answers = folder.path().join("answers.yaml");
    let text =
        fs::read_to_string(&answers).unwrap().replace("step: pour,", "step: pour-in,").replace("look-in", "look-at");
    fs::write(&answers, text).unwrap();
    fs::write(folder.path().join("job.yaml"), "job: urn-20\nfamily: tall\nprocedure: only-look\n").unwrap();
    let ran = standpipe(folder.path(), &["run", "job.yaml", "--answers", "answers.yaml", "--journal", "jobs/urn-20"]);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    // One that can't be read is named, and the others are asked.
    let broken = folder.path().join("jobs/urn-12/journal.jsonl");
    let lines = fs::read_to_string(&broken).unwrap();
    fs::write(&broken, lines.replacen("\"clear\"", "\"cleaR\"", 1)).unwrap();
    let ask = |arguments: &[&str]| -> Json {
        let ran = standpipe(folder.path(), &[&["propose", "--format", "json"], arguments].concat());
        serde_json::from_slice(&ran.stdout).unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&ran.stderr)))
    };
    let all = ask(&["jobs"]);
    let one = |family: &str| ask(&[family, "jobs", "--procedure", "fill-up"])["said"].clone();
    let (tall, mut wide) = (one("tall"), one("wide"));
    assert_eq!((tall["jobs"].as_u64(), wide["jobs"].as_u64()), (Some(7), Some(5)), "{all}");
    // The one who asks for a family alone is told of its job that can't be read; else nobody knows whose it is.
    wide["aside"].as_array_mut().unwrap().retain(|aside| aside["job"] != "urn-12");
    let families = all["families"].as_array().unwrap();
    assert_eq!(families.len(), 2, "{all}");
    assert_eq!(families[0]["facts"], tall["facts"]);
    assert_eq!(families[1], wide);
    let not_asked = all["not_asked"].to_string();
    for part in ["urn-12", "does not hold", "only-look", "it proposes nothing"] {
        assert!(not_asked.contains(part), "{not_asked}");
    }
    let ran = standpipe(folder.path(), &["propose", "jobs", "--into", "proposals"]);
    let told = String::from_utf8_lossy(&ran.stdout).into_owned();
    for part in
        ["SAY OF tall", "SAY OF wide", "NOT ASKED", "1 job of tall by only-look: it proposes nothing", "proposed-wide"]
    {
        assert!(told.contains(part), "no `{part}` in {told}");
    }
    for family in ["tall", "wide"] {
        let checked = standpipe(folder.path(), &["check", &format!("proposals/proposed-{family}")]);
        assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
    }
    let none = standpipe(folder.path(), &["propose", "urns"]);
    let told = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(none.status.code() == Some(2) && told.contains("no finished job below urns"), "{told}");
}

#[test]
fn what_is_asked_wrongly_is_said_with_its_place() {
    let folder = urns();
    let refused = |arguments: &[&str], words: &[&str]| {
        let ran = standpipe(folder.path(), &[&["propose"], arguments].concat());
        let told = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!(ran.status.code(), Some(2), "{told}");
        words.iter().for_each(|word| assert!(told.contains(word), "no `{word}` in {told}"));
    };
    refused(&["tall", "nowhere"], &["there is no folder nowhere"]);
    refused(&["tal", "."], &["did you mean `tall`"]);
    refused(&["tall", "."], &["no finished job of `tall`", "jobs FOLDER --all"]);
    refused(&["heron", "."], &["which variant?", "deep-pan"]);
    refused(&["dunlin", ".", "--procedure", "fluid-change"], &["proposes nothing", "proposes:"]);
    // In the procedure.
    let procedure = folder.path().join("urns/procedures/fill-up.yaml");
    let text = fs::read_to_string(&procedure).unwrap();
    for (was, is, words) in [
        ("  heat_up: {", "  heat_upp: {", ["no field `heat_upp`", "did you mean `heat_up`"]),
        ("value: took", "value: filled", ["for `heat_up`", "fill-up.yaml, line 6"]),
        ("  heat_up: {", "  lid: {", ["`lid` is", "can't propose"]),
        ("value: took", "from_learned: warmth", ["`learned:` of this procedure has no `warmth`", "line 6"]),
        ("value: took", "must: true", ["needs either `value` or `from_learned`", "line 6"]),
        ("look == ", "loook == ", ["`loook`", "line 5"]),
    ] {
        fs::write(&procedure, text.replacen(was, is, 1)).unwrap();
        let checked = standpipe(folder.path(), &["check", "urns"]);
        let told = format!("{}{}", String::from_utf8_lossy(&checked.stdout), String::from_utf8_lossy(&checked.stderr));
        assert!(checked.status.code() == Some(1), "{is} passes: {told}");
        words.iter().for_each(|word| assert!(told.contains(word), "no `{word}` in {told}"));
    }
}
