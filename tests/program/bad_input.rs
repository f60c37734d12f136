//! Bad input gets a message with place, found, expected and fix; never a panic, and nothing is lost.

// A test says by failing what was wrong.
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use tempfile::TempDir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

struct Ran {
    code: i32,
    out: String,
    err: String,
}

impl Ran {
    /// Refused as wrong usage, with all of these words, and without a panic.
    #[track_caller]
    fn refused(&self, words: &[&str]) {
        assert_eq!(self.code, 2, "{}{}", self.out, self.err);
        self.says(words);
    }

    #[track_caller]
    fn says(&self, words: &[&str]) {
        for word in words {
            assert!(self.err.contains(word), "`{word}` is missing in\n{}", self.err);
        }
        assert!(!self.err.contains("panicked"), "{}", self.err);
    }
}

fn standpipe(arguments: &[&str], folder: &Path) -> Ran {
    let output =
        Command::cargo_bin("standpipe").unwrap().current_dir(folder).args(arguments).write_stdin("").output().unwrap();
    Ran {
        code: output.status.code().unwrap(),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

fn card_of(text: &[u8]) -> Ran {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("job.yaml"), text).unwrap();
    standpipe(&["card", "job.yaml"], folder.path())
}

#[test]
fn files_that_are_no_job() {
    card_of(b"").refused(&["job.yaml", "empty", "do"]);
    card_of(&[0xff, 0xfe, 0x00, 0x41]).refused(&["job.yaml", "not text", "UTF-8"]);
    card_of(&vec![b'a'; 9 << 20]).refused(&["job.yaml", "not-text"]);
    card_of(b"- a\n- b\n").refused(&["job.yaml, line 1", "not a job file", "new job"]);
    card_of(b"job: 1\nfamily: heron\n").refused(&["does not say `procedure`"]);
    card_of(b"job: 1\nfamily: heronn\nprocedure: pan-service-overflow\n")
        .refused(&["job.yaml, line 2", "did you mean `heron`"]);
    card_of(b"job: 1\njob: 2\n").refused(&["duplicate-key", "job.yaml, line 2"]);
    card_of(b"job: &a 1\n").refused(&["tag-or-anchor"]);
    let folder = TempDir::new().unwrap();
    standpipe(&["card", "nowhere.yaml"], folder.path()).refused(&["nowhere.yaml", "no such file"]);
}

#[test]
fn facts_in_the_wrong_unit_or_misspelt() {
    let job = |fact: &str| {
        format!(
            "job: 1\nfamily: heron\nprocedure: pan-service-overflow\nvehicle:\n  plate: x\n  description: x\n  duty: light\n  {fact}\ncustomer: {{ name: x, words: x }}\n"
        )
    };
    card_of(job("odometer: 120000 L").as_bytes()).refused(&["job.yaml, line 8", "distance"]);
    card_of(job("odometer: 1,234 km").as_bytes()).refused(&["job.yaml, line 8", "1,234"]);
    card_of(job("odometer: .nan").as_bytes()).refused(&["job.yaml, line 8"]);
    card_of(job("odometr: 120000 km").as_bytes()).refused(&["job.yaml, line 8", "odometer"]);
}

/// A plugin with one procedure and its family, to be faulty in one place.
fn plugin(folder: &Path, id: &str, procedure: &str) {
    let own = folder.join(id);
    for inner in ["procedures", "families", "forms", "scripts", "sheets"] {
        fs::create_dir_all(own.join(inner)).unwrap();
    }
    let manifest =
        format!("plugin: {id}\nversion: \"1.0.0\"\ntitle: T\nlicence: MIT\nauthor: tests\nplugins: [units]\n");
    fs::write(own.join("plugin.yaml"), manifest).unwrap();
    fs::write(own.join("forms/lamp.yaml"), "form: lamp\nfields: { heat: { is: temperature } }\n").unwrap();
    fs::write(
        own.join("families/gull.yaml"),
        "family: gull\nform: lamp\nheat: 30 degC\nsources: [{ covers: all, from: tests }]\n",
    )
    .unwrap();
    fs::write(own.join("procedures/main.yaml"), format!("procedure: main\ntitle: Main\n{procedure}")).unwrap();
    fs::write(folder.join("job.yaml"), "job: 1\nfamily: gull\nprocedure: main\n").unwrap();
}

fn card_with(procedure: &str) -> Ran {
    let folder = TempDir::new().unwrap();
    plugin(folder.path(), "lamp", procedure);
    standpipe(&["card", "job.yaml", "--plugins", "lamp"], folder.path())
}

#[test]
fn procedures_with_one_fault_each() {
    card_with("steps:\n  - { id: a, do: A., read: { x: { is: count, ask: How many? } } }\n").refused(&[
        "main.yaml, line 4",
        "step-kind",
        "exactly one of",
    ]);
    card_with("steps:\n  - { id: a, include: main }\n").refused(&["include-cycle", "includes itself"]);
    card_with("steps:\n  - { id: a, include: mian }\n").refused(&["main.yaml, line 4", "did you mean `main`"]);
    card_with("steps:\n  - { id: a, do: A. }\n  - { id: a, do: B. }\n")
        .refused(&["duplicate-step", "main.yaml, line 5"]);
    card_with("steps:\n  - { id: a, do: A., gaet: { must: true } }\n").refused(&["unknown-key", "did you mean `gate`"]);
    card_with("steps:\n  - id: a\n    do: A.\n    gate: { must: \"spec.heat <\" }\n").refused(&["main.yaml, line 6"]);
    card_with("steps:\n  - id: a\n    do: A.\n    gate:\n      must: >\n        spec.heat\n        < 30.degC\n")
        .refused(&["folded-block"]);
    card_with("steps:\n  - { id: a, compute: { sheet: no-such, gives: x } }\n").refused(&["no sheet `no-such`"]);
    card_with("steps:\n  - { id: a, read: { in: { is: count, ask: How many? } } }\n")
        .refused(&["reserved-name", "`in`"]);
    card_with("steps:\n  - { id: a, read: { x: { is: temprature } } }\n").refused(&["did you mean `temperature`"]);
    card_with("steps:\n  - { id: a, do: A., gate: { must: eval(\"1\") } }\n").refused(&["main.yaml, line 4", "eval"]);
}

#[test]
fn a_script_that_is_missing_never_ends_or_eats_memory_gives_no_result_and_no_hang() {
    // With a way out that is never taken: a loop without one is refused before anything runs.
    let bodies = [
        None,
        Some("fn run(inputs) { let n = 0; loop { n += 1; if n < 0 { break; } } #{ x: n } }"),
        Some("fn run(inputs) { let t = \"x\"; loop { t += t; if t == \"\" { break; } } #{ x: 1 } }"),
    ];
    for body in bodies {
        let folder = TempDir::new().unwrap();
        plugin(
            folder.path(),
            "lamp",
            "steps:\n  - { id: a, compute: { sheet: grow, with: {}, gives: x } }\n  - { id: b, do: B. }\n",
        );
        fs::write(
            folder.path().join("lamp/sheets/grow.yaml"),
            "sheet: grow\ntitle: G\nscript: grow::run\nsources: [none]\noutputs: { x: { is: count } }\n",
        )
        .unwrap();
        if let Some(body) = body {
            fs::write(folder.path().join("lamp/scripts/grow.rhai"), body).unwrap();
        }
        fs::write(
            folder.path().join("answers.yaml"),
            "answers: a\nlist:\n  - { step: b, at: \"2026-11-25T08:00:00\", by: ann, enter: done }\n",
        )
        .unwrap();
        let ran = standpipe(
            &["run", "job.yaml", "--answers", "answers.yaml", "--plugins", "lamp", "--format", "json"],
            folder.path(),
        );
        assert!([0, 1, 2].contains(&ran.code), "{}{}", ran.out, ran.err);
        assert!(!ran.err.contains("panicked"), "{}", ran.err);
        let all = format!("{}{}", ran.out, ran.err);
        if body.is_none() {
            assert_eq!(ran.code, 2, "{all}");
            assert!(all.contains("grow"), "{all}");
        } else {
            assert!(all.contains("the script was stopped"), "{all}");
            assert!(!all.contains("\"x\": 0"), "no result is made up");
        }
    }
}

#[test]
fn two_plugins_with_one_id_and_a_faulty_plugin_beside_a_sound_one() {
    let folder = TempDir::new().unwrap();
    plugin(folder.path(), "lamp", "steps:\n  - { id: a, do: A. }\n");
    let other = folder.path().join("other");
    fs::create_dir(&other).unwrap();
    plugin(&other, "lamp", "steps:\n  - { id: a, do: A. }\n");
    let ran = standpipe(&["card", "job.yaml", "--plugins", "lamp", "--plugins", "other/lamp"], folder.path());
    ran.refused(&["duplicate-plugin", "lamp"]);
    // Only what needs the faulty one is stopped.
    fs::write(other.join("lamp/plugin.yaml"), "plugin: [").unwrap();
    fs::rename(other.join("lamp"), other.join("broken")).unwrap();
    let ran = standpipe(&["show", "plugin", "--plugins", "lamp", "--plugins", "other/broken"], folder.path());
    assert_eq!(ran.code, 0, "{}", ran.err);
    ran.says(&["broken/plugin.yaml"]);
    assert!(ran.out.contains("lamp"));
}

/// A finished job of the example workshop in a folder of its own.
fn finished(folder: &Path) -> PathBuf {
    let journal = folder.join("journal");
    let (job, answers) = example("plover-pickup");
    let ran = standpipe(&["run", &job, "--answers", &answers, "--journal", journal.to_str().unwrap()], folder);
    assert_eq!(ran.code, 0, "{}", ran.err);
    journal
}

fn example(name: &str) -> (String, String) {
    let of = |kind: &str| root().join(format!("examples/{kind}/{name}.yaml")).display().to_string();
    (of("jobs"), of("answers"))
}

#[test]
fn journals_that_do_not_fit() {
    let folder = TempDir::new().unwrap();
    let journal = finished(folder.path());
    let (job, answers) = example("heron-van");
    let at = journal.to_str().unwrap();
    standpipe(&["run", &job, "--answers", &answers, "--journal", at], folder.path())
        .refused(&["broken-journal", "2026-1104"]);
    standpipe(&["report", folder.path().to_str().unwrap()], folder.path()).refused(&["no journal"]);
    // A changed byte is found, and the record says so.
    let lines = journal.join("journal.jsonl");
    let text = fs::read_to_string(&lines).unwrap();
    fs::write(&lines, text.replacen("14.1 degC", "14.2 degC", 1)).unwrap();
    let ran = standpipe(&["report", at], folder.path());
    assert_eq!(ran.code, 1, "{}", ran.err);
    ran.says(&["broken-journal", "journal.jsonl"]);
}

#[test]
fn a_folder_that_can_not_be_written() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("file"), "").unwrap();
    let (job, answers) = example("heron-van");
    standpipe(&["run", &job, "--answers", &answers, "--journal", "file/journal"], folder.path())
        .refused(&["file/journal", "can't be"]);
}

