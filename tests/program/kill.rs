//! A run that is killed again and again, wherever it happens to stand, loses nothing and comes to the same end.

// A test says by failing what was wrong.
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

const KILLS: u64 = 10;

fn run(journal: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("standpipe"));
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    command.current_dir(&root).args(["run", "examples/jobs/heron-van.yaml"]);
    command.args(["--answers", "examples/answers/heron-van.yaml", "--journal"]).arg(journal);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// The lines of a journal without what differs from run to run: nothing but a torn end. Lines of a batch that has no end yet are torn as
/// well: a process that is killed while it writes may leave some of them whole, and the next run moves them aside.
fn lines(journal: &Path) -> String {
    let text = std::fs::read(journal.join("journal.jsonl")).unwrap_or_default();
    let text = String::from_utf8_lossy(&text);
    let mut whole = 0;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        at += line.len();
        if line.ends_with('\n') && line.contains(r#""end":true"#) {
            whole = at;
        }
    }
    text[..whole].to_owned()
}

#[test]
fn killed_at_any_moment_it_goes_on_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let (calm, rough) = (folder.path().join("calm"), folder.path().join("rough"));
    let ended = run(&calm).status().unwrap();

    let mut kept = String::new();
    let mut kills = 0;
    while kills < KILLS {
        let mut child = run(&rough).spawn().unwrap();
        // Each run gets on before it is killed, so that the end is reached however slow the machine is; how far into the
        // writing the blow falls is left to chance.
        while child.try_wait().unwrap().is_none() && lines(&rough).len() <= kept.len() {
            sleep(Duration::from_micros(200));
        }
        sleep(Duration::from_micros(80 * kills));
        if child.try_wait().unwrap().is_some() {
            break;
        }
        child.kill().unwrap();
        child.wait().unwrap();
        kills += 1;
        let now = lines(&rough);
        assert!(now.starts_with(&kept), "kill {kills} lost or changed a line that was written before");
        kept = now;
    }
    assert!(kills >= 3, "the run was over after {kills} kills: nothing was shown");
    assert_eq!(run(&rough).status().unwrap(), ended);
    assert!(lines(&rough).starts_with(&kept));

    let entries = |journal: &Path| -> Vec<serde_json::Value> {
        let parse = |line: &str| serde_json::from_str::<serde_json::Value>(line).unwrap();
        let events = lines(journal).lines().map(parse).collect::<Vec<_>>();
        // A torn end is moved aside and said so: the one thing that an undisturbed run does not have.
        let told = events.into_iter().filter(|event| event["event"] != "recovered");
        told.map(|event| {
            serde_json::json!([
                event["event"],
                event["at"],
                event["by"],
                event["address"],
                event["values"],
                event["value"],
                event["verdict"]
            ])
        })
        .collect()
    };
    // A text is known by its token within its own job.
    let opened = |journal: &Path| {
        let text = serde_json::to_string(&entries(journal)).unwrap();
        crate::audit::bench::apart(journal)
            .iter()
            .fold(text, |text, line| text.replace(line["token"].as_str().unwrap(), line["value"].as_str().unwrap()))
    };
    assert!(entries(&calm).len() > 100);
    assert_eq!(opened(&calm), opened(&rough));
}
