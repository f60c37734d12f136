//! What a shop wants to have signed by key, on the record and in a pack.

use std::fs;
use std::path::Path;

use serde_json::Value as Json;
use tempfile::TempDir;

use super::bench::{Shop, acts, pair};
use crate::audit::bench::{audit, point, standpipe};

fn report(job: &Path, more: &[&str]) -> (Option<i32>, String) {
    let output = standpipe().arg("report").arg(job).args(more).output().unwrap();
    (output.status.code(), String::from_utf8(output.stdout).unwrap())
}

/// A record says SHOWN only where the keys are, and were looked at.
#[test]
fn nothing_is_shown_over_an_act_that_should_be_signed_and_is_not() {
    let shop = Shop::without_book();
    let list = ["--signers", shop.signers.to_str().unwrap()];
    let (code, record) = report(&shop.job, &list);
    assert!(code == Some(0) && record.contains("what this record says holds") && record.contains("SHOWN"), "{record}");
    assert!(!record.contains("NOT SHOWN"), "{record}");
    for customer in [false, true] {
        let more = if customer { &["--for", "customer"][..] } else { &[] };
        let (_, unchecked) = report(&shop.job, more);
        let (_, checked) = report(&shop.job, &[&list, more].concat());
        assert!(unchecked != checked && unchecked.to_lowercase().contains("not shown"), "{unchecked}");
    }
    fs::remove_file(shop.act("close", "marek").file(&shop.job)).unwrap();
    let (code, record) = report(&shop.job, &list);
    assert!(
        code == Some(0) && record.contains("NOT SHOWN in full") && record.contains("which the shop wants"),
        "{record}"
    );
    assert!(record.contains("but the record is not shown in full"), "{record}");
    // Signed by somebody else it is worse.
    shop.act("close", "marek").sign(&shop.job, &pair("rita", 0));
    let (code, record) = report(&shop.job, &list);
    assert!(code == Some(1) && record.contains("THIS RECORD DOES NOT HOLD"), "{record}");
}

/// In a few lines, on every form of it.
#[test]
fn the_record_lists_who_did_what_and_how_that_is_shown() {
    let shop = Shop::without_book();
    let list = ["--signers", shop.signers.to_str().unwrap()];
    let said = |more: &[&str]| {
        let text = report(&shop.job, more).1;
        let page = report(&shop.job, &[more, &["--format", "html"]].concat()).1;
        let lines = text.split("WHO DID WHAT, BY KEY OR BY WORD\n").nth(1).unwrap().split("\n\n").next().unwrap();
        let joined = lines.replace("\n  ", " ");
        for line in joined.lines() {
            assert!(page.contains(&format!("<li>{}</li>", line.trim_start_matches("- "))), "{line}: {page}");
        }
        joined
    };
    let jo = |how: &str| format!("- Jo O. ({how}): witness 2026-11-23 13:58, 16:07, 16:43, 17:03, 17:07\n");
    let marek = |how: &str| format!("- Marek T. ({how}): sign 2026-11-24 09:55, close 09:55");
    let unchecked = said(&[]);
    assert!(unchecked.starts_with("- No list of signers was checked:"), "{unchecked}");
    assert!(unchecked.contains(&jo("signed, unchecked")) && unchecked.contains(&marek("signed, unchecked")));
    fs::remove_file(shop.act("close", "marek").file(&shop.job)).unwrap();
    shop.act("sign", "marek").sign(&shop.job, &pair("jo", 0));
    let checked = said(&list);
    assert!(
        checked.starts_with("- Keys were checked against a list") && checked.contains(&jo("signed by key")),
        "{checked}"
    );
    assert!(
        checked.contains("- Marek T. (BY ANOTHER KEY): sign 2026-11-24 09:55\n")
            && checked.contains("- Marek T. (only said): close 2026-11-24 09:55"),
        "{checked}"
    );
    let json: Json = serde_json::from_str(&report(&shop.job, &[&list[..], &["--format", "json"]].concat()).1).unwrap();
    let acts = &json["record"]["acts"];
    assert_eq!((&acts["listed"], acts["acts"].as_array().unwrap().len()), (&true.into(), 9));
    let last = &acts["acts"][8];
    assert_eq!(
        (&last["by"], &last["act"], &last["at"], &last["standing"]),
        (&"marek".into(), &"close".into(), &"2026-11-24T09:55:30+01:00".into(), &"unsigned".into())
    );
    fs::remove_dir_all(shop.job.join("signatures")).unwrap();
    let only = said(&[]);
    assert!(only.starts_with("- Nothing is signed by key: names are as they were typed.\n"), "{only}");
    assert!(only.contains(&jo("only said")) && only.contains(&marek("only said")), "{only}");
}

