use std::fs::{self, OpenOptions};
use std::path::Path;

use indexmap::IndexMap;
use tempfile::TempDir;

use super::*;
use crate::event::{Event, Origin, Witness};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Dimension, Quantity, Written};

/// It names the hash of the texts beside it.
const PLAN_TEXT: &str =
    "{\"plan\":\"für die Übung\",\"texts\":\"4f53cda18c2baa0c0354bb5f9a3ecbe5ed12ab4d8e11ba873c2f11161202b945\"}";
const TEXTS: &str = "[]";

fn record(seq: u64, event: Event) -> Record {
    let at = "2026-11-23T08:05:00+01:00".parse().unwrap();
    Record { seq, at, entered_at: None, by: "rita".to_owned(), origin: Origin::Typed, event }
}

fn opened() -> Record {
    let plan = chain::hash(PLAN_TEXT.as_bytes());
    let schema = edition::journal_schema("standpipe.plan/1");
    record(
        1,
        Event::Opened {
            schema,
            job: "2026-0417".into(),
            plan,
            tool: "0.1.0".into(),
            interpreter: standpipe_script::VERSION.into(),
        },
    )
}

fn entered(seq: u64, si: f64) -> Record {
    let reading = Quantity {
        si,
        dimension: Dimension([0, 0, 0, 1, 0]),
        point: true,
        of: Some("temperature".into()),
        written: Some(Written { value: si - 273.15, unit: "°C".into(), decimals: 1 }),
    };
    let values = IndexMap::from([
        ("oven_heat".to_owned(), Value::Quantity(reading)),
        ("colour".to_owned(), Value::Text("bräunlich \u{2028} \"quoted\" \u{1f527}".to_owned())),
        ("list".to_owned(), Value::List(vec![Value::Truth(true), Value::Number(0.1 + 0.2), Value::Unknown])),
    ]);
    record(
        seq,
        Event::Entered {
            address: "beneath[2][full/7]".parse().unwrap(),
            values,
            typed: IndexMap::from([("oven_heat".to_owned(), "38,6 °C".to_owned())]),
            with: IndexMap::new(),
            fresh_for: IndexMap::new(),
            witness: Some(Witness::By("jo".into())),
            evidence: Vec::new(),
            read: None,
            remarks: Vec::new(),
            done: true,
        },
    )
}

fn noted(seq: u64, text: &str) -> Record {
    record(seq, Event::Noted { address: None, text: text.to_owned() })
}

fn ended(seq: u64) -> Record {
    record(seq, Event::Ended { addresses: vec!["a[1]".parse().unwrap()], by: "pause".into(), at_once: true })
}

/// A journal of three batches: 1; 2 and 3; 4 to 6.
fn written() -> (TempDir, Vec<Record>) {
    let dir = tempfile::tempdir().unwrap();
    let records = vec![opened(), entered(2, 311.75), ended(3), entered(4, 312.25), noted(5, "drei"), noted(6, "vier")];
    let mut journal = Journal::create_as(dir.path(), PLAN_TEXT, TEXTS, None).unwrap();
    for batch in [0..1, 1..3, 3..6] {
        journal.append(&records[batch]).unwrap();
    }
    (dir, records)
}

fn lines(dir: &Path) -> Vec<u8> {
    fs::read(dir.join(LINES)).unwrap()
}

fn errors(dir: &Path) -> Vec<(usize, String)> {
    let contents = Journal::read(dir).unwrap();
    contents
        .problems
        .iter()
        .filter(|problem| problem.is_error())
        .map(|problem| {
            assert_eq!(problem.code, Code::BrokenJournal);
            assert!(problem.expected.is_some() && problem.help.is_some());
            (problem.place.line(), problem.message.clone())
        })
        .collect()
}

