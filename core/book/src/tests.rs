use std::path::Path;
use std::{fs, thread};

use tempfile::TempDir;

use super::*;

fn entry(what: What, folder: &str, of: u64) -> Entry {
    let at = "2026-11-24T08:00:00+01:00".to_owned();
    Entry {
        what,
        job: folder.to_owned(),
        folder: folder.to_owned(),
        of,
        head: "a".repeat(64),
        at,
        late: false,
        signature: None,
    }
}

/// A book of five lines.
fn book(folder: &Path) -> Book {
    let book = Book::begin(folder, "2026-11-24T07:00:00+01:00").unwrap();
    for of in 1..5 {
        book.hold().unwrap().enter(&entry(What::Opened, &format!("job-{of}"), of)).unwrap();
    }
    book
}

#[test]
fn what_is_entered_stands_there() {
    let folder = TempDir::new().unwrap();
    let book = book(folder.path());
    assert!(Book::begin(folder.path(), "").is_err(), "there is one");
    let lines = book.read().unwrap();
    assert_eq!(lines.iter().map(|line| line.seq).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
    assert_eq!(lines[3].entry, entry(What::Opened, "job-3", 3));
    assert_eq!(Book::beside(&folder.path().join("van.job")), Some(book.clone()));
    assert_eq!(Book::beside(&folder.path().join("deeper/van.job")), None);
    // A line that was never finished was told to nobody: the next one takes its place.
    let mut bytes = fs::read(book.path()).unwrap();
    bytes.extend_from_slice(b"{\"prev\":\"12");
    fs::write(book.path(), &bytes).unwrap();
    assert_eq!(book.read().unwrap(), lines);
    let next = book.hold().unwrap().enter(&entry(What::Paused, "job-1", 9)).unwrap();
    assert_eq!((next.seq, book.read().unwrap().last()), (6, Some(&next)));
}

#[test]
fn a_line_that_is_changed_left_out_doubled_or_moved_is_found() {
    let folder = TempDir::new().unwrap();
    let book = book(folder.path());
    let text = fs::read_to_string(book.path()).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let found = |lines: &[&str]| {
        fs::write(book.path(), lines.join("\n") + "\n").unwrap();
        book.read().err().map(|fault| fault.message)
    };
    assert_eq!(found(&lines), None);
    for at in 0..lines.len() {
        let mut changed = lines.clone();
        let other = lines[at].replace("job-", "jab-").replace("begun", "opened");
        changed[at] = &other;
        // The last line is vouched for by nobody here, which is what the printed hash is for.
        assert_eq!(found(&changed).is_some(), at + 1 < lines.len() || at == 0, "line {at}");
        let mut without = lines.clone();
        without.remove(at);
        assert_eq!(found(&without).is_some(), at + 1 < lines.len(), "without line {at}");
        let mut twice = lines.clone();
        twice.insert(at, lines[at]);
        assert!(found(&twice).is_some(), "line {at} twice");
        if at > 0 {
            let mut moved = lines.clone();
            moved.swap(at - 1, at);
            assert!(found(&moved).is_some(), "line {at} before the other");
        }
    }
    let spaced = lines[2].replace("\",\"", "\", \"");
    assert!(found(&[lines[0], lines[1], &spaced]).unwrap().contains("not as it was written"));
    let doubled = lines[2].replacen('{', "{\"seq\":9,", 1);
    assert!(found(&[lines[0], lines[1], &doubled]).is_some());
    assert!(found(&[""]).unwrap().contains("not a book"));
}

fn signed(folder: &str, of: u64) -> Entry {
    let signature = Signature { act: "close".to_owned(), file: "b".repeat(64) };
    Entry { signature: Some(signature), ..entry(What::Signed, folder, of) }
}

/// A book of the first format is read and gone on with; what it could not say stands in lines that say so.
#[test]
fn a_line_of_a_signature_says_its_format() {
    let folder = TempDir::new().unwrap();
    let book = Book::begin(folder.path(), "2026-11-24T07:00:00+01:00").unwrap();
    let begun = fs::read_to_string(book.path()).unwrap();
    assert!(begun.starts_with("{\"format\":2,\"prev\":\"\",\"seq\":1,"), "{begun}");
    fs::write(book.path(), begun.replace("\"format\":2,", "")).unwrap();
    book.hold().unwrap().enter(&entry(What::Opened, "job-1", 1)).unwrap();
    let line = book.hold().unwrap().enter(&signed("job-1", 7)).unwrap();
    let lines = book.read().unwrap();
    assert_eq!(lines.iter().map(Line::keeps_signatures).collect::<Vec<_>>(), [false, false, true]);
    assert_eq!((lines.last(), &lines[2].entry), (Some(&line), &signed("job-1", 7)));
    assert_eq!(extract::read(&extract::of(&book, "job-1").unwrap().0).unwrap(), lines[1..]);

    let whole = fs::read_to_string(book.path()).unwrap();
    let found = |from: &str, to: &str| {
        let at = whole.rfind(from).unwrap();
        fs::write(book.path(), format!("{}{to}{}", &whole[..at], &whole[at + from.len()..])).unwrap();
        let fault = book.read().unwrap_err();
        let held = book.hold().unwrap_err();
        assert_eq!(fault.code, held.code);
        (fault.code, fault.message.split("line 3 ").nth(1).unwrap().to_owned())
    };
    let broken = |why: &str| (Code::BrokenBook, why.to_owned());
    assert_eq!(found("\"format\":2,", ""), broken("is not a line of a book"));
    assert_eq!(found("\"format\":2,", "\"format\":1,"), broken("is not as it was written"));
    assert_eq!(found("\"signed\"", "\"paused\""), broken("is not a line of a book"));
    let newer = (Code::NewerVersion, "was written by a newer version of this program".to_owned());
    assert_eq!(found("\"format\":2,", "\"format\":3,\"more\":[],"), newer);
}

#[test]
fn the_last_line_of_what_is_closed_may_be_that_of_a_signature() {
    let folder = TempDir::new().unwrap();
    let book = book(folder.path());
    let closing = || book.closing_line("job-1").map(|line| line.seq);
    let mut seen = vec![closing()];
    for next in
        [signed("job-1", 5), entry(What::Finished, "job-1", 7), entry(What::Paused, "job-2", 2), signed("job-1", 7)]
    {
        book.hold().unwrap().enter(&next).unwrap();
        seen.push(closing());
    }
    assert_eq!(seen, [None, None, Some(7), Some(7), Some(9)]);
    assert_eq!(book.closing_line("job-1"), book.read().unwrap().pop());
    assert_eq!((book.closing_line("job-2"), book.closing_line("job")), (None, None));
}

#[test]
fn many_enter_at_once_and_each_has_a_line() {
    let folder = TempDir::new().unwrap();
    let book = Book::begin(folder.path(), "").unwrap();
    thread::scope(|scope| {
        for writer in 0..4 {
            let book = &book;
            scope.spawn(move || {
                for of in 1..11 {
                    book.hold().unwrap().enter(&entry(What::Paused, &format!("job-{writer}"), of)).unwrap();
                }
            });
        }
    });
    let lines = book.read().unwrap();
    assert_eq!(lines.len(), 41);
    for writer in 0..4 {
        let own = lines.iter().filter(|line| line.entry.folder == format!("job-{writer}"));
        assert_eq!(own.map(|line| line.entry.of).collect::<Vec<_>>(), (1..11).collect::<Vec<_>>());
    }
}

#[test]
fn what_is_no_book_is_not_written_to() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join(FILE), "a shopping list\n").unwrap();
    let book = Book::of(folder.path()).unwrap();
    assert!(book.hold().unwrap_err().message.contains("not a line of a book"));
    assert_eq!(fs::read_to_string(book.path()).unwrap(), "a shopping list\n");
    fs::remove_file(book.path()).unwrap();
    fs::create_dir(book.path()).unwrap();
    assert!(Book::of(folder.path()).unwrap().hold().is_err(), "a folder");
}

