//! A reader beside answers: the same files give the same journal, whatever the clock says.

mod bench;
mod curve;
mod logs;
pub mod stored;

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

pub use bench::Bench;
use bench::{log, turn};

pub const TAKEN: &str = "  - { step: warm, at: \"+5 min\", by: ann, enter: reader }\n\
                     \x20 - { step: close, at: \"+1 min\", by: ann, enter: reader }\n";

#[test]
fn readings_are_taken_at_the_time_of_the_answer_and_the_journal_is_the_same_every_time() {
    let bench = Bench::new(TAKEN, &log(0..0));
    assert_eq!(bench.run("one"), (0, String::new()));
    assert_eq!(bench.run("two").0, 0);
    let read = |journal: &str| crate::audit::bench::events(&bench.path(journal));
    assert_eq!(read("one"), read("two"));
    // 36.0 stands in the row of three minutes less a few seconds, rounded up.
    assert_eq!(bench.turns("one"), [turn("began", "08:00:00"), turn("reached", "08:02:58")]);
    let events = bench.events("one");
    let entered: Vec<&Value> = events.iter().filter(|event| event["event"] == "entered").collect();
    assert_eq!(entered[0]["typed"]["warmth"], "38.0 °C");
    assert_eq!(entered[1]["typed"]["at_close"], "39.0 °C", "another name read with the same kind of instrument");
    assert!(entered.iter().all(|event| event["origin"] == "log"));
    // The raw rows are evidence, under the hash of their bytes.
    let rows = &entered[0]["read"]["rows"];
    let kept = bench.path("one/stream").join(rows["of"]["file"].as_str().unwrap());
    assert_eq!(fs::read(kept).unwrap(), fs::read(bench.path("rows.csv")).unwrap());
    let audit = Command::cargo_bin("standpipe").unwrap().arg("audit").arg(bench.path("one")).output().unwrap();
    let said = String::from_utf8(audit.stdout).unwrap();
    assert!(!said.contains("not met") && !said.contains("differ"), "{said}");
    // What the journal has is not given twice.
    let again = bench.run("one");
    assert_eq!((again.0, bench.events("one").len()), (0, events.len()), "{}", again.1);
}

/// Wherever a run ended before an answer, what the reader did until then stands in the journal once.
#[test]
fn cut_off_before_an_answer_it_comes_to_the_same_turns() {
    let bench = Bench::new(TAKEN, &log(0..0));
    assert_eq!(bench.run("whole").0, 0);
    let whole = fs::read_to_string(bench.path("whole/journal.jsonl")).unwrap();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    let entered = lines.iter().position(|line| line.contains("\"event\":\"entered\"")).unwrap();
    assert!(entered >= 5, "begun, followed, reached: {whole}");
    for kept in 1..=entered {
        let journal = format!("cut-{kept}");
        let folder = bench.path(&journal);
        fs::create_dir(&folder).unwrap();
        crate::audit::bench::copy_plan(&bench.path("whole"), &folder);
        fs::write(folder.join("journal.jsonl"), lines[..kept].concat()).unwrap();
        assert_eq!(bench.run(&journal).0, 0);
        assert_eq!(bench.turns(&journal), bench.turns("whole"), "after {kept} of {} lines", lines.len());
    }
}

#[test]
fn a_stale_reader_passes_nothing_and_says_so() {
    let bench = Bench::new(TAKEN, &log(270..600));
    let (code, said) = bench.run("j");
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("the reader shows nothing for `warmth`: no reading for 32 s"), "{said}");
    assert_eq!(bench.turns("j").last(), Some(&turn("stale", "08:05:00")));
    assert!(bench.events("j").iter().all(|event| event["event"] != "entered"));
    // By eye it counts, and is not marked as from the reader.
    let answers = "  - { step: warm, at: \"+5 min\", by: ann, enter: { warmth: 38 degC } }\n\
                   \x20 - { step: close, at: \"+1 min\", by: ann, enter: { at_close: 39 degC } }\n";
    let bench = Bench::new(answers, &log(270..600));
    assert_eq!(bench.run("j").0, 0);
    let events = bench.events("j");
    assert!(events.iter().filter(|event| event["event"] == "entered").all(|event| event["origin"] == "answers"));
}

#[test]
fn a_gap_is_noted_and_what_comes_after_it_counts_again() {
    let bench = Bench::new(TAKEN, &log(100..160));
    assert_eq!(bench.run("j").0, 0);
    assert_eq!(bench.turns("j"), [turn("began", "08:00:00"), turn("again", "08:02:40"), turn("reached", "08:02:58")]);
    let events = bench.events("j");
    let gap = events.iter().find(|event| event["turn"] == "again").unwrap();
    assert_eq!(gap["note"]["gap"], 62.0);
}