#[test]
fn what_was_appended_reads_back_bit_for_bit() {
    let (dir, records) = written();
    let contents = Journal::read(dir.path()).unwrap();
    assert_eq!(contents.records, records);
    assert_eq!(contents.ends, [1, 3, 6]);
    assert_eq!(contents.plan.plan, PLAN_TEXT);
    assert_eq!(contents.plan.texts.unwrap(), TEXTS);
    assert!(contents.problems.is_empty());
    assert_eq!(contents.seal, chain::hash(&lines(dir.path())));
}

#[test]
fn every_line_names_the_bytes_before_it_and_sums_its_own() {
    let (dir, _) = written();
    let bytes = lines(dir.path());
    let mut prev = chain::hash(PLAN_TEXT.as_bytes());
    for line in bytes.strip_suffix(b"\n").unwrap().split(|byte| *byte == b'\n') {
        let value: serde_json::Value = serde_json::from_slice(line).unwrap();
        assert_eq!(value["prev"], prev.as_str());
        let sum = format!(",\"sum\":\"{}\"}}", value["sum"].as_str().unwrap());
        let content = line.strip_suffix(sum.as_bytes()).unwrap();
        assert_eq!(value["sum"], chain::hash(content).as_str());
        prev = chain::hash(line);
    }
}

#[test]
fn a_kill_at_any_byte_of_the_last_batch_keeps_the_batches_before_and_moves_the_rest_aside() {
    let (dir, records) = written();
    let whole = lines(dir.path());
    let mut sound = 0;
    for line in whole.split_inclusive(|byte| *byte == b'\n').take(3) {
        sound += line.len();
    }
    for cut in sound..whole.len() {
        let again = tempfile::tempdir().unwrap();
        fs::write(again.path().join(PLAN), PLAN_TEXT).unwrap();
        fs::write(again.path().join(LINES), &whole[..cut]).unwrap();

        let read = Journal::read(again.path()).unwrap();
        assert_eq!(read.records, records[..3], "a reader, cut at {cut}");
        assert!(!read.problems.iter().any(Diagnostic::is_error));
        assert_eq!(read.problems.len(), usize::from(cut > sound));
        assert_eq!(lines(again.path()), &whole[..cut], "a reader changes nothing");

        let Reopened { mut journal, contents } = Journal::open(again.path()).unwrap();
        assert_eq!(contents.records[..3], records[..3], "cut at {cut}");
        if cut == sound {
            assert_eq!(contents.records.len(), 3);
            assert!(!again.path().join("torn-1").exists());
        } else {
            let event = Event::Recovered { bytes: (cut - sound) as u64, moved_to: "torn-1".into() };
            assert_eq!(contents.records[3].event, event);
            assert_eq!(contents.records.len(), 4);
            assert_eq!(fs::read(again.path().join("torn-1")).unwrap(), &whole[sound..cut]);
        }
        let next = contents.records.len() as u64 + 1;
        journal.append(&[noted(next, "weiter")]).unwrap();
        let seal = journal.seal();
        drop(journal);
        let after = Journal::read(again.path()).unwrap();
        assert!(after.problems.is_empty(), "{:?}", after.problems);
        assert_eq!((after.records.len() as u64, after.seal), (next, seal));
    }
}

#[test]
fn a_kill_while_the_first_batch_is_written_leaves_a_journal_to_begin() {
    let (dir, records) = written();
    let whole = lines(dir.path());
    let first = whole.iter().position(|byte| *byte == b'\n').unwrap();
    fs::write(dir.path().join(LINES), &whole[..first]).unwrap();
    let Reopened { mut journal, contents } = Journal::open(dir.path()).unwrap();
    assert!(contents.records.is_empty());
    journal.append(&records[..1]).unwrap();
    drop(journal);
    // The next run tells of the torn bytes, as the first one had no event to add it to.
    let contents = Journal::open(dir.path()).unwrap().contents;
    assert!(matches!(contents.records[1].event, Event::Recovered { .. }));
    assert!(Journal::read(dir.path()).unwrap().problems.is_empty());
}

