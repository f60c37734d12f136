use standpipe_book::{Entry, Line, What};

use crate::book::compare;
use crate::point::{At, Point, Verdict};

const JOB: &str = "T-1";

fn entry(what: What, of: u64) -> Entry {
    Entry {
        what,
        job: JOB.to_owned(),
        folder: "job".to_owned(),
        of,
        head: format!("hash of {of}"),
        at: "2026-11-23T08:00:00+01:00".to_owned(),
        late: false,
        signature: None,
    }
}

/// What the lines of a book come to beside a journal of nine events that was opened, paused and finished.
fn compared(said: Vec<Entry>) -> (Verdict, Vec<(Option<u64>, String)>) {
    let lines: Vec<Line> =
        said.into_iter().zip(11..).map(|(entry, seq)| Line { format: 1, seq, entry, hash: String::new() }).collect();
    let heads: Vec<String> = (1..=9).map(|of| format!("hash of {of}")).collect();
    let due = [entry(What::Opened, 1), entry(What::Paused, 5), entry(What::Finished, 9)];
    let mut point = Point::new("book", "journal.jsonl");
    compare(&mut point, &lines, &due, &heads, |at| At { file: "book".to_owned(), line: Some(lines[at].seq) });
    assert_eq!(point.looked_at, lines.len() as u64);
    (point.verdict, point.findings.into_iter().map(|finding| (finding.place.line, finding.message)).collect())
}

#[test]
fn a_journal_that_is_as_the_book_says_holds() {
    let said = vec![entry(What::Opened, 1), entry(What::Paused, 5), entry(What::Finished, 9)];
    assert_eq!(compared(said), (Verdict::Holds, Vec::new()));
}

#[test]
fn each_line_of_the_book_is_held_against_the_journal() {
    let (verdict, findings) = compared(vec![
        entry(What::Opened, 1),
        entry(What::Opened, 1),
        entry(What::Paused, 5),
        entry(What::Finished, 9),
    ]);
    assert_eq!((verdict, findings.len()), (Verdict::DoesNotHold, 1), "at once: {findings:?}");
    let other = |change: &dyn Fn(&mut Entry)| {
        let mut said = [entry(What::Opened, 1), entry(What::Paused, 5), entry(What::Finished, 9)];
        change(&mut said[1]);
        said.to_vec()
    };
    for (said, found) in [
        (other(&|entry| entry.head = "hash of 6".to_owned()), "that line is different now: the journal was replaced"),
        (other(&|entry| entry.job = "T-2".to_owned()), "this folder was that of `T-2`, and holds `T-1`"),
    ] {
        let (verdict, findings) = compared(said);
        assert_eq!((verdict, findings.len(), findings[0].0), (Verdict::DoesNotHold, 1, Some(12)), "{findings:?}");
        assert!(findings[0].1.contains(found), "{findings:?}");
    }
    for (more, found) in [
        (entry(What::Paused, 10), "its journal ends with event 9: it was cut off"),
        (entry(What::Opened, 1), "`T-1` was opened twice"),
    ] {
        let mut said = vec![entry(What::Opened, 1), entry(What::Paused, 5), entry(What::Finished, 9)];
        said.push(more);
        let (verdict, findings) = compared(said);
        assert_eq!((verdict, findings.len(), findings[0].0), (Verdict::DoesNotHold, 1, Some(14)), "{findings:?}");
        assert!(findings[0].1.contains(found), "{findings:?}");
    }
}

#[test]
fn what_the_book_should_say_and_does_not_is_not_shown() {
    for (said, of, found) in [
        (vec![entry(What::Opened, 1), entry(What::Finished, 9)], 5, "paused here, and the book does not say so"),
        // What was done with another event, or something else with that event, is another thing.
        (
            vec![entry(What::Opened, 1), entry(What::Paused, 4), entry(What::Finished, 9)],
            5,
            "paused here, and the book does not say so",
        ),
        (
            vec![entry(What::Opened, 1), entry(What::Paused, 5), entry(What::Abandoned, 9)],
            9,
            "finished here, and the book does not say so",
        ),
    ] {
        let (verdict, findings) = compared(said);
        assert_eq!((verdict, findings.len(), findings[0].0), (Verdict::NotShown, 1, Some(of)), "{findings:?}");
        assert!(findings[0].1.contains(found), "{findings:?}");
    }
}
