//! `standpipe audit` as it is called: sound records hold, and whatever is done to one is found.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value as Json;
use sha2::{Digest, Sha256};
use tempfile::TempDir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn standpipe() -> Command {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.env_remove("NO_COLOR");
    command
}

fn run(job: &Path, answers: &Path, journal: &Path) {
    standpipe().arg("run").arg(job).arg("--answers").arg(answers).arg("--journal").arg(journal).output().unwrap();
    assert!(journal.join("journal.jsonl").exists());
}

fn example(name: &str, journal: &Path) {
    let examples = root().join("examples");
    run(&examples.join(format!("jobs/{name}.yaml")), &examples.join(format!("answers/{name}.yaml")), journal);
}

/// Exit code, and the journals of the JSON.
fn audit(path: &Path, more: &[&str]) -> (i32, Vec<Json>) {
    let output = standpipe().args(["audit", "--format", "json"]).arg(path).args(more).output().unwrap();
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["schema"], "standpipe.audit/1");
    assert_eq!(json["ok"], output.status.success(), "{json}");
    (output.status.code().unwrap(), json["journals"].as_array().cloned().unwrap_or_default())
}

fn point<'a>(journal: &'a Json, name: &str) -> &'a Json {
    let points = journal["points"].as_array().unwrap();
    points.iter().find(|point| point["point"] == name).unwrap_or_else(|| panic!("no point {name}: {journal}"))
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Writes a journal anew with hashes that fit, as someone would who knows how.
fn forge(folder: &Path, change: impl Fn(usize, String) -> String) {
    let path = folder.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let mut prev = sha256(&fs::read(folder.join("plan.json")).unwrap());
    let mut out = String::new();
    for (index, line) in text.lines().enumerate() {
        let body = change(index + 1, line[..line.rfind(",\"sum\":\"").unwrap()].to_owned());
        let start = "{\"prev\":\"".len();
        let body = format!("{}{prev}{}", &body[..start], &body[start + 64..]);
        let line = format!("{body},\"sum\":\"{}\"}}", sha256(body.as_bytes()));
        prev = sha256(line.as_bytes());
        out.push_str(&line);
        out.push('\n');
    }
    fs::write(path, out).unwrap();
}

/// A job forged in one place: the exit code, and its journal.
fn forged(job: &str, change: impl Fn(usize, String) -> String) -> (i32, Json) {
    let folder = TempDir::new().unwrap();
    example(job, folder.path());
    let before = fs::read(folder.path().join("journal.jsonl")).unwrap();
    forge(folder.path(), change);
    assert_ne!(before, fs::read(folder.path().join("journal.jsonl")).unwrap(), "nothing was forged");
    let (code, mut journals) = audit(folder.path(), &[]);
    let journal = journals.remove(0);
    assert_eq!(point(&journal, "chain of hashes")["verdict"], "holds", "{journal}");
    (code, journal)
}

#[test]
fn the_example_jobs_hold_and_one_that_is_open_says_so() {
    let folder = TempDir::new().unwrap();
    let answers = fs::read_dir(root().join("examples/answers")).unwrap();
    let jobs: Vec<String> =
        answers.map(|file| file.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned()).collect();
    for job in &jobs {
        example(job, &folder.path().join(job));
    }
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, journals.len()), (0, jobs.len()));
    assert!(jobs.len() >= 4);
    for journal in journals {
        let open = journal["folder"].as_str().unwrap().ends_with("heron-taxi");
        assert_eq!(journal["verdict"], if open { "not shown" } else { "holds" }, "{journal}");
        assert_eq!(point(&journal, "closed")["verdict"], journal["verdict"]);
        assert_eq!(point(&journal, "decisions")["looked_at"], journal["events"], "all of it was decided again");
        if journal["folder"].as_str().unwrap().ends_with("heron-van") {
            for looked_at in ["signatures", "witnesses", "instruments", "evidence", "round readings"] {
                assert!(point(&journal, looked_at)["looked_at"].as_u64().unwrap() > 0, "{looked_at}");
            }
        }
    }
    let output = standpipe().arg("audit").arg(folder.path()).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let holding = jobs.len() - 1;
    let heading = format!("{} journals audited, {holding} hold, 1 is not fully shown", jobs.len());
    assert!(text.starts_with(&heading), "{text}");
    let rows: Vec<&str> = text.lines().filter(|line| line.starts_with("holds ")).collect();
    assert_eq!(rows.len(), holding, "a line each: {text}");
    let long = text.lines().find(|line| line.chars().count() > 80 && !line.contains('/'));
    assert_eq!(long, None, "at most 80 columns");
}