#[test]
fn a_recovery_that_was_itself_interrupted_is_told_once() {
    let (dir, records) = written();
    let whole = lines(dir.path());
    let sound: usize = whole.split_inclusive(|byte| *byte == b'\n').take(3).map(<[u8]>::len).sum();
    // Ended after the bytes were moved, before they were cut off.
    fs::write(dir.path().join("torn-1"), &whole[sound..whole.len() - 5]).unwrap();
    fs::write(dir.path().join(LINES), &whole[..whole.len() - 5]).unwrap();
    let contents = Journal::open(dir.path()).unwrap().contents;
    assert_eq!(contents.records.len(), records[..3].len() + 1);
    assert!(!dir.path().join("torn-2").exists());
    // Ended after they were cut off, before the event.
    fs::write(dir.path().join(LINES), &whole[..sound]).unwrap();
    let contents = Journal::open(dir.path()).unwrap().contents;
    assert!(matches!(&contents.records[3].event, Event::Recovered { moved_to, .. } if moved_to == "torn-1"));
    assert_eq!(Journal::open(dir.path()).unwrap().contents.records.len(), 4);
}

/// Nothing is lost: what a second interruption left is kept beside what the first one did.
#[test]
fn each_interruption_keeps_its_own_bytes() {
    let (dir, _) = written();
    let whole = lines(dir.path());
    let sound: usize = whole.split_inclusive(|byte| *byte == b'\n').take(3).map(<[u8]>::len).sum();
    let torn = [&whole[sound..whole.len() - 5], &whole[sound..whole.len() - 9]];
    fs::write(dir.path().join(LINES), [&whole[..sound], torn[0]].concat()).unwrap();
    drop(Journal::open(dir.path()).unwrap());
    // As if the event that tells of the first had never reached the disk.
    fs::write(dir.path().join(LINES), [&whole[..sound], torn[1]].concat()).unwrap();
    let contents = Journal::open(dir.path()).unwrap().contents;
    for (name, bytes) in ["torn-1", "torn-2"].into_iter().zip(torn) {
        assert_eq!(fs::read(dir.path().join(name)).unwrap(), bytes, "{name}");
        let told = |record: &Record| matches!(&record.event, Event::Recovered { moved_to, bytes: told } if moved_to == name && *told == bytes.len() as u64);
        assert!(contents.records.iter().any(told), "{name}");
    }
}

#[test]
fn blocks_that_never_reached_the_disk_are_torn_too() {
    let (dir, records) = written();
    let mut bytes = lines(dir.path());
    let sound: usize = bytes.split_inclusive(|byte| *byte == b'\n').take(3).map(<[u8]>::len).sum();
    bytes[sound..sound + 200].fill(0);
    fs::write(dir.path().join(LINES), &bytes).unwrap();
    assert_eq!(Journal::open(dir.path()).unwrap().contents.records[..3], records[..3]);
    // The same in a batch that others follow is damage.
    let (dir, _) = written();
    let mut bytes = lines(dir.path());
    bytes[20..60].fill(0);
    fs::write(dir.path().join(LINES), &bytes).unwrap();
    assert_eq!(errors(dir.path())[0].0, 1);
    assert!(Journal::open(dir.path()).is_err());
    assert_eq!(lines(dir.path()), bytes, "nothing was changed");
}

#[test]
fn a_second_writer_is_kept_out_and_readers_are_not() {
    let (dir, records) = written();
    let first = Journal::open(dir.path()).unwrap().journal;
    let problems = Journal::open(dir.path()).unwrap_err();
    assert_eq!(problems[0].code, Code::JournalInUse);
    assert!(problems[0].message.contains(&format!("process {}", std::process::id())), "{}", problems[0].message);
    assert!(problems[0].help.is_some());
    assert_eq!(Journal::create_as(dir.path(), PLAN_TEXT, TEXTS, None).unwrap_err().code, Code::JournalInUse);
    assert_eq!(Journal::read(dir.path()).unwrap().records, records);
    drop(first);
    assert!(Journal::open(dir.path()).is_ok());
}

