//! Steps that are met from a log: judged as what a reader sends is, marked, and read again by an audit.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

use crate::reader::bench::{Bench, log, turn};

fn answers(warm: &str, close: &str) -> String {
    format!(
        "  - {{ step: warm, at: \"+5 min\", by: ann, log: {{ file: rows.csv{warm} }} }}\n\
         \x20 - {{ step: close, at: \"+1 min\", by: ann, log: {{ file: rows.csv{close} }} }}\n"
    )
}

/// Without `--reader`.
fn run(bench: &Bench, journal: &str) -> (i32, String) {
    let output = Command::cargo_bin("standpipe")
        .unwrap()
        .arg("run")
        .arg(bench.path("job.yaml"))
        .arg("--answers")
        .arg(bench.path("answers.yaml"))
        .arg("--journal")
        .arg(bench.path(journal))
        .output()
        .unwrap();
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

fn entered(bench: &Bench, journal: &str) -> Vec<Value> {
    bench.events(journal).into_iter().filter(|event| event["event"] == "entered").collect()
}

fn readings(bench: &Bench, journal: &str) -> Value {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.args(["audit", "--format", "json"]).arg(bench.path(journal)).output().unwrap();
    let audited: Value = serde_json::from_slice(&output.stdout).unwrap();
    crate::reader::stored::point(&audited, "readings").clone()
}

#[test]
fn a_step_is_met_by_the_reading_of_its_time_and_marked_as_from_the_log() {
    let bench = Bench::new(&answers("", ""), &log(0..0));
    assert_eq!(run(&bench, "j"), (0, String::new()));
    assert_eq!(bench.turns("j"), [turn("began", "08:00:00"), turn("reached", "08:02:58")]);
    let entered = entered(&bench, "j");
    assert_eq!(
        (&entered[0]["typed"]["warmth"], &entered[1]["typed"]["at_close"]),
        (&"38.0 °C".into(), &"39.0 °C".into())
    );
    for event in &entered {
        assert_eq!(event["origin"], "log");
        assert_eq!(event["remarks"][0]["from-log"], event["read"]["rows"]["name"]);
        let kept = bench.path("j/evidence").join(event["read"]["rows"]["sha256"].as_str().unwrap());
        assert_eq!(fs::read(kept).unwrap(), fs::read(bench.path("rows.csv")).unwrap());
    }
    assert_eq!(fs::read_dir(bench.path("j/evidence")).unwrap().count(), 1);
    let readings = readings(&bench, "j");
    assert_eq!(
        (readings["verdict"].as_str(), readings["looked_at"].as_u64()),
        (Some("holds"), Some(2)),
        "{readings:#}"
    );
    // The same files give the same journal; what it has is not given twice.
    assert_eq!(run(&bench, "k").0, 0);
    let events = |journal: &str| crate::audit::bench::events(&bench.path(journal));
    assert_eq!(events("j"), events("k"));
    assert_eq!((run(&bench, "j").0, events("j") == events("k")), (0, true));
}

/// Wherever a run ended, what the log says until then stands in the journal once.
#[test]
fn cut_off_anywhere_it_comes_to_the_same_events() {
    let bench = Bench::new(&answers("", ""), &log(0..0));
    assert_eq!(run(&bench, "whole"), (0, String::new()));
    let whole = fs::read_to_string(bench.path("whole/journal.jsonl")).unwrap();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    for kept in 1..lines.len() {
        let journal = format!("cut-{kept}");
        crate::folders::copy(&bench.path("whole"), &bench.path(&journal));
        fs::write(bench.path(&journal).join("journal.jsonl"), lines[..kept].concat()).unwrap();
        assert_eq!(run(&bench, &journal).0, 0);
        let told = |journal: &str| -> Vec<Value> {
            let events = bench.events(journal).into_iter().filter(|event| event["event"] != "recovered");
            events
                .map(|event| serde_json::json!([event["event"], event["turn"], event["at"], event["values"]]))
                .collect()
        };
        assert_eq!(told(&journal), told("whole"), "after {kept} of {} lines", lines.len());
    }
}

#[test]
fn a_gap_or_a_frozen_value_is_not_shown_and_nothing_is_entered() {
    let frozen: String = {
        let rows = log(0..0);
        let stuck = |line: &str| match line.split_once(';') {
            Some((time, _)) if ("08:01:40".."09").contains(&time) => format!("{time};38,0\n"),
            _ => format!("{line}\n"),
        };
        rows.lines().map(stuck).collect()
    };
    let cases = [
        (log(270..600), "the log does not show `warmth`: no reading for 32 s"),
        (frozen, "the log does not show `warmth`: no change for 3 min"),
        (log(0..0).replace("08:", "11:"), "the log does not show `warmth`: no reading has come yet"),
    ];
    for (number, (rows, words)) in cases.into_iter().enumerate() {
        let bench = Bench::new(&answers("", ""), &rows);
        let (code, said) = run(&bench, "j");
        assert_eq!(code, 2, "{number}: {said}");
        assert!(said.contains(words), "{number}: {said}");
        assert!(entered(&bench, "j").is_empty());
    }
}

#[test]
fn a_value_has_the_decimals_that_the_log_shows() {
    let whole: String =
        log(0..0).lines().map(|line| format!("{}\n", line.split_once(',').map_or(line, |(row, _)| row))).collect();
    let bench = Bench::new(&answers("", ""), &whole);
    assert_eq!(run(&bench, "j"), (0, String::new()));
    assert_eq!(entered(&bench, "j")[0]["typed"]["warmth"], "38 °C");
    assert_eq!(readings(&bench, "j")["verdict"], "holds");
}

#[test]
fn a_value_outside_the_range_is_an_attempt_as_by_a_reader() {
    let early = answers("", "").replace("+5 min", "+1 min");
    let bench = Bench::new(&(early + answers("", "").replace("+5 min", "+3 min").as_str()), &log(0..0));
    let (code, said) = run(&bench, "j");
    assert_eq!(code, 2, "the second answer is for a step that is not asked yet: {said}");
    let entered = entered(&bench, "j");
    assert_eq!((entered[0]["done"].as_bool(), entered[0]["typed"]["warmth"].as_str()), (Some(false), Some("34.0 °C")));
}

#[test]
fn what_is_open_about_a_log_is_asked_at_the_answer() {
    let unclear = log(0..0).replace("Warmth [°C]", "Warmth");
    let bench = Bench::new(&answers("", ""), &unclear);
    let (code, said) = run(&bench, "j");
    assert_eq!(code, 2);
    assert!(said.contains("log: { file: ..., units: { warmth: UNIT } }"), "{said}");
    let bench = Bench::new(&answers(", units: { warmth: degC }", ", units: { warmth: degC }"), &unclear);
    assert_eq!(run(&bench, "j"), (0, String::new()));
    // As the shop says that its gauge writes.
    let bench = Bench::new(&answers(", as: gauge", ", as: gauge"), &log(0..0).replace("Warmth [°C]", "Channel 1"));
    let (code, said) = run(&bench, "j");
    assert_eq!(code, 2);
    assert!(said.contains("the shop file does not say how `gauge` writes its logs"), "{said}");
    let shop = fs::read_to_string(bench.path("shop.yaml")).unwrap();
    let mapping = "range: 0..100 degC, log: { columns: { warmth: Channel 1 }, units: { warmth: degC } }";
    fs::write(bench.path("shop.yaml"), shop.replace("range: 0..100 degC", mapping)).unwrap();
    assert_eq!(run(&bench, "k"), (0, String::new()));
    assert_eq!(readings(&bench, "k")["verdict"], "holds");
}

#[test]
fn a_log_that_counts_from_its_start_needs_its_time_of_day() {
    let counted: String = (0..300u32).map(|row| format!("{},{:.1}\n", row * 2, 33.0 + f64::from(row) / 30.0)).collect();
    let counted = format!("Elapsed [s],Warmth [°C]\n{counted}");
    let bench = Bench::new(&answers("", ""), &counted);
    let (code, said) = run(&bench, "j");
    assert_eq!(code, 2);
    assert!(said.contains("counts from its start") && said.contains("starts: \"08:15:00\""), "{said}");
    let starts = ", starts: \"07:59:30\"";
    let bench = Bench::new(&answers(starts, starts), &counted);
    assert_eq!(run(&bench, "j"), (0, String::new()));
    assert_eq!(entered(&bench, "j")[0]["typed"]["warmth"], "38.5 °C");
    assert_eq!(readings(&bench, "j")["verdict"], "holds");
}

#[test]
fn a_log_forged_after_the_fact_is_found() {
    let bench = Bench::new(&answers("", ""), &log(0..0));
    assert_eq!(run(&bench, "j").0, 0);
    let kept = fs::read_dir(bench.path("j/evidence")).unwrap().next().unwrap().unwrap().path();
    let text = fs::read_to_string(&kept).unwrap().replace("08:06:00;39,0", "08:06:00;38,9");
    fs::write(&kept, text).unwrap();
    let readings = readings(&bench, "j");
    assert_eq!(readings["verdict"], "does not hold");
    assert!(readings.to_string().contains("the rows show 38.9 °C, but 39.0 °C was entered"), "{readings:#}");
}

/// What was held is held by the rows before its end, and by no others.
#[test]
fn a_gap_in_a_time_that_was_held_is_found_in_the_rows_again() {
    let rest = "  - { step: rest, at: \"+90 s\", by: ann, log: { file: rows.csv } }\n";
    let bench =
        Bench::new(&answers("", "").replacen("  - { step: close", &format!("{rest}  - {{ step: close"), 1), &log(0..0));
    let path = bench.path("p/procedures/main.yaml");
    let steps = fs::read_to_string(&path).unwrap();
    let held = "  - { id: rest, title: Let it rest, hold: { for: 60.s } }\n  - id: close";
    fs::write(&path, steps.replace("  - id: close", held)).unwrap();
    assert_eq!(run(&bench, "j"), (0, String::new()));
    let sound = readings(&bench, "j");
    assert_eq!((sound["verdict"].as_str(), sound["looked_at"].as_u64()), (Some("holds"), Some(3)), "{sound:#}");
    // It was over at 08:06:30, and the next reading that counts is of 08:07:30.
    let kept = fs::read_dir(bench.path("j/evidence")).unwrap().next().unwrap().unwrap().path();
    for (without, found) in [(340..385, true), (395..440, false)] {
        fs::write(&kept, log(without.clone())).unwrap();
        let gap = readings(&bench, "j").to_string().contains("s during the time that was held");
        assert_eq!(gap, found, "without the seconds {without:?}");
    }
}

#[test]
fn a_clock_without_dates_that_runs_for_days_is_no_evidence_of_one_of_them() {
    let night = "20:00:00;35,0\n23:00:00;36,0\n02:00:00;37,0\n05:00:00;38,0\n";
    let again: String = log(0..0).lines().skip(1).map(|line| format!("{line}\n")).collect();
    let long = format!("{}15:00:00;35,0\n{night}{again}", log(0..0));
    let bench = Bench::new(&answers("", ""), &long);
    let (code, said) = run(&bench, "j");
    assert_eq!(code, 2);
    assert!(said.contains("no dates, and lasts for more than a day"), "{said}");
    assert!(entered(&bench, "j").is_empty());
    // With dates it is one of them, and so is what was read.
    let mut day = 22;
    let mut before = String::new();
    let dated = long.lines().skip(1).map(|line| {
        day += i32::from(line < before.as_str());
        before = line.to_owned();
        format!("2026-11-{day}T{line}\n")
    });
    let dated = format!("Clock;Warmth [°C]\n{}", dated.collect::<String>());
    let bench = Bench::new(&answers("", ""), &dated);
    assert_eq!(run(&bench, "j"), (0, String::new()));
    assert_eq!(readings(&bench, "j")["verdict"], "holds");
}
