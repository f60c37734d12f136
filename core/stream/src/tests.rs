//! What can be relied on of a reader, and files that grow while they are followed.

use standpipe_job::said::StreamNote;
use std::fs::{File, OpenOptions, remove_file, rename};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::*;
use standpipe_job::StreamStatus;

fn reading(at: f64, value: f64) -> Reading {
    Reading { at, seen: at, value }
}

/// Ten rows, one a second, each a little warmer.
fn warming(watch: &mut Watch, from: f64) {
    for second in 0..10 {
        let at = from + f64::from(second);
        assert_eq!(watch.row(reading(at, 300.0 + at / 60.0), false), None, "{at}");
    }
}

#[test]
fn a_reading_is_one_of_now_until_no_row_comes() {
    let mut watch = Watch::new(Limits::default());
    assert_eq!(watch.now(0.0), Err("no reading has come yet".to_owned()));
    warming(&mut watch, 0.0);
    assert_eq!(watch.now(9.0).unwrap().at, 9.0);
    assert_eq!((watch.tick(19.0), watch.now(19.0).is_ok()), (None, true));
    assert_eq!(watch.now(20.0), Err("no reading for 11 s".to_owned()), "before anyone has ticked");
    assert_eq!(watch.tick(20.0), Some((StreamStatus::Stale, StreamNote::NoReading(11.0))));
    assert_eq!(watch.tick(25.0), None, "said once");
    let again = watch.row(reading(42.0, 301.0), false);
    assert_eq!(again, Some((StreamStatus::Again, StreamNote::Gap(33.0))));
    assert!(watch.now(42.0).is_ok());
}

#[test]
fn a_slow_reader_is_not_stale_between_two_rows_unless_the_shop_says_so() {
    let mut slow = Watch::new(Limits::default());
    let mut strict = Watch::new(Limits { stale: Some(15.0), frozen: None });
    for row in 0..5 {
        let at = 20.0 * f64::from(row);
        slow.row(reading(at, 300.0 + at), false);
        strict.row(reading(at, 300.0 + at), false);
    }
    assert_eq!(slow.stale_after(), 60.0);
    assert!(slow.now(139.0).is_ok() && slow.now(141.0).is_err());
    assert!(strict.now(94.0).is_ok() && strict.now(96.0).is_err());
}

#[test]
fn a_reading_that_stands_still_is_frozen_and_never_one_of_now() {
    let mut watch = Watch::new(Limits { stale: None, frozen: Some(30.0) });
    warming(&mut watch, 0.0);
    let turns: Vec<Option<(StreamStatus, StreamNote)>> =
        (10..60).map(|second| watch.row(reading(f64::from(second), 309.0), false)).collect();
    assert_eq!(turns.iter().flatten().count(), 1, "{turns:?}");
    assert_eq!(turns[30], Some((StreamStatus::Frozen, StreamNote::NoChange(30.0))));
    assert_eq!(watch.now(59.0), Err("no change for 49 s".to_owned()));
    assert_eq!(watch.row(reading(60.0, 309.1), false), Some((StreamStatus::Again, StreamNote::Changes)));
    assert!(watch.now(60.0).is_ok());
}

#[test]
fn where_the_shop_says_nothing_three_minutes_without_a_change_are_frozen() {
    let mut watch = Watch::new(Limits::default());
    watch.row(reading(0.0, 300.0), false);
    for second in 1..180 {
        assert_eq!(watch.row(reading(f64::from(second), 300.0), false), None, "{second}");
    }
    assert!(watch.now(179.0).is_ok());
    let turned = watch.row(reading(180.0, 300.0), false);
    assert_eq!(turned, Some((StreamStatus::Frozen, StreamNote::NoChange(180.0))));
    assert!(watch.now(180.0).is_err());
}

#[test]
fn the_same_row_again_is_no_newer_and_a_row_from_before_is_not_taken() {
    let mut watch = Watch::new(Limits::default());
    warming(&mut watch, 0.0);
    let last = *watch.last().unwrap();
    for seen in [12.0, 15.0, 18.0, 21.0] {
        watch.row(Reading { seen, ..last }, false);
        watch.row(Reading { at: 3.0, seen, value: 999.0 }, false);
    }
    assert_eq!(watch.last(), Some(&last));
    assert!(matches!(watch.tick(21.0), Some((StreamStatus::Stale, _))), "repeating the last row keeps nothing fresh");
    assert_eq!(watch.row(Reading { at: 22.0, seen: 22.0, value: f64::NAN }, false), None);
    assert!(watch.now(22.0).is_err(), "a dash is no reading");
}