#[test]
fn any_changed_byte_of_any_line_is_found_at_its_line() {
    let (dir, _) = written();
    let whole = lines(dir.path());
    let mut line = 1;
    for index in 0..whole.len() {
        let mut bytes = whole.clone();
        // Another digit or letter: the line stays text, mostly JSON even.
        bytes[index] = match whole[index] {
            b'\n' => {
                line += 1;
                continue;
            }
            byte if byte.is_ascii_digit() => b'0' + (byte - b'0' + 1) % 10,
            byte => byte ^ 1,
        };
        if bytes[index] == b'\n' {
            continue;
        }
        let scan = scan::scan(&bytes, &chain::hash(PLAN_TEXT.as_bytes()));
        let found: Vec<usize> = scan.faults.iter().map(|fault| fault.line).collect();
        assert_eq!(found.first(), Some(&line), "byte {index}: {:?}", scan.faults);
        assert!(scan.records.len() < line);
    }
}

#[test]
fn lines_that_are_removed_swapped_added_or_repeated_break_the_chain() {
    let (dir, _) = written();
    let whole = lines(dir.path());
    let all: Vec<&[u8]> = whole.split_inclusive(|byte| *byte == b'\n').collect();
    let cases: [(&str, Vec<usize>, usize); 6] = [
        ("removed", vec![0, 2, 3, 4, 5], 2),
        ("a whole batch removed", vec![0, 3, 4, 5], 2),
        ("first removed", vec![1, 2, 3, 4, 5], 1),
        ("swapped", vec![0, 2, 1, 3, 4, 5], 2),
        ("swapped in the last batch", vec![0, 1, 2, 4, 3, 5], 4),
        ("repeated", vec![0, 1, 1, 2, 3, 4, 5], 3),
    ];
    for (what, order, line) in cases {
        let bytes: Vec<u8> = order.iter().flat_map(|index| all[*index].to_vec()).collect();
        fs::write(dir.path().join(LINES), &bytes).unwrap();
        assert_eq!(errors(dir.path()).first().map(|(line, _)| *line), Some(line), "{what}");
        assert!(Journal::open(dir.path()).is_err(), "{what}");
        assert_eq!(lines(dir.path()), bytes, "{what}: nothing was changed");
    }
}

/// Lines with other events and sums of their own that fit; each names as its predecessor what `prev` says.
fn written_anew(dir: &Path, from: usize, change: impl Fn(&mut Record), prev: impl Fn(&[u8]) -> String) {
    let whole = lines(dir);
    let mut out: Vec<u8> = Vec::new();
    let mut before = Vec::new();
    for (index, raw) in whole.split_inclusive(|byte| *byte == b'\n').enumerate() {
        let raw = raw.strip_suffix(b"\n").unwrap();
        let mut new = raw.to_vec();
        if index == from {
            let mut line = chain::decode(raw).unwrap();
            change(&mut line.record);
            let prev = if index == 0 { prev(PLAN_TEXT.as_bytes()) } else { prev(&before) };
            new = chain::encode(&prev, line.id, line.via.as_ref(), &line.record, line.end).unwrap().into_bytes();
        }
        out.extend_from_slice(&new);
        out.push(b'\n');
        before = new;
    }
    fs::write(dir.join(LINES), out).unwrap();
}

#[test]
fn a_line_written_anew_with_a_sum_of_its_own_is_found_at_the_line_after_it() {
    for changed in 1..5 {
        let (dir, records) = written();
        written_anew(dir.path(), changed, |record| record.by = "jo".to_owned(), chain::hash);
        let found = errors(dir.path());
        assert_eq!(found.first().map(|(line, _)| *line), Some(changed + 2), "{found:?}");
        assert!(found[0].1.contains("does not follow the line before it"), "{found:?}");
        assert!(Journal::read(dir.path()).unwrap().records.len() < records.len());
        assert!(Journal::open(dir.path()).is_err());
    }
}

