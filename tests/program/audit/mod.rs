//! `standpipe audit` as it is called: sound records hold, and whatever is done to one is found.

// A test says by failing what was wrong.
pub mod bench;
mod bytes;
pub mod fleet;
mod forged;
mod logs;
mod matrix;
mod recovered;
mod report;
mod rows;
mod versions;

use std::fs;

use serde_json::Value as Json;
use tempfile::TempDir;

use bench::{audit, copy_plan, example, forge, point, reword, root, standpipe, texts_of};

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
        copy_plan(&sound, &folder);
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
    // A word changed in what somebody wrote, and every hash made anew: all points hold but the seal.
    fs::write(&path, &text).unwrap();
    let (was, is) = reword(folder.path(), "nothing odd", "nothing at all");
    forge(folder.path(), |_, line| line.replace(&was, &is));
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
    let texts = texts_of(folder.path());
    let kept = fs::read_to_string(&texts).unwrap();
    fs::write(&texts, kept.replacen("Plover", "Plovre", 1)).unwrap();
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, point(&journals[0], "plan")["verdict"].as_str()), (1, Some("does not hold")));
    fs::remove_file(&texts).unwrap();
    let (code, journals) = audit(folder.path(), &[]);
    assert_eq!((code, point(&journals[0], "plan")["verdict"].as_str()), (1, Some("does not hold")));
    fs::write(&texts, kept).unwrap();
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
    fs::write(
        plugin.join("plugin.yaml"),
        "plugin: corrections\nversion: \"1.0.0\"\nplugins: [heron]\ninvented: true\n",
    )
    .unwrap();
    let family = fs::read_to_string(root().join("plugins/heron/families/heron.yaml")).unwrap();
    let narrower = family.replace("51..58 degC", "51..56 degC").replace("45..58 degC", "45..56 degC");
    assert_ne!(family, narrower);
    fs::write(plugin.join("families/heron.yaml"), format!("override: true\n{narrower}")).unwrap();
    let newer = folder.path().join("newer");
    let (code, journals) = audit(&jobs, &["--against", newer.to_str().unwrap()]);
    assert_eq!(code, 1);
    let of = |name: &str| journals.iter().find(|journal| journal["folder"].as_str().unwrap().ends_with(name)).unwrap();
    let missed = of("heron-van")["recheck"]["missed"].as_array().unwrap();
    // It was closed at 56.4 degC.
    assert_eq!(missed.len(), 1, "{missed:?}");
    assert_eq!((&missed[0]["address"], &missed[0]["verdict"]), (&"close-in-the-window[1]".into(), &"not met".into()));
    let margin = &missed[0]["margin"];
    assert_eq!(margin["name"], "close_temperature");
    assert!((margin["off_si"].as_f64().unwrap() + 0.4).abs() < 1e-6, "{margin}");
    assert_eq!(of("heron-van")["subject"], "FL 417, Parcel van, the blue one");
    assert_eq!(of("plover-pickup")["recheck"]["missed"], serde_json::json!([]), "another family");
    let output = standpipe().arg("audit").arg(&jobs).arg("--against").arg(&newer).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains("1 of 2 finished jobs would no longer meet every gate"),
        "{text}"
    );
    assert!(
        text.contains("FL 417") && text.contains("2026-11-24") && text.contains("close-in-the-window[1]"),
        "{text}"
    );
    // The same data change nothing.
    let (code, journals) = audit(&jobs, &["--against", root().join("plugins").to_str().unwrap()]);
    assert_eq!((code, &journals[0]["recheck"]["missed"]), (0, &serde_json::json!([])), "{journals:?}");
}

/// The wrench was set to 8.5 N·m, at most 0.3 off what was worked out, and for the plug to 21, at most 1 off.
#[test]
fn an_instrument_that_was_off_lists_the_jobs_that_would_not_have_met_a_gate() {
    let folder = TempDir::new().unwrap();
    let jobs = folder.path().join("jobs");
    example("heron-van", &jobs.join("heron-van"));
    let recheck = |more: &[&str]| {
        let (code, journals) = audit(&jobs, more);
        (code, journals[0]["recheck"].clone())
    };
    let missed = |recheck: &Json| -> Vec<(String, String, f64)> {
        let one = |missed: &Json| {
            let text = |key: &str| missed[key].as_str().unwrap().to_owned();
            (text("address"), text("assumed"), missed["margin"]["off_si"].as_f64().unwrap())
        };
        recheck["missed"].as_array().unwrap().iter().map(one).collect()
    };
    let (code, found) = recheck(&["--instrument", "small-wrench", "--off", "+10 %"]);
    let found = missed(&found);
    assert_eq!(code, 1);
    // True was 8.5 / 1.1 = 7.73 N·m.
    let of = |step: &str| found.iter().find(|(address, ..)| address == step);
    assert_eq!(of("pan-dial").map(|(_, assumed, _)| assumed.as_str()), Some("10 % too much"), "{found:?}");
    // 21 / 1.1 = 19.09, and no less than 20 is asked for.
    assert!((of("plug-tight").unwrap().2 - (20.0 - 21.0 / 1.1)).abs() < 1e-9, "{found:?}");
    // Either way is tried where none is named, and what follows from neither is not listed.
    let (_, both) = recheck(&["--instrument", "small-wrench", "--off", "10 %"]);
    let ways = |words: &str| missed(&both).iter().filter(|(_, assumed, _)| assumed.ends_with(words)).count();
    assert!(ways("too much") > 0 && ways("too little") > 0, "{both}");
    assert_eq!(recheck(&["--instrument", "small-wrench", "--off", "0.1 %"]), (0, serde_json::json!({ "missed": [] })));
    // It was closed at 56.4 degC, in a window that ends at 58: 2 K less far is the gate.
    let (_, warm) = recheck(&["--instrument", "reader", "--off", "-2 K"]);
    let warm = missed(&warm);
    let closed = warm.iter().find(|(address, ..)| address == "close-in-the-window[1]").unwrap();
    assert!((closed.2.abs() - 0.4).abs() < 1e-6, "{warm:?}");
    for none in [["--instrument", "large-wrench", "--off", "50 %"], ["--instrument", "reader", "--off", "-2 K"]] {
        let since = [&none[..], &["--since", "2026-12-01"]].concat();
        assert_eq!(recheck(&since), (0, Json::Null), "{since:?}");
    }
    // By half, its scale would end at 50 N·m, and the filter's torque lie below a fifth of that: but where a scale ends is no reading.
    let (_, half) = recheck(&["--instrument", "small-wrench", "--off", "-50 %"]);
    let half: Vec<&str> = half["missed"].as_array().unwrap().iter().filter_map(|it| it["address"].as_str()).collect();
    assert!(half.contains(&"pan-dial"), "{half:?}");
    assert!(!half.iter().any(|address| address.starts_with("filter-wrench-fit")), "{half:?}");
    let misspelt = ["--instrument", "smal-wrench", "--off", "+10 %"];
    let output = standpipe().arg("audit").arg(&jobs).args(misspelt).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && said.contains("did you mean `small-wrench`"), "{said}");
    // A share of a temperature is none: what could not be judged is not said to hold.
    let (_, journals) = audit(&jobs, &["--instrument", "reader", "--off", "+8 %"]);
    assert_eq!(journals[0]["verdict"], "not shown", "{}", journals[0]["recheck"]);
    for odd in ["4 degC", "0 %", "-100 %", "much", "4"] {
        let output =
            standpipe().arg("audit").arg(&jobs).args(["--instrument", "reader", "--off", odd]).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && said.contains("--off"), "{odd}: {said}");
    }
}