#[test]
fn every_line_that_is_changed_removed_doubled_or_swapped_is_found() {
    let temp = TempDir::new().unwrap();
    let sound = temp.path().join("sound");
    // A short one: each of its variants is replayed.
    example("heron-taxi", &sound);
    let text = fs::read_to_string(sound.join("journal.jsonl")).unwrap();
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let variants = temp.path().join("variants");
    let write = |name: String, bytes: &[u8]| {
        let folder = variants.join(name);
        fs::create_dir_all(&folder).unwrap();
        fs::hard_link(sound.join("plan.json"), folder.join("plan.json")).unwrap();
        fs::write(folder.join("journal.jsonl"), bytes).unwrap();
    };
    for at in 0..lines.len() {
        write(format!("removed-{at}"), [&lines[..at], &lines[at + 1..]].concat().concat().as_bytes());
        write(format!("doubled-{at}"), [&lines[..=at], &lines[at..]].concat().concat().as_bytes());
        if at > 0 {
            let mut swapped = lines.clone();
            swapped.swap(at - 1, at);
            write(format!("swapped-{at}"), swapped.concat().as_bytes());
        }
        // One bit of a byte that moves along as the lines go by, its line feed among them.
        let start: usize = lines[..at].iter().map(|line| line.len()).sum();
        let mut changed = text.clone().into_bytes();
        changed[start + (at * 37 + 11) % lines[at].len()] ^= 1;
        write(format!("changed-{at}"), &changed);
    }
    for cut in [1, 2, 40, 400] {
        write(format!("cut-{cut}"), &text.as_bytes()[..text.len() - cut]);
    }
    let (code, journals) = audit(&variants, &[]);
    assert_eq!(code, 1);
    assert_eq!(journals.len(), 4 * lines.len() + 3);
    for journal in &journals {
        assert_ne!(point(journal, "chain of hashes")["verdict"], "holds", "{journal}");
    }
    // Only what is missing at the very end can be no more than "not shown"; the seal tells.
    let doubtful: Vec<&Json> = journals.iter().filter(|journal| journal["verdict"] != "does not hold").collect();
    let last = format!("removed-{}", lines.len() - 1);
    for journal in doubtful {
        let folder = journal["folder"].as_str().unwrap();
        assert!(folder.ends_with(&last) || folder.contains("/cut-"), "{folder}");
    }
}

#[test]
fn a_seal_tells_what_a_chain_can_not() {
    let folder = TempDir::new().unwrap();
    example("plover-pickup", folder.path());
    let (_, journals) = audit(folder.path(), &[]);
    let seal = journals[0]["seal"].as_str().unwrap().to_owned();
    // As it may be typed from paper.
    let typed = format!("{} {}", seal[..32].to_uppercase(), &seal[32..]);
    let (code, journals) = audit(folder.path(), &["--seal", &typed]);
    assert_eq!((code, point(&journals[0], "seal")["verdict"].as_str()), (0, Some("holds")));
    let path = folder.path().join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    // The last batch taken away whole, with the job's end.
    let batch = text.trim_end().rfind("\"end\":true,\"sum\"").and_then(|at| text[..at].rfind("\"end\":true,\"sum\""));
    let end = batch.map(|at| at + text[at..].find('\n').unwrap() + 1).unwrap();
    fs::write(&path, &text[..end]).unwrap();
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, &journals[0]["verdict"]), (0, &"not shown".into()), "the chain alone can't tell");
    assert_eq!(audit(folder.path(), &["--seal", &seal]).0, 1);
    // A word changed in a note or a name, and every hash made anew: all points hold but the seal.
    fs::write(&path, &text).unwrap();
    forge(folder.path(), |_, line| line.replace("\"name\":\"", "\"name\":\"other-"));
    assert_eq!(audit(folder.path(), &[]).0, 0, "an unkeyed chain can be made anew");
    let (code, journals) = audit(folder.path(), &["--seal", &seal]);
    assert_eq!((code, point(&journals[0], "seal")["verdict"].as_str()), (1, Some("does not hold")));
}