#[test]
fn a_line_that_names_another_one_before_it_is_found_there() {
    for changed in 0..6 {
        let (dir, _) = written();
        written_anew(dir.path(), changed, |_| {}, |_| chain::hash(b"something else"));
        let found = errors(dir.path());
        assert_eq!(found.first().map(|(line, _)| *line), Some(changed + 1), "{found:?}");
        assert!(found[0].1.contains("does not follow"), "{found:?}");
        assert!(Journal::open(dir.path()).is_err());
    }
}

#[test]
fn the_journal_of_another_plan_says_so() {
    let (dir, _) = written();
    fs::write(dir.path().join(PLAN), "{}").unwrap();
    let found = errors(dir.path());
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].1.contains("another plan"));
    let problem = &Journal::open(dir.path()).unwrap_err()[0];
    assert_eq!(problem.expected.as_deref(), Some(chain::hash(b"{}").as_str()));
    assert!(problem.label.contains(&chain::hash(PLAN_TEXT.as_bytes())));
}

#[test]
fn what_is_no_journal_is_refused_and_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    assert_eq!(Journal::read(dir.path()).unwrap_err().code, Code::UnreadableFile);
    assert_eq!(Journal::open(dir.path()).unwrap_err()[0].code, Code::UnreadableFile);
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0, "nothing is made in it");
    assert_eq!(Journal::read(&dir.path().join("missing")).unwrap_err().code, Code::UnreadableFile);

    fs::write(dir.path().join(PLAN), PLAN_TEXT).unwrap();
    assert_eq!(Journal::open(dir.path()).unwrap_err()[0].code, Code::UnreadableFile, "its events are gone");
    for garbage in [&b"\x89PNG\r\n\x1a\n garbage"[..], b"hello\n", b"{}\n", b"{\"prev\":1}\nxxxx", b"\xff\xfe\n\n\n"] {
        fs::write(dir.path().join(LINES), garbage).unwrap();
        assert!(!errors(dir.path()).is_empty(), "{garbage:?}");
        assert!(Journal::open(dir.path()).is_err());
        assert_eq!(lines(dir.path()), garbage);
    }
    fs::write(dir.path().join(PLAN), b"\xff\xfe").unwrap();
    assert_eq!(Journal::read(dir.path()).unwrap_err().code, Code::BrokenJournal);
}

#[test]
fn an_event_of_another_version_is_never_taken_for_a_torn_one() {
    let (dir, _) = written();
    let mut bytes = lines(dir.path());
    let prev = last_hash(&bytes, "");
    let text = format!(
        "{{\"prev\":\"{prev}\",\"seq\":7,\"at\":\"2026-11-23T08:05:00\",\"by\":\"\",\"origin\":\"log\",\"event\":\"dreamt\",\"end\":true"
    );
    let sum = chain::hash(text.as_bytes());
    bytes.extend_from_slice(format!("{text},\"sum\":\"{sum}\"}}\n").as_bytes());
    fs::write(dir.path().join(LINES), &bytes).unwrap();
    let found = errors(dir.path());
    assert_eq!(found.len(), 1);
    assert!(found[0].0 == 7 && found[0].1.contains("not an event in the format"), "{found:?}");
    assert!(Journal::open(dir.path()).is_err());
    assert_eq!(lines(dir.path()), bytes);
}

#[test]
fn a_journal_is_made_once_in_a_folder_that_can_be_written() {
    let (dir, _) = written();
    assert_eq!(Journal::create_as(dir.path(), PLAN_TEXT, TEXTS, None).unwrap_err().code, Code::BrokenJournal);
    // Works for root as well, whom modes do not stop: a folder beneath a file.
    let problem = Journal::create_as(&dir.path().join(PLAN).join("job"), PLAN_TEXT, TEXTS, None).unwrap_err();
    assert_eq!(problem.code, Code::Unwritable);
    assert!(problem.help.is_some_and(|help| help.contains("--journal")));
    assert!(
        Journal::create_as(&dir.path().join("neu/tief/Auftrag ä"), PLAN_TEXT, TEXTS, None).is_ok(),
        "folders are made as needed"
    );
}

