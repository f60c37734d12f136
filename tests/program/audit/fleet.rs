//! The jobs of the example workshop, all of them run from their answers: what an audit and a table say of them.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, copy_plan, point, root, standpipe};

/// Run once; nothing writes to it.
pub fn fleet() -> &'static Path {
    static FLEET: OnceLock<TempDir> = OnceLock::new();
    let folder = FLEET.get_or_init(|| {
        let folder = TempDir::new().unwrap();
        let script = root().join("examples/fleet.sh");
        let mut command = Command::new("bash");
        command.arg(script).arg(folder.path()).env("STANDPIPE", env!("CARGO_BIN_EXE_standpipe"));
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        folder
    });
    folder.path()
}

/// Of those that do not simply hold: the job, what it comes to, and the points that are to blame.
const NOT_PLAIN: [(&str, &str, &[&str]); 4] = [
    ("avocet-estate", "not shown", &["pace of entries"]),
    ("dunlin-parcel", "not shown", &["closed"]),
    ("heron-taxi", "not shown", &["closed"]),
    ("plover-camper", "does not hold", &["litres in against litres out"]),
];

fn name(journal: &Json) -> String {
    Path::new(journal["folder"].as_str().unwrap()).file_name().unwrap().to_string_lossy().into_owned()
}

fn text(arguments: &[&str]) -> (Option<i32>, String) {
    let output = standpipe().args(arguments).output().unwrap();
    (output.status.code(), String::from_utf8(output.stdout).unwrap())
}

#[test]
fn each_job_of_the_workshop_comes_to_what_it_was_written_for() {
    let (code, journals) = audit(fleet(), &[]);
    assert_eq!(code, 1, "one of them was settled short");
    let finished = journals.iter().filter(|journal| journal["state"] == "finished").count();
    assert!(finished >= 12, "{finished} finished jobs");
    for journal in &journals {
        let (verdict, points) = NOT_PLAIN
            .iter()
            .find(|(job, ..)| *job == name(journal))
            .map_or(("holds", [].as_slice()), |(_, verdict, points)| (*verdict, *points));
        assert_eq!(journal["verdict"], verdict, "{journal}");
        let blamed: Vec<&str> = journal["points"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|point| point["verdict"] != "holds")
            .map(|point| point["point"].as_str().unwrap())
            .collect();
        assert_eq!(blamed, points, "{journal}");
        assert_eq!(point(journal, "decisions")["looked_at"], journal["events"], "all of it was decided again");
    }
    let van = journals.iter().find(|journal| name(journal) == "heron-van").unwrap();
    for looked_at in ["signatures", "witnesses", "instruments", "evidence", "round readings"] {
        assert!(point(van, looked_at)["looked_at"].as_u64().unwrap() > 0, "{looked_at}");
    }
    let stopped: Vec<String> = journals.iter().filter(|journal| journal["state"] == "stopped").map(name).collect();
    assert_eq!(stopped, ["dunlin-parcel", "heron-taxi"]);
}

#[test]
fn the_whole_fleet_is_told_in_eighty_columns() {
    let folder = fleet().to_str().unwrap();
    let (_, told) = text(&["audit", folder]);
    let plain = told.lines().filter(|line| line.starts_with("holds ")).count();
    let all = plain + NOT_PLAIN.len();
    let heading = format!("{all} journals audited, {plain} hold, 1 does not hold, 3 are not fully shown.");
    assert!(told.starts_with(&heading), "{told}");
    assert!(told.contains("`ledger.verdict` is short"), "{told}");
    let newer = root().join("examples/newer");
    let (code, rechecks) = text(&["audit", folder, "--against", newer.to_str().unwrap()]);
    assert_eq!(code, Some(1));
    // Set at 27 N·m, and at 26, which is near enough to 25.
    assert!(rechecks.contains("2026-1201") && rechecks.contains("27.0 N·m"), "{rechecks}");
    let below = rechecks.split("Under the data in").nth(1).unwrap();
    assert!(!below.contains("2026-1208"), "{below}");
    let (_, open) = text(&["jobs", folder]);
    assert!(open.starts_with("2 open jobs") && open.contains("4 rounds are"), "{open}");
    let said = format!("{} jobs say that they are finished. That was not audited.\n", all - 2);
    assert!(open.ends_with(&said), "{open}");
    for told in [told, rechecks, open] {
        let long = told.lines().find(|line| line.chars().count() > 80 && !line.contains('/'));
        assert_eq!(long, None, "at most 80 columns");
    }
}