#[test]
fn what_was_there_before_tells_of_the_past_and_is_no_reading() {
    let mut watch = Watch::new(Limits::default());
    for second in 0..10 {
        watch.row(Reading { at: f64::from(second), seen: 100.0, value: 300.0 + f64::from(second) }, true);
    }
    assert_eq!(watch.now(100.0), Err("no new reading has come yet".to_owned()));
    assert_eq!(watch.recent().len(), 10);
    watch.row(Reading { at: 10.0, seen: 101.0, value: 310.0 }, false);
    assert!(watch.now(101.0).is_ok());
}

#[test]
fn a_time_that_was_held_is_covered_by_rows_or_not() {
    let mut watch = Watch::new(Limits::default());
    warming(&mut watch, 0.0);
    assert!(watch.covers(2.0, 8.0).0);
    assert_eq!(watch.covers(2.0, 40.0), (false, 31.0));
    watch.row(reading(30.0, 305.0), false);
    watch.row(reading(31.0, 305.1), false);
    assert_eq!(watch.covers(5.0, 31.0), (false, 21.0), "a gap within it");
    assert!(watch.covers(30.0, 32.0).0);
    assert!(!Watch::new(Limits::default()).covers(0.0, 1.0).0, "no row at all");
}

#[test]
fn a_time_that_began_before_the_first_row_has_a_gap_at_its_start() {
    let mut watch = Watch::new(Limits::default());
    warming(&mut watch, 100.0);
    assert_eq!(watch.covers(60.0, 108.0), (false, 40.0));
    assert!(!watch.covers(89.9, 108.0).0, "a little longer than a reading lasts");
    assert!(watch.covers(90.0, 108.0).0, "ten seconds are no gap");
    // A stream that began anew covers nothing of before.
    watch.begin_anew();
    for second in 130..139 {
        watch.row(reading(f64::from(second), 310.0 + f64::from(second)), false);
    }
    assert_eq!(watch.covers(102.0, 138.0), (false, 28.0));
}

#[test]
fn many_rows_are_thinned_for_a_sheet_and_the_last_one_stays() {
    let mut watch = Watch::new(Limits::default());
    for row in 0..20_000 {
        watch.row(reading(f64::from(row) * 0.2, 300.0 + f64::from(row) * 1e-4), false);
    }
    let recent = watch.recent();
    assert!((100..=240).contains(&recent.len()), "{}", recent.len());
    assert_eq!(recent.last(), watch.last());
    assert!(recent[0].at >= watch.last().unwrap().at - 1800.5);
}

/// A folder of its own, gone afterwards.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn file(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
}

fn append(path: &Path, text: &str) {
    let mut file = OpenOptions::new().append(true).create(true).open(path).unwrap();
    file.write_all(text.as_bytes()).unwrap();
}

/// Waits for messages until they amount to something; a limit only keeps a broken test from hanging.
fn until(following: &Following, enough: impl Fn(&[Message]) -> bool) -> Vec<Message> {
    let begun = Instant::now();
    let mut all = Vec::new();
    while !enough(&all) {
        assert!(begun.elapsed() < Duration::from_secs(60), "it never came: {all:?}");
        if let Ok(message) = following.messages.recv_timeout(Duration::from_millis(50)) {
            all.push(message);
        }
    }
    all
}

fn text(messages: &[Message]) -> String {
    let bytes = messages.iter().flat_map(|message| match message {
        Message::History(bytes) | Message::Bytes(bytes) => bytes.as_slice(),
        _ => &[],
    });
    String::from_utf8(bytes.copied().collect()).unwrap()
}