#[test]
fn what_can_not_be_recorded_leaves_the_journal_as_it_was() {
    let (dir, records) = written();
    let mut journal = Journal::open(dir.path()).unwrap().journal;
    let before = lines(dir.path());
    let nan = record(
        8,
        Event::Supplied {
            path: "spec.x".into(),
            value: Value::Number(f64::NAN),
            typed: String::new(),
            source: String::new(),
        },
    );
    assert_eq!(journal.append(&[noted(7, "gut"), nan]).unwrap_err().code, Code::BrokenJournal, "not a number");
    assert_eq!(journal.append(&[noted(9, "zu früh")]).unwrap_err().code, Code::BrokenJournal, "out of order");
    assert_eq!(lines(dir.path()), before);
    journal.append(&[noted(7, "gut")]).unwrap();
    drop(journal);
    assert_eq!(Journal::read(dir.path()).unwrap().records[..6], records);
}

#[test]
fn a_journal_that_others_changed_or_removed_takes_no_more_events() {
    let (dir, _) = written();
    let mut journal = Journal::open(dir.path()).unwrap().journal;
    let mut bytes = lines(dir.path());
    bytes.push(b'\n');
    fs::write(dir.path().join(LINES), &bytes).unwrap();
    assert_eq!(journal.append(&[noted(7, "x")]).unwrap_err().code, Code::BrokenJournal);
    fs::remove_file(dir.path().join(LINES)).unwrap();
    let problem = journal.append(&[noted(7, "x")]).unwrap_err();
    assert_eq!(problem.code, Code::BrokenJournal, "an entry into a file without a name is lost");
    assert!(problem.help.is_some());
}

#[test]
fn a_full_disk_loses_nothing_that_was_acknowledged() {
    // /dev/full refuses every byte; elsewhere there is nothing like it.
    let Ok(full) = OpenOptions::new().append(true).open("/dev/full") else { return };
    let (dir, records) = written();
    let mut journal = Journal::open(dir.path()).unwrap().journal;
    let before = lines(dir.path());
    let real = std::mem::replace(&mut journal.file, full);
    let problem = journal.append(&[noted(7, "verloren?")]).unwrap_err();
    assert_eq!(problem.code, Code::Unwritable);
    assert!(problem.message.contains("not recorded"), "{}", problem.message);
    assert!(problem.help.as_ref().is_some_and(|help| help.contains("room")), "{:?}", problem.help);
    assert_eq!(lines(dir.path()), before);
    // A device can't be cut, so the end is in doubt: nothing more until it is opened again.
    journal.file = real;
    assert_eq!(journal.append(&[noted(7, "x")]).unwrap_err().code, Code::BrokenJournal);
    drop(journal);
    assert_eq!(Journal::open(dir.path()).unwrap().contents.records, records);
}

#[test]
fn nothing_is_added_to_a_closed_journal() {
    let (dir, _) = written();
    let mut journal = Journal::open(dir.path()).unwrap().journal;
    journal.append(&[record(7, Event::Finished)]).unwrap();
    let seal = journal.seal();
    drop(journal);
    let mut bytes = lines(dir.path());
    let prev = last_hash(&bytes, "");
    bytes.extend_from_slice(format!("{{\"prev\":\"{prev}\",").as_bytes());
    fs::write(dir.path().join(LINES), &bytes).unwrap();
    let reopened = Journal::open(dir.path()).unwrap();
    assert_eq!(reopened.contents.records.len(), 7);
    assert_eq!(reopened.journal.seal(), seal);
    assert!(dir.path().join("torn-1").exists());
}