/// An engine that hands work to many processes asks line by line. What comes back says nothing of where the jobs lay, whatever order
/// they were asked in, and what can't be answered is a line as well.
#[test]
fn a_list_is_answered_line_by_line_and_ends_with_a_count() {
    let names: Vec<String> = audit(fleet(), &[]).1.iter().map(name).filter(|name| name != "dunlin-parcel").collect();
    let asked = |folder: &Path, names: &[String]| -> (Option<i32>, Vec<Json>) {
        let line = |name: &String| serde_json::json!({ "key": name, "folder": folder.join(name) }).to_string();
        let list = folder.parent().unwrap().join("list.jsonl");
        fs::write(&list, names.iter().map(line).collect::<Vec<_>>().join("\n")).unwrap();
        let (code, told) = text(&["audit", "--files-from", list.to_str().unwrap()]);
        (code, told.lines().map(|line| serde_json::from_str(line).unwrap()).collect())
    };
    let temp = TempDir::new().unwrap();
    let (here, there) = (temp.path().join("here"), temp.path().join("there"));
    for folder in [&here, &there] {
        for name in names.iter().take(3) {
            fs::create_dir_all(folder.join(name)).unwrap();
            for entry in fs::read_dir(fleet().join(name)).unwrap().map(Result::unwrap) {
                let to = folder.join(name).join(entry.file_name());
                if entry.path().is_file() {
                    fs::copy(entry.path(), to).unwrap();
                }
            }
        }
    }
    let three = &names[..3];
    let (code, mut one) = asked(&here, three);
    let backwards: Vec<String> = three.iter().rev().cloned().collect();
    let (_, mut other) = asked(&there, &backwards);
    let (end, too) = (one.pop().unwrap(), other.pop().unwrap());
    other.reverse();
    assert_eq!((code, &end, one.len()), (Some(0), &too, 3));
    assert_eq!((&end["end"], &end["asked"], &end["answered"]), (&true.into(), &3.into(), &3.into()));
    assert_eq!(one, other, "the same wherever it lies");
    assert!(one.iter().all(|told| told["journal"].as_str().unwrap().len() == 64 && told["verdict"].is_string()));
    // One that is gone is a finding of its own; a line that asks nothing is not answered, and the count says so.
    let (code, gone) = asked(&here, &["nothing".to_owned()]);
    assert_eq!((code, &gone[0]["verdict"], &gone[0]["key"]), (Some(0), &"does not hold".into(), &"nothing".into()));
    let list = temp.path().join("odd.jsonl");
    fs::write(&list, "{\"key\": 1}\n\nnothing\n").unwrap();
    let (code, told) = text(&["audit", "--files-from", list.to_str().unwrap()]);
    assert!(code == Some(2) && told.matches("failed").count() == 2 && told.contains("\"answered\":0"), "{told}");
}

#[test]
fn a_folder_that_is_gone_is_said_and_the_others_are_audited() {
    let (code, journals) =
        audit(&fleet().join("heron-van"), &["nowhere", fleet().join("heron-estate").to_str().unwrap()]);
    assert_eq!((code, journals.len()), (1, 2));
    assert!(journals.iter().all(|journal| journal["verdict"] == "holds"), "{journals:?}");
    let output = standpipe().args(["audit", "nowhere"]).arg(fleet().join("heron-van")).output().unwrap();
    assert!(String::from_utf8_lossy(&output.stderr).contains("there is no nowhere"));
    assert!(String::from_utf8_lossy(&output.stdout).contains("1 journal"));
}

/// A worker's jobs need not know the instrument that is asked of; the sum of all workers tells one that nobody knows.
#[test]
fn a_worker_counts_the_jobs_that_know_the_instrument() {
    let temp = TempDir::new().unwrap();
    let list = temp.path().join("list.jsonl");
    let line = |name: &str| serde_json::json!({ "key": name, "folder": fleet().join(name) }).to_string();
    fs::write(&list, format!("{}\n{}\n", line("heron-van"), line("plover-pickup"))).unwrap();
    for (instrument, knew) in [("small-wrench", 2), ("small-wrnch", 0)] {
        let list = list.to_str().unwrap();
        let arguments = ["audit", "--files-from", list, "--instrument", instrument, "--off", "15 %"];
        let output = standpipe().args(arguments).output().unwrap();
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        let end: Json = serde_json::from_str(told.lines().last().unwrap()).unwrap();
        assert_eq!((output.status.code(), &end["knew_instrument"]), (Some(0), &knew.into()), "{told}");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(said.contains("no shop of these jobs has an instrument `small-wrnch`"), knew == 0, "{said}");
    }
}

/// Of ten thousand finished jobs only the last line is read: one without its plan is still said to be finished, and no more.
#[test]
fn a_finished_job_is_told_from_its_last_line_unless_all_are_asked_for() {
    let temp = TempDir::new().unwrap();
    let copy = temp.path().join("finished");
    fs::create_dir(&copy).unwrap();
    fs::copy(fleet().join("heron-van/journal.jsonl"), copy.join("journal.jsonl")).unwrap();
    let folder = temp.path().to_str().unwrap();
    let (code, told) = text(&["jobs", folder]);
    assert_eq!(
        (code, told.as_str()),
        (Some(0), "No open jobs.\n1 job says that it is finished. That was not audited.\n")
    );
    let (code, told) = text(&["jobs", folder, "--all"]);
    assert!(code == Some(1) && told.contains("not read"), "{told}");
    // Without its last line it is not finished, and is read.
    let lines = fs::read_to_string(copy.join("journal.jsonl")).unwrap();
    let cut = lines.trim_end().rfind('\n').unwrap() + 1;
    fs::write(copy.join("journal.jsonl"), &lines[..cut]).unwrap();
    let (code, told) = text(&["jobs", folder]);
    assert!(code == Some(1) && told.contains("not read"), "{told}");
}