#[test]
fn too_cold_is_recorded_as_an_attempt_and_asked_again() {
    let answers =
        format!("  - {{ step: warm, at: \"+1 min\", by: ann, enter: reader }}\n{}", TAKEN.replace("+5", "+4"));
    let bench = Bench::new(&answers, &log(0..0));
    assert_eq!(bench.run("j").0, 0);
    let events = bench.events("j");
    let entered: Vec<&Value> = events.iter().filter(|event| event["event"] == "entered").collect();
    assert_eq!(
        (entered.len(), &entered[0]["done"], &entered[0]["typed"]["warmth"]),
        (3, &Value::Bool(false), &"34.0 °C".into())
    );
}

#[test]
fn standard_input_can_be_a_reader_beside_answers() {
    let bench = Bench::new(TAKEN, "");
    let output = bench.command("j", Path::new("-")).write_stdin(log(0..0)).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(bench.turns("j").len(), 2);
}

#[test]
fn standard_input_is_not_the_reader_and_the_keyboard_at_once() {
    let bench = Bench::new(TAKEN, "");
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.arg("run").arg(bench.path("job.yaml")).args(["--reader", "-"]).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("standard input can't be a reader and the keyboard at once"), "{said}");
    assert!(!bench.path("job.job").exists(), "nothing was begun");
}

#[test]
fn what_is_not_clear_is_asked_for_with_the_choices() {
    let unclear = "Clock,Warmth [°C],Warmth 2 [°C]\n".to_owned()
        + (0..60).map(|second| format!("08:00:{second:02},36.5,36.9\n")).collect::<String>().as_str();
    let answers = "  - { step: warm, at: \"+50 s\", by: ann, enter: reader }\n";
    let bench = Bench::new(answers, &unclear);
    let (code, said) = bench.run("j");
    assert_eq!(code, 2);
    assert!(said.contains("--column warmth=COLUMN") && said.contains("Warmth 2 [°C]"), "{said}");
    let chosen =
        bench.command("k", &bench.path("rows.csv")).args(["--column", "warmth=Warmth 2 [°C]"]).output().unwrap();
    assert_eq!(chosen.status.code(), Some(3), "{}", String::from_utf8_lossy(&chosen.stderr));
    let events = bench.events("k");
    let entered = events.iter().find(|event| event["event"] == "entered").unwrap();
    assert_eq!(entered["typed"]["warmth"], "36.9 °C");
    for (wrong, expected) in [("warmth", "has no `=`"), ("cold=Warmth 2 [°C]", "awaits no `cold`")] {
        let output = bench.command("l", &bench.path("rows.csv")).args(["--column", wrong]).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        assert!(String::from_utf8(output.stderr).unwrap().contains(expected));
    }
}

#[test]
fn the_options_of_a_log_say_how_a_reader_is_meant() {
    // Tabs, no unit, time as a number: nothing of it can be told by looking.
    let rows: String =
        (0..300u32).map(|row| format!("{}\t{:.1}\n", row * 2000, 33.0 + f64::from(row) / 30.0)).collect();
    let bench = Bench::new(TAKEN, &format!("Zeit\tKanal 1\n{rows}"));
    let options = ["--column", "warmth=Kanal 1", "--unit", "warmth=degC", "--column", "time=#1", "--unit", "time=ms"];
    let more = ["--delimiter", "tab", "--decimal", "point", "--encoding", "utf-8"];
    let output = bench.command("j", &bench.path("rows.csv")).args(options).args(more).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    // Said once and for all in the shop file, the job's own or that of today.
    let shop = fs::read_to_string(bench.path("shop.yaml")).unwrap();
    let mapping = "range: 0..100 degC, log: { columns: { warmth: Kanal 1, time: Zeit, other: Kanal 9 }, units: { warmth: degC, time: ms } }";
    fs::write(bench.path("mapped.yaml"), shop.replace("range: 0..100 degC", mapping)).unwrap();
    let plain = bench.command("k", &bench.path("rows.csv")).output().unwrap();
    let said = String::from_utf8(plain.stderr).unwrap();
    assert!(plain.status.code() == Some(2) && said.contains("--column warmth=COLUMN"), "{said}");
    assert!(!said.contains("--as gauge"), "the shop says nothing of it: {said}");
    let of_today = |journal: &str| {
        let mut command = bench.command(journal, &bench.path("rows.csv"));
        command.args(["--as", "gauge", "--shop"]).arg(bench.path("mapped.yaml")).output().unwrap()
    };
    assert_eq!(of_today("l").status.code(), Some(0));
    fs::write(bench.path("shop.yaml"), shop.replace("range: 0..100 degC", mapping)).unwrap();
    let unsaid = bench.command("m", &bench.path("rows.csv")).output().unwrap();
    let said = String::from_utf8(unsaid.stderr).unwrap();
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("`--as gauge` reads it as the shop says"), "{said}");
    let own = bench.command("n", &bench.path("rows.csv")).args(["--as", "gauge"]).output().unwrap();
    assert_eq!(own.status.code(), Some(0), "{}", String::from_utf8_lossy(&own.stderr));
}

#[test]
fn an_option_of_a_reader_without_a_reader_is_refused() {
    let bench = Bench::new(TAKEN, "");
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.arg("run").arg(bench.path("job.yaml")).args(["--unit", "warmth=degC"]).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("`--unit` says how a reader is meant, and there is none"), "{said}");
}