#[test]
fn an_extract_has_the_lines_of_one_folder_and_holds_them_together() {
    let folder = TempDir::new().unwrap();
    let book = book(folder.path());
    for of in [7, 8] {
        book.hold().unwrap().enter(&entry(What::Paused, "job-2", of)).unwrap();
    }
    let (bytes, count) = extract::of(&book, "job-2").unwrap();
    let lines = extract::read(&bytes).unwrap();
    assert_eq!((count, lines.iter().map(|line| line.seq).collect::<Vec<_>>()), (3, vec![3, 6, 7]));
    let all = book.read().unwrap();
    assert!(lines.iter().all(|line| all.contains(line)), "hashes and all");
    assert_eq!(extract::of(&book, "job-9").unwrap(), (Vec::new(), 0));
    assert_eq!(extract::read(b"").unwrap(), []);

    let text = String::from_utf8(bytes).unwrap();
    let found = |text: &str| extract::read(text.as_bytes()).err().map(|(line, why)| format!("{line} {why}"));
    let kept: Vec<&str> = text.lines().collect();
    // Across a gap nobody can tell; what follows at once has to.
    let gap = format!("{}\n{}\n{}\n", kept[0].replace("08:00:00", "08:00:01"), kept[1], kept[2]);
    assert_eq!(found(&gap), None);
    let changed = format!("{}\n{}\n{}\n", kept[0], kept[1].replace("08:00:00", "08:00:01"), kept[2]);
    assert_eq!(found(&changed).as_deref(), Some("3 does not follow from the line before"));
    let turned = format!("{}\n{}\n", kept[1], kept[0]);
    assert_eq!(found(&turned).as_deref(), Some("2 does not follow from the line before"));
    let other = format!("{}\n{}\n", kept[0], kept[1].replace("job-2", "job-3"));
    assert_eq!(found(&other).as_deref(), Some("2 concerns another job's folder"));
    assert!(found(&text[..text.len() - 1]).unwrap().contains("cut off"));
    assert_eq!(found(&format!("{text}\n")).as_deref(), Some("4 is not a line of a book"));
    assert_eq!(found(&text.replacen("\n", "\r\n", 1)).as_deref(), Some("1 is not as it was written"));
    // A book that does not hold gives none.
    fs::write(book.path(), &text).unwrap();
    assert!(extract::of(&book, "job-2").is_err());
}