#[test]
fn a_record_that_was_tampered_with_is_found() {
    let temp = TempDir::new().unwrap();
    let copy = temp.path().join("copy");
    fs::create_dir(&copy).unwrap();
    let sound = fleet().join("heron-estate");
    copy_plan(&sound, &copy);
    fs::copy(sound.join("journal.jsonl"), copy.join("journal.jsonl")).unwrap();
    let path = copy.join("journal.jsonl");
    let written = fs::read_to_string(&path).unwrap();
    // Three hundred grams more came out, somebody would like to think.
    let tampered = written.replacen("\"value\":5.22", "\"value\":5.52", 1);
    assert_ne!(written, tampered);
    fs::write(&path, &tampered).unwrap();
    let (code, journals) = audit(&copy, &[]);
    let found = &point(&journals[0], "chain of hashes")["findings"][0];
    assert_eq!((code, found["verdict"].as_str()), (1, Some("does not hold")));
    let line = 1 + written.lines().position(|line| line.contains("\"value\":5.22")).unwrap();
    assert_eq!(found["place"]["line"], line, "{found}");
}

#[test]
fn a_table_of_the_fleet_has_a_line_for_each_job() {
    let folder = fleet().to_str().unwrap();
    let (code, table) = text(&["report", folder, "--format", "csv"]);
    assert_eq!(code, Some(0));
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let heading = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), fs::read_dir(fleet()).unwrap().count());
    let cell = |job: &str, column: &str| {
        let row = rows.iter().find(|row| &row[0] == job).unwrap_or_else(|| panic!("no {job}"));
        let at = heading.iter().position(|name| name == column).unwrap_or_else(|| panic!("no {column} in {heading:?}"));
        row[at].to_owned()
    };
    // Entered as 61250 mi and 3.9 US_qt; by the definitions of the mile and the US gallon.
    assert_eq!(cell("2026-1211", "odometer [km]"), "98572.3");
    assert_eq!(cell("2026-1211", "litres in [L]"), "3.69078");
    assert_eq!((cell("2026-1106", "ledger"), cell("2026-1106", "accepted")), ("short".into(), "1".into()));
    assert_eq!(cell("2026-1102", "state"), "stopped");
    assert_eq!(cell("2026-1102", "due on"), "", "what is not known stays empty");
    assert_eq!(cell("2026-1101", "level set at [°C]"), "56.4");
    assert_eq!(cell("2026-1101", "seal").len(), 64);
    // The same job by itself.
    let (_, alone) = text(&["report", &format!("{folder}/heron-van"), "--format", "csv"]);
    assert_eq!(alone.lines().count(), 2);
    let two = [format!("{folder}/heron-van"), format!("{folder}/heron-taxi")];
    assert_eq!(text(&["report", &two[0], &two[1]]).0, Some(2), "a record is of one job");
    assert_eq!(text(&["report", &two[0], &two[1], "--format", "csv"]).1.lines().count(), 3);
}

#[test]
fn what_an_audit_found_is_written_for_spreadsheets_and_build_servers() {
    let folder = fleet().to_str().unwrap();
    let newer = root().join("examples/newer");
    let newer = newer.to_str().unwrap();
    let (_, journals) = audit(fleet(), &["--against", newer]);
    let points: usize = journals.iter().map(|journal| journal["points"].as_array().unwrap().len()).sum();
    let missed: usize =
        journals.iter().filter_map(|journal| journal["recheck"]["missed"].as_array()).map(Vec::len).sum();
    assert_eq!(missed, 2, "both plugs of one job");
    let (code, table) = text(&["audit", folder, "--against", newer, "--format", "csv"]);
    assert_eq!(code, Some(1));
    let rows: Vec<csv::StringRecord> =
        csv::Reader::from_reader(table.as_bytes()).records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), points + missed, "a row for each point: none of them has two findings");
    let failed: Vec<_> = rows.iter().filter(|row| &row[5] == "does not hold").map(|row| &row[0]).collect();
    assert_eq!(failed, ["2026-1106"]);
    let (code, suites) = text(&["audit", folder, "--against", newer, "--format", "junit"]);
    assert_eq!(code, Some(1));
    let count = |what: &str| suites.matches(what).count();
    assert_eq!((count("<testsuite "), count("<testcase ")), (journals.len(), points + missed));
    assert_eq!((count("<failure "), count("<skipped ")), (1 + missed, 3), "{suites}");
    let counted = format!("tests=\"{}\" failures=\"3\" skipped=\"3\"", points + missed);
    assert!(suites.contains(&counted), "{suites}");
}