#[test]
fn answers_out_of_order_left_over_or_misspelt() {
    let folder = TempDir::new().unwrap();
    plugin(
        folder.path(),
        "lamp",
        "steps:\n  - { id: a, do: A. }\n  - { id: b, read: { n: { is: count, ask: How many? } } }\n",
    );
    let answers = |list: &str, name: &str| {
        fs::write(folder.path().join("answers.yaml"), format!("answers: a\nlist:\n{list}")).unwrap();
        standpipe(
            &["run", "job.yaml", "--answers", "answers.yaml", "--plugins", "lamp", "--journal", name],
            folder.path(),
        )
    };
    let a = "  - { step: a, at: \"2026-11-25T08:00:00\", by: ann, enter: done }\n";
    let b = "  - { step: b, at: \"2026-11-25T08:01:00\", by: ann, enter: { n: 3 } }\n";
    answers(&format!("{b}{a}"), "one").refused(&["answers.yaml, line 3", "unfit-answer", "`a` is asked"]);
    answers(&format!("{a}{}", b.replace("n: 3", "m: 3")), "two").refused(&["answers.yaml, line 4", "`m`"]);
    answers(&format!("{a}{}", b.replace("n: 3", "n: three")), "three")
        .refused(&["answers.yaml, line 4", "a whole number"]);
    answers(&format!("{a}{}", b.replace("08:01", "07:01")), "four").refused(&["answers.yaml, line 4", "time-reversed"]);
    answers(&format!("{a}{b}{}", b.replace("08:01", "08:02")), "five")
        .refused(&["answers.yaml, line 5", "answers-left-over"]);
    let ran = answers(a, "six");
    assert_eq!(ran.code, 3, "{}", ran.err);
    // What was right before the fault stands in the journal.
    assert!(fs::read_to_string(folder.path().join("two/journal.jsonl")).unwrap().contains("\"address\":\"a\""));
}

