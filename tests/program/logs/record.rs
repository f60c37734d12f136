//! Logs that a job kept, on its record: drawn with window and events, whatever they cover.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::{Value, json};

use super::root;

fn standpipe(args: &[&str], files: &[&Path]) -> std::process::Output {
    Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(args).args(files).output().unwrap()
}

/// The pickup's job up to its last steps: it is open, and takes more evidence.
fn open_job(folder: &Path) {
    let examples = root().join("examples");
    let whole = fs::read_to_string(examples.join("answers/plover-pickup.yaml")).unwrap();
    let end = whole.find("  - step: tell-customer").unwrap();
    let answers = folder.join("answers.yaml");
    fs::write(&answers, whole[..end].replace("../", &format!("{}/", examples.display()))).unwrap();
    let (job, journal) = (examples.join("jobs/plover-pickup.yaml"), folder.join("j"));
    let mut command = Command::cargo_bin("standpipe").unwrap();
    command.arg("run").arg(job).arg("--answers").arg(answers).arg("--journal").arg(journal).assert().code(3);
}

#[test]
fn kept_logs_stand_on_the_record_in_the_units_of_the_shop_and_where_they_show_nothing_they_say_so() {
    let folder = tempfile::tempdir().unwrap();
    open_job(folder.path());
    // The same check, read in degrees Fahrenheit, without the rows from 11:20:00 to 11:21:58.
    let rows = fs::read_to_string(root().join("examples/logs/pickup.csv")).unwrap();
    let rows = rows.lines().skip(1).filter(|row| !row.contains("T11:20:") && !row.contains("T11:21:")).map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        format!("{},{:.2},{}\n", cells[0], cells[1].parse::<f64>().unwrap() * 1.8 + 32.0, cells[2])
    });
    let other = folder.path().join("other-unit.csv");
    fs::write(&other, format!("timestamp,Sump temp degF,Engine speed [rpm]\n{}", rows.collect::<String>())).unwrap();
    let journal = folder.path().join("j");
    for log in [other, root().join("examples/logs/road.csv")] {
        let args = ["log", "--keep", "--by", "rita", "--at", "2026-11-27T13:40:00+01:00", "--job"];
        let kept = standpipe(&args, &[&journal, &log]);
        assert!(kept.status.code().unwrap() != 2, "{}", String::from_utf8_lossy(&kept.stderr));
    }
    let report = standpipe(&["report", "--format", "json"], &[&journal]);
    let report: Value = serde_json::from_slice(&report.stdout).unwrap();
    let pictures = report["record"]["pictures"].as_array().unwrap();
    let kept: Vec<&Value> = pictures
        .iter()
        .filter(|it| it["id"].as_str().unwrap().starts_with("kept-log-"))
        .map(|it| &it["drawn"]["course"])
        .collect();
    assert_eq!(kept.len(), 2);
    let (course, trace) = (kept[0], &kept[0]["traces"][0]);
    // Window of the family; opened and closed by the steps of the job, as `examples/answers/plover-pickup.yaml` has them.
    assert_eq!((&course["unit"], &course["window"]), (&json!("°C"), &json!([47.0, 56.0])));
    let gap = json!(["2026-11-27T11:19:58+01:00", "2026-11-27T11:22:00+01:00"]);
    assert_eq!(trace["gaps"]["longest"], gap, "{} {} {}", trace["says"], trace["gaps"], trace["drawn"]);
    assert_eq!(trace["lines"].as_array().unwrap().len(), 2);
    let at = |event: &str| {
        let all = trace["at_events"].as_array().unwrap();
        all.iter().find(|it| it["event"] == event).unwrap()["shown"].clone()
    };
    // What the answer took from the same rows when it was closed.
    assert_eq!(at("level opening closed"), "49.6 °C");
    assert_eq!(at("road test began"), "outside the log");
    let of = |verdict: &str| trace["checks"].as_array().unwrap().iter().filter(|it| it["verdict"] == verdict).count();
    // The gap, and that it begins after the engine was started.
    assert!(of("met") > 5 && of("not met") == 2, "{:#}", trace["checks"]);
    // A log of another time of the day shows nothing of this job, and nothing is drawn of it.
    let trace = &kept[1]["traces"][0];
    assert_eq!((trace["lines"].as_array().unwrap().len(), kept[1]["series"].as_array().unwrap().len()), (0, 0));
    assert!(trace["says"][1].as_str().unwrap().contains("there is no curve"), "{trace:#}");
}

#[test]
fn a_log_that_contradicts_what_was_entered_at_the_same_time_is_said_by_audit_and_record() {
    let folder = tempfile::tempdir().unwrap();
    open_job(folder.path());
    let text = fs::read_to_string(root().join("examples/logs/pickup.csv")).unwrap();
    let warmer = |by: f64| -> String {
        let rows = text.lines().skip(1).map(|row| {
            let cells: Vec<&str> = row.split(',').collect();
            format!("{},{:.1},{}\n", cells[0], cells[1].parse::<f64>().unwrap() + by, cells[2])
        });
        format!("timestamp,Sump temp [°C],Engine speed [rpm]\n{}", rows.collect::<String>())
    };
    let journal = folder.path().join("j");
    let audited = || -> Value {
        let audited: Value =
            serde_json::from_slice(&standpipe(&["audit", "--format", "json"], &[&journal]).stdout).unwrap();
        crate::reader::stored::point(&audited, "logs").clone()
    };
    let record = || String::from_utf8(standpipe(&["report"], &[&journal]).stdout).unwrap();
    let keep = |name: &str, by: f64| {
        let log = folder.path().join(name);
        fs::write(&log, warmer(by)).unwrap();
        let kept = standpipe(
            &["log", "--keep", "--by", "rita", "--at", "2026-11-27T13:40:00+01:00", "--job"],
            &[&journal, &log],
        );
        assert!(kept.status.code().unwrap() != 2, "{}", String::from_utf8_lossy(&kept.stderr));
    };
    // Another reader of the same fluid is a degree off: nobody is wrong.
    keep("other-reader.csv", 1.0);
    let logs = audited();
    assert_eq!((logs["verdict"].as_str(), logs["looked_at"].as_u64()), (Some("holds"), Some(1)), "{logs:#}");
    assert!(!record().contains("CONTRADICTS"));
    // One whose rows run ahead of the job.
    keep("sped-up.csv", 10.5);
    let logs = audited();
    assert_eq!(logs["verdict"], "does not hold", "{logs:#}");
    assert_eq!(logs["findings"].as_array().unwrap().len(), 4, "start, window, opening and closing: {logs:#}");
    assert!(logs.to_string().contains("`sped-up.csv`: `close_temperature` was entered as 49.6 °C"), "{logs:#}");
    assert!(record().contains("IT CONTRADICTS WHAT WAS ENTERED"), "{}", record());
}