#[test]
fn a_growing_file_comes_in_the_order_in_which_it_is_written() {
    let folder = Folder::new();
    let path = folder.file("growing.csv");
    append(&path, "before\n");
    let following = follow(&Source::File(path.clone())).unwrap();
    let first = until(&following, |all| text(all) == "before\n");
    assert!(first.iter().all(|message| matches!(message, Message::History(_))), "{first:?}");
    let writer = std::thread::spawn(move || {
        for row in 0..200 {
            append(&path, &format!("row {row}\n"));
        }
    });
    let later = until(&following, |all| text(all).ends_with("row 199\n"));
    writer.join().unwrap();
    let expected: String = (0..200).map(|row| format!("row {row}\n")).collect();
    assert_eq!(text(&later), expected);
    assert!(later.iter().all(|message| matches!(message, Message::Bytes(_))));
}

#[test]
fn a_file_that_is_cut_off_or_replaced_is_read_from_its_start() {
    let folder = Folder::new();
    let path = folder.file("cut.csv");
    append(&path, "a long first line\n");
    let following = follow(&Source::File(path.clone())).unwrap();
    until(&following, |all| text(all).ends_with('\n'));
    File::create(&path).unwrap();
    let cut = until(&following, |all| all.contains(&Message::Anew));
    assert_eq!(cut.last(), Some(&Message::Anew));
    append(&path, "short\n");
    assert_eq!(text(&until(&following, |all| text(all).ends_with('\n'))), "short\n");
    // Moved aside, and another one begun under its name.
    rename(&path, folder.file("cut.csv.1")).unwrap();
    append(&path, "next\n");
    let replaced = until(&following, |all| text(all).ends_with("next\n"));
    assert_eq!(replaced.first(), Some(&Message::Anew), "{replaced:?}");
    // Gone is not over: it may come back.
    remove_file(&path).unwrap();
    append(&path, "back\n");
    until(&following, |all| text(all).ends_with("back\n"));
}

#[test]
fn a_file_that_is_not_there_is_refused() {
    let folder = Folder::new();
    assert!(follow(&Source::File(folder.file("none.csv"))).is_err());
    assert!(follow(&Source::File(folder.0.path().to_owned())).is_err());
}

#[test]
fn raw_bytes_are_kept_once_and_each_look_names_how_far_they_went() {
    let folder = Folder::new();
    let mut raw = Raw::new(folder.0.path(), "reader.csv");
    assert_eq!(raw.so_far().unwrap(), None);
    raw.write(b"a,b\n1").unwrap();
    let first = raw.so_far().unwrap().unwrap();
    raw.write(b",2\n").unwrap();
    let second = raw.so_far().unwrap().unwrap();
    let part = |kept: &standpipe_job::EvidenceRef| kept.of.clone().map(|part| (part.file, part.bytes)).unwrap();
    assert_eq!((part(&first), part(&second)), (("reader-0.csv".to_owned(), 5), ("reader-0.csv".to_owned(), 8)));
    raw.anew();
    raw.write(b"c\n").unwrap();
    let third = raw.so_far().unwrap().unwrap();
    // Another sitting leaves the files of the first alone.
    let mut later = Raw::new(folder.0.path(), "reader.csv");
    later.write(b"d\n").unwrap();
    let fourth = later.so_far().unwrap().unwrap();
    assert_eq!((part(&third).0, part(&fourth).0), ("reader-1.csv".to_owned(), "reader-2.csv".to_owned()));
    for (kept, bytes) in [(&first, "a,b\n1"), (&second, "a,b\n1,2\n"), (&third, "c\n"), (&fourth, "d\n")] {
        assert_eq!(standpipe_job::journal::evidence::holds(folder.0.path(), kept), Ok(()), "{bytes}");
        let mut found = String::new();
        let open = standpipe_job::journal::evidence::open(folder.0.path(), kept);
        std::io::Read::read_to_string(&mut open.unwrap(), &mut found).unwrap();
        assert_eq!(found, bytes);
    }
}

#[test]
fn a_time_longer_than_readings_are_kept_is_covered_only_without_a_gap() {
    let covered = |without: std::ops::Range<u32>| {
        let mut watch = Watch::new(Limits::default());
        for second in (0..=1200u32).filter(|second| !without.contains(second)) {
            let at = f64::from(second);
            watch.row(Reading { at, seen: at, value: 300.0 + at / 100.0 }, false);
        }
        watch.covers(100.0, 1200.0)
    };
    assert!(covered(0..0).0);
    let (whole, gap) = covered(400..460);
    assert!(!whole && gap > 10.0, "{gap}");
}