/// Lengths of more than 127 bytes, which a request never has.
fn long(kind: u8, content: &[u8]) -> Vec<u8> {
    [&[kind, 0x82, (content.len() >> 8) as u8, content.len() as u8], content].concat()
}

/// An answer as RFC 3161 lays it out; what an authority would sign is left out.
fn answer(status: u8, hash: &[u8], time: &[u8]) -> Vec<u8> {
    use crate::der::element;
    let sha_256 = [0x60, 0x86, 0x48, 0x01, 0x65, 0x03, 0x04, 0x02, 0x01];
    let imprint = [element(0x30, &[element(6, &sha_256), vec![5, 0]].concat()), element(4, hash)].concat();
    let parts =
        [element(2, &[1]), element(6, &[0x2a, 3]), element(0x30, &imprint), element(2, &[9]), element(0x18, time)];
    let info = long(4, &long(0x30, &parts.concat()));
    let tst_info = element(6, &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x09, 0x10, 0x01, 0x04]);
    let content = long(0x30, &[tst_info, long(0xa0, &info)].concat());
    let signed = long(0x30, &[element(2, &[3]), element(0x31, &[]), content, long(0x31, &[])].concat());
    let signed_data = element(6, &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x07, 0x02]);
    let token = long(0x30, &[signed_data, long(0xa0, &signed)].concat());
    long(0x30, &[element(0x30, &element(2, &[status])), token].concat())
}

#[test]
fn an_answer_is_read_strictly() {
    use crate::stamp::{Stamp, request};
    let whole = Stamp::read(&answer(0, &[0xab; 32], b"20261129161000Z")).unwrap();
    assert_eq!((whole.hash.as_str(), whole.at.as_str()), ("ab".repeat(32).as_str(), "2026-11-29T16:10:00Z"));
    assert_eq!(Stamp::read(&answer(1, &[0xab; 32], b"20261129161000.25Z")).unwrap(), whole);
    for time in ["20261129161000", "202611291610Z", "20261129161000.Z", "2026112916100xZ", ""] {
        assert!(Stamp::read(&answer(0, &[0xab; 32], time.as_bytes())).is_err(), "{time}");
    }
    assert!(Stamp::read(&answer(2, &[0xab; 32], b"20261129161000Z")).unwrap_err().contains("refused"));
    // Cut off anywhere, or with any byte another: no panic, and nothing is read beyond its end.
    let bytes = answer(0, &[0xab; 32], b"20261129161000Z");
    for at in 0..bytes.len() {
        assert!(Stamp::read(&bytes[..at]).is_err(), "{at}");
        for other in [0, 1, 0x7f, 0x80, 0x83, 0x84, 0xff] {
            let mut bytes = bytes.clone();
            bytes[at] = other;
            let _ = Stamp::read(&bytes);
        }
    }
    assert_eq!(request("ab").or(request(&"x".repeat(64))), None);
    assert_eq!(request(&"ab".repeat(32)).unwrap().len(), 59);
}