/// Where no shop asks for it signatures are extra: that they are unchecked, or that one lacks, takes nothing from the record.
#[test]
fn what_nobody_wants_weighs_nothing() {
    let folder = TempDir::new().unwrap();
    let job = folder.path().join("job");
    crate::audit::bench::example("heron-van", &job);
    let (_, plain) = report(&job, &[]);
    assert!(audit(&job, &[]).1[0]["signed"].is_null(), "nobody asked");
    let (_, journals) = audit(&job, &["--signers", "/dev/null"]);
    assert!(journals.is_empty(), "no ordinary file: {journals:?}");
    for act in acts(&job).iter().skip(1) {
        act.sign(&job, &pair(&act.by, 0));
    }
    let (_, journals) = audit(&job, &[]);
    let keys = point(&journals[0], "keys");
    assert!(
        keys["verdict"] == "not shown"
            && keys["findings"].to_string().contains("8 acts are signed by 3 keys, unchecked"),
        "{keys}"
    );
    let without = |record: String| record.lines().filter(|line| !line.contains("keys, line")).count();
    assert!(report(&job, &[]).1.contains("Checked: what this record says holds."), "{}", report(&job, &[]).1);
    assert!(without(plain.clone()) <= without(report(&job, &[]).1) && !plain.contains("keys"));
}

/// A list with a fault is used in no part.
#[test]
fn a_list_with_a_fault_is_refused_at_its_line() {
    let shop = Shop::new();
    let text = fs::read_to_string(&shop.signers).unwrap();
    fs::write(&shop.signers, text.replacen("jo ", "jo cert-authority ", 1)).unwrap();
    for command in ["audit", "report"] {
        let output = standpipe().arg(command).arg(&shop.job).arg("--signers").arg(&shop.signers).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(
            said.contains("faulty-signers")
                && said.contains("signers, line 2: authorities")
                && output.stdout.is_empty(),
            "{said}"
        );
    }
}

#[test]
fn a_pack_carries_signatures_and_is_judged_as_the_folder_is() {
    let shop = Shop::new();
    let list = ["--signers", shop.signers.to_str().unwrap()];
    let zip = shop.jobs.join("van.zip");
    let pack = || {
        let _ = fs::remove_file(&zip);
        standpipe().arg("pack").arg(&shop.job).arg("-o").arg(&zip).assert().success();
        audit(&zip, &list).1.remove(0)
    };
    let same = |one: &Json, other: &Json| {
        let signed = one["signed"].as_array().unwrap();
        assert!(signed.len() == 9 && one["signed"] == other["signed"], "{one} {other}");
        let keys = |journal: &Json| {
            let messages = point(journal, "keys")["findings"].as_array().unwrap().clone();
            messages.into_iter().map(|finding| finding["message"].clone()).collect::<Vec<_>>()
        };
        assert_eq!(
            (point(one, "keys")["verdict"].clone(), keys(one)),
            (point(other, "keys")["verdict"].clone(), keys(other))
        );
    };
    let packed = pack();
    assert_eq!(point(&packed, "keys")["verdict"], "holds");
    same(&packed, &audit(&shop.job, &list).1[0]);
    // They are of the same lines in a copy from which texts were left out, and name who signed by the id that stays.
    for whom in ["auditor", "stranger"] {
        fs::remove_file(&zip).unwrap();
        standpipe().args(["pack", "--for", whom]).arg(&shop.job).arg("-o").arg(&zip).assert().success();
        let copy = audit(&zip, &list).1.remove(0);
        let texts = point(&copy, "texts kept apart")["findings"].to_string();
        assert!(point(&copy, "keys")["verdict"] == "holds" && texts.contains("left out"), "{whom}: {copy}");
        same(&copy, &packed);
        assert_eq!(point(&copy, "book")["looked_at"], point(&packed, "book")["looked_at"], "{whom}");
    }
    // Signatures of lines that are gone go along: they tell of them.
    let (was, is) = crate::audit::bench::reword(&shop.job, "it is dry", "all is dry");
    crate::audit::bench::forge(&shop.job, |_, line| line.replace(&was, &is));
    let packed = pack();
    assert_eq!(point(&packed, "keys")["verdict"], "does not hold");
    same(&packed, &audit(&shop.job, &list).1[0]);
}