#[test]
fn what_can_not_be_audited_is_a_wrong_usage_with_a_place() {
    let folder = TempDir::new().unwrap();
    let path = folder.path();
    for (arguments, said) in [
        (vec!["nowhere"], "there is no nowhere"),
        (vec![path.to_str().unwrap()], "no journal in"),
        (vec![path.to_str().unwrap(), "--seal", "abc"], "64 digits"),
        (vec![path.to_str().unwrap(), "--against", "nowhere"], "nowhere"),
    ] {
        let output = standpipe().arg("audit").args(&arguments).output().unwrap();
        let text = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(text.contains(said), "{arguments:?}: {text}");
    }
    for job in ["heron-taxi", "plover-pickup"] {
        example(job, &path.join(job));
    }
    let output = standpipe().arg("audit").arg(path).args(["--seal", &"0".repeat(64)]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn evidence_that_is_gone_or_changed_and_another_plan_are_found() {
    let folder = TempDir::new().unwrap();
    example("plover-pickup", folder.path());
    let plan = folder.path().join("plan.json");
    let kept = fs::read_to_string(&plan).unwrap();
    fs::write(&plan, kept.replacen("plover", "plovre", 1)).unwrap();
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, point(&journals[0], "plan")["verdict"].as_str()), (1, Some("does not hold")));
    fs::write(&plan, kept).unwrap();
    let photo = fs::read_dir(folder.path().join("evidence")).unwrap().next().unwrap().unwrap().path();
    let mut bytes = fs::read(&photo).unwrap();
    bytes[10] ^= 1;
    fs::write(&photo, &bytes).unwrap();
    let (code, journals) = audit(folder.path(), &[]);
    let finding = &point(&journals[0], "evidence")["findings"][0];
    assert_eq!((code, finding["verdict"].as_str()), (1, Some("does not hold")), "{finding}");
    assert_eq!(finding["place"]["file"], photo.display().to_string());
    fs::remove_file(&photo).unwrap();
    assert_eq!(audit(folder.path(), &[]).0, 1);
}

#[test]
fn what_is_forged_with_all_hashes_is_decided_otherwise() {
    // (job, what stands in a line, what is put there, the point that finds it)
    let forgeries = [
        ("heron-taxi", "\"verdict\":\"not met\"", "\"verdict\":\"met\"", "decisions"),
        (
            "heron-van",
            "{\"second_signature\":{\"text\":\"marek\"}}",
            "{\"second_signature\":{\"text\":\"rita\"}}",
            "signatures",
        ),
        (
            "heron-van",
            "{\"second_signature\":{\"text\":\"marek\"}}",
            "{\"second_signature\":{\"text\":\"lena\"}}",
            "signatures",
        ),
        ("heron-van", "\"witness\":{\"by\":\"jo\"}", "\"witness\":{\"by\":\"rita\"}", "witnesses"),
        ("heron-van", "\"at\":\"2026-11-24T08:14:00\"", "\"at\":\"2026-11-24T03:14:00\"", "time"),
        ("heron-van", "\"pan_dial\":\"small-wrench\"", "\"pan_dial\":\"reader\"", "instruments"),
        ("heron-van", "\"value\":720.0", "\"value\":730.0", "decisions"),
        (
            "heron-van",
            "\"event\":\"finished\"",
            "\"event\":\"opened\",\"job\":\"x\",\"plan\":\"x\",\"tool\":\"x\",\"interpreter\":\"x\"",
            "order of events",
        ),
    ];
    for (job, what, by, name) in forgeries {
        let (code, journal) = forged(job, |_, line| line.replacen(what, by, 1));
        let found = point(&journal, name);
        assert_eq!((code, found["verdict"].as_str()), (1, Some("does not hold")), "{what}: {journal}");
        let place = &found["findings"][0]["place"];
        assert!(place["line"].as_u64().unwrap() > 0 && place["file"].as_str().unwrap().ends_with("journal.jsonl"));
    }
}

#[test]
fn computed_values_may_differ_in_their_last_digits_only() {
    let computed = |factor: f64| {
        forged("heron-van", move |_, line| {
            let Some(at) =
                line.find("\"event\":\"computed\"").and_then(|at| Some(at + line[at..].find("\"value\":{\"record\"")?))
            else {
                return line;
            };
            let Some(start) = line[at..].find("\"si\":").map(|found| at + found + 5) else { return line };
            let end = start + line[start..].find(',').unwrap();
            let value: f64 = line[start..end].parse().unwrap();
            format!("{}{}{}", &line[..start], value * factor, &line[end..])
        })
    };
    let (code, journal) = computed(1.0 + 1e-11);
    assert_eq!((code, point(&journal, "decisions")["verdict"].as_str()), (0, Some("holds")), "{journal}");
    let (code, journal) = computed(1.0 + 1e-7);
    assert_eq!((code, point(&journal, "decisions")["verdict"].as_str()), (1, Some("does not hold")));
}