#[test]
fn arguments_that_are_wrong() {
    let folder = TempDir::new().unwrap();
    standpipe(&["convert", "7 lbf·ft", "L"], folder.path()).refused(&["in UNIT"]);
    standpipe(&["convert", "7 lbf-ftt", "N·m"], folder.path()).refused(&["in QUANTITY", "did you mean"]);
    standpipe(&["convert", "nan degC", "K"], folder.path()).refused(&["in QUANTITY"]);
    standpipe(&["show", "famly"], folder.path()).refused(&["did you mean `family`"]);
    standpipe(&["show", "family", "herom"], folder.path()).refused(&["did you mean `heron`"]);
    standpipe(&["shwo"], folder.path()).refused(&["show"]);
    standpipe(&["run", "job.yaml"], folder.path()).refused(&["job.yaml"]);
    standpipe(&["new", "job", "../x", "--family", "heron"], folder.path()).refused(&["can't be the number"]);
}

#[test]
fn the_help_of_a_command_offers_the_formats_that_it_takes_and_no_others() {
    let folder = TempDir::new().unwrap();
    let help = standpipe(&["--help"], folder.path()).out;
    let list = help.split("Commands:").nth(1).unwrap().split("Options:").next().unwrap();
    let commands: Vec<&str> = list
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() > 10, "{help}");
    for command in commands {
        let help = standpipe(&[command, "-h"], folder.path()).out;
        let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
        let format = &help[help.find("--format <FORMAT>").unwrap()..];
        let offered = format.split("[possible values: ").nth(1).unwrap().split(']').next().unwrap();
        let offered: Vec<&str> = offered.split(", ").collect();
        assert!(offered.starts_with(&["human"]) && offered.contains(&"json"), "{command}: {offered:?}");
        for format in ["human", "json", "short", "junit", "csv", "html"] {
            // Whatever else these arguments lack: only a format that is not offered is refused as one.
            let ran = match command {
                "new" => standpipe(&["new", "form", "one", "--format", format], folder.path()),
                "completions" => standpipe(&["completions", "bash", "--format", format], folder.path()),
                "archive" => standpipe(&["archive", "L", "--into", "there", "--format", format], folder.path()),
                "schema" => standpipe(&["schema", "sheet", "--format", format], folder.path()),
                "check" | "test" | "jobs" | "show" => standpipe(&[command, "--format", format], folder.path()),
                _ => standpipe(&[command, "nothing", "L", "--format", format], folder.path()),
            };
            let refused = ran.err.contains("this command has no format");
            let unread = ran.err.contains("unexpected argument");
            assert!(unread || refused != offered.contains(&format), "{command} {format}: {offered:?}\n{}", ran.err);
        }
    }
}