#[test]
fn a_journal_of_a_newer_version_is_neither_read_nor_gone_on_with() {
    let (dir, _) = written();
    let text = String::from_utf8(lines(dir.path())).unwrap();
    // Its sums and its chain may be other ones too: nothing of it is judged, nor cut off its end.
    let newer = text.replacen("standpipe.journal/1", "standpipe.journal/3", 1) + "{\"prev\":\"unfinished";
    assert_ne!(text, newer);
    fs::write(dir.path().join(LINES), &newer).unwrap();
    assert_eq!(Journal::read(dir.path()).unwrap_err().code, Code::NewerVersion);
    assert_eq!(Journal::open(dir.path()).unwrap_err()[0].code, Code::NewerVersion);
    fs::write(dir.path().join(LINES), &text).unwrap();
    let plan = r#"{"schema":"standpipe.plan/1","language":2,"scripts":1}"#;
    fs::write(dir.path().join(PLAN), plan).unwrap();
    assert_eq!(Journal::open(dir.path()).unwrap_err()[0].code, Code::NewerVersion);
    assert_eq!(lines(dir.path()), text.as_bytes(), "nothing was changed");
    assert!(!dir.path().join("torn-1").exists());
}

#[test]
fn an_event_is_read_only_as_it_would_be_written() {
    let (dir, _) = written();
    let line = String::from_utf8(lines(dir.path())).unwrap();
    let line = line.lines().nth(1).unwrap();
    let content = &line[..line.rfind(",\"sum\"").unwrap()];
    let read = |content: &str| {
        let line = format!("{content},\"sum\":\"{}\"}}", chain::hash(content.as_bytes()));
        chain::decode(line.as_bytes()).map(|line| line.record.seq)
    };
    assert_eq!(read(content), Ok(2));
    // Another version may write the digits of a number otherwise; the order of keys says nothing.
    assert_eq!(read(&content.replacen("\"seq\":2", "\"seq\": 2", 1)), Ok(2));
    for (what, by) in [
        ("\"seq\":2", "\"seq\":2,\"mood\":1"),
        ("\"seq\":2", "\"seq\":2,\"seq\":2"),
        ("\"typed\":{", "\"typed\":{\"oven_heat\":\"1\","),
        ("\"dimension\":", "\"size\":1,\"dimension\":"),
        ("\"done\":true", "\"done\":true,\"with\":{}"),
        ("2026-11-23", "1899-11-23"),
        ("2026-11-23", "-009999-11-23"),
    ] {
        assert!(content.contains(what), "{what}: {content}");
        let found = read(&content.replacen(what, by, 1));
        assert!(matches!(found, Err(chain::Unreadable::Foreign(_))), "{by}: {found:?}");
    }
}

#[test]
fn neighbours_with_the_same_texts_keep_one_file_and_each_folder_is_whole() {
    let shop = TempDir::new().unwrap();
    let folder = |name: &str| shop.path().join(name);
    for name in ["a", "b"] {
        Journal::create_as(&folder(name), PLAN_TEXT, TEXTS, None).unwrap();
    }
    let texts = |name: &str| {
        let mut files = fs::read_dir(folder(name)).unwrap().map(|entry| entry.unwrap().path());
        files.find(|path| path.file_name().unwrap().to_str().unwrap().starts_with("texts-")).unwrap()
    };
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        assert_eq!(fs::metadata(texts("a")).unwrap().ino(), fs::metadata(texts("b")).unwrap().ino());
    }
    // A neighbour that was damaged is no help to the next one.
    fs::remove_file(texts("a")).unwrap();
    fs::write(texts("b"), "[ ]").unwrap();
    Journal::create_as(&folder("c"), PLAN_TEXT, TEXTS, None).unwrap();
    assert_eq!(Journal::read(&folder("c")).unwrap().plan.texts.unwrap(), TEXTS);
    assert_eq!(Journal::read(&folder("b")).unwrap().plan.texts.unwrap_err().code, Code::BrokenJournal);
}