#[test]
fn a_verdict_that_hangs_by_a_thread_is_not_shown() {
    // 900 rpm is the most that is allowed.
    for (speed, verdict, exit) in [("900.0000001", "not shown", 0), ("900.001", "does not hold", 1)] {
        let si = 75.39822368615503 * speed.parse::<f64>().unwrap() / 720.0;
        let decimals = speed.split_once('.').unwrap().1.len();
        let (code, journal) = forged("heron-van", |_, line| {
            line.replace("75.39822368615503", &si.to_string())
                .replace(
                    "\"value\":720.0,\"unit\":\"rpm\",\"decimals\":0",
                    &format!("\"value\":{speed},\"unit\":\"rpm\",\"decimals\":{decimals}"),
                )
                .replace("720 rpm", &format!("{speed} rpm"))
        });
        let decisions = point(&journal, "decisions");
        assert_eq!((code, decisions["verdict"].as_str()), (exit, Some(verdict)), "{decisions}");
    }
}

#[test]
fn a_calibration_that_had_run_out_is_found() {
    let folder = TempDir::new().unwrap();
    let workshop = root().join("examples/workshop");
    let shop = fs::read_to_string(workshop.join("shop.yaml")).unwrap();
    let run_out = shop.replace("due: 2027-05-04, unit: N·m", "due: 2026-06-01, unit: N·m");
    assert_ne!(shop, run_out);
    // Its plugins are named from where it lies.
    let inside = format!("plugins: [{}/", workshop.display());
    let between = format!(", {}/", workshop.display());
    let plugins = run_out.lines().find(|line| line.starts_with("plugins: [")).unwrap();
    let moved = plugins.replace(", ", &between).replace("plugins: [", &inside);
    fs::write(folder.path().join("shop.yaml"), run_out.replace(plugins, &moved)).unwrap();
    let (job, answers) = (root().join("examples/jobs/heron-van.yaml"), root().join("examples/answers/heron-van.yaml"));
    let journal = folder.path().join("journal");
    let mut command = standpipe();
    command.arg("run").arg(job).arg("--answers").arg(answers).arg("--journal").arg(&journal);
    command.arg("--shop").arg(folder.path().join("shop.yaml")).output().unwrap();
    let (code, journals) = audit(&journal, &[]);
    let found = point(&journals[0], "instruments");
    assert_eq!((code, found["verdict"].as_str()), (1, Some("does not hold")), "{found}");
    assert!(found["findings"][0]["message"].as_str().unwrap().contains("2026-06-01"));
    assert_eq!(point(&journals[0], "decisions")["verdict"], "holds", "the record said so itself");
}

#[test]
fn newer_data_list_the_jobs_that_no_longer_meet_a_gate() {
    let folder = TempDir::new().unwrap();
    let jobs = folder.path().join("jobs");
    for job in ["heron-van", "plover-pickup"] {
        example(job, &jobs.join(job));
    }
    let plugin = folder.path().join("newer/corrections");
    fs::create_dir_all(plugin.join("families")).unwrap();
    fs::write(plugin.join("plugin.yaml"), "plugin: corrections\nversion: \"1.0.0\"\nneeds: [heron]\ninvented: true\n")
        .unwrap();
    let family = fs::read_to_string(root().join("plugins/heron/families/heron.yaml")).unwrap();
    let narrower = family.replacen("window: 36..44 degC", "window: 36..42 degC", 1);
    assert_ne!(family, narrower);
    fs::write(plugin.join("families/heron.yaml"), format!("override: true\n{narrower}")).unwrap();
    let newer = folder.path().join("newer");
    let (code, journals) = audit(&jobs, &["--against", newer.to_str().unwrap()]);
    assert_eq!(code, 1);
    let of = |name: &str| journals.iter().find(|journal| journal["folder"].as_str().unwrap().ends_with(name)).unwrap();
    let missed = of("heron-van")["recheck"]["missed"].as_array().unwrap();
    // It was closed at 42.4 degC.
    assert_eq!(missed.len(), 1, "{missed:?}");
    assert_eq!((&missed[0]["address"], &missed[0]["verdict"]), (&"close-in-the-window[2]".into(), &"not met".into()));
    let margin = &missed[0]["margin"];
    assert_eq!(margin["name"], "close_temperature");
    assert!((margin["off_si"].as_f64().unwrap() + 0.4).abs() < 1e-6, "{margin}");
    assert_eq!(of("heron-van")["vehicle"], "FL 417, Parcel van, the blue one");
    assert_eq!(of("plover-pickup")["recheck"]["missed"], serde_json::json!([]), "another family");
    let output = standpipe().arg("audit").arg(&jobs).arg("--against").arg(&newer).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("1 of 2 finished jobs would no longer meet every gate"), "{text}");
    assert!(
        text.contains("FL 417") && text.contains("2026-11-24") && text.contains("close-in-the-window[2]"),
        "{text}"
    );
    // The same data change nothing.
    let (code, journals) = audit(&jobs, &["--against", root().join("plugins").to_str().unwrap()]);
    assert_eq!((code, &journals[0]["recheck"]["missed"]), (0, &serde_json::json!([])), "{journals:?}");
}
