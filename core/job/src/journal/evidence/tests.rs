use super::*;
use crate::event::StreamPart;
use standpipe_diagnostic::source::Source;

fn place() -> Place {
    Place::whole(&Source::new("answers.yaml", ""))
}

#[test]
fn a_file_is_kept_under_its_hash_and_found_again() {
    let dir = tempfile::tempdir().unwrap();
    let photo = dir.path().join("späne.jpg");
    fs::write(&photo, b"abc").unwrap();
    let kept = keep(dir.path(), &photo, &place()).unwrap();
    // published: FIPS 180-4, SHA-256 of "abc"
    assert_eq!(kept.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_eq!(kept.name, "späne.jpg");
    assert_eq!(fs::read(path_of(dir.path(), &kept).unwrap()).unwrap(), b"abc");
    assert_eq!(keep(dir.path(), &photo, &place()).unwrap(), kept, "the same file again");
    assert_eq!(fs::read_dir(dir.path().join("evidence")).unwrap().count(), 1, "nothing half-written is left");
}

#[test]
fn what_is_no_evidence_is_refused_with_the_place_that_asked() {
    let dir = tempfile::tempdir().unwrap();
    let (empty, large) = (dir.path().join("empty.jpg"), dir.path().join("large.jpg"));
    fs::write(&empty, b"").unwrap();
    fs::write(&large, b"0123456789").unwrap();
    let cases = [
        (dir.path().join("missing.jpg"), Code::UnreadableFile),
        (dir.path().to_owned(), Code::UnreadableFile),
        (empty, Code::UnreadableFile),
        (large, Code::NotText),
    ];
    for (file, code) in cases {
        let problem = keep_up_to(9, dir.path(), &file, &place()).unwrap_err();
        assert_eq!((problem.code, problem.place.name()), (code, "answers.yaml"), "{}", problem.message);
    }
    let blocked = dir.path().join("empty.jpg");
    let problem = keep(&blocked, &dir.path().join("large.jpg"), &place()).unwrap_err();
    assert_eq!(problem.code, Code::Unwritable, "a folder that can't be made");
}

#[test]
fn a_hash_from_a_journal_can_not_name_another_file() {
    let evil = EvidenceRef { sha256: "../plan.json".to_owned(), name: String::new(), of: None };
    assert_eq!(path_of(Path::new("j"), &evil), None);
    for file in ["../plan.json", "/etc/hosts", "..", "a/b", "a\\b", ""] {
        let of = Some(StreamPart { file: file.to_owned(), bytes: 1 });
        let evil = EvidenceRef { sha256: "0".repeat(64), name: String::new(), of };
        assert_eq!(path_of(Path::new("j"), &evil), None, "{file}");
    }
}

#[test]
fn the_beginning_of_a_stream_holds_however_long_it_grows() {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir(dir.path().join(STREAMS)).unwrap();
    let file = dir.path().join(STREAMS).join("rows.csv");
    // published: FIPS 180-4, SHA-256 of "abc"
    let sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad".to_owned();
    let of = Some(StreamPart { file: "rows.csv".to_owned(), bytes: 3 });
    let part = EvidenceRef { sha256, name: "rows.csv".to_owned(), of };
    for (bytes, fault) in [("abc", None), ("abcd", None), ("abd", Some("changed")), ("ab", Some("cut off"))] {
        fs::write(&file, bytes).unwrap();
        match (holds(dir.path(), &part), fault) {
            (Ok(()), None) => {}
            (Err(said), Some(words)) => assert!(said.contains(words), "{bytes}: {said}"),
            (found, _) => panic!("{bytes}: {found:?}"),
        }
    }
}

#[test]
fn as_large_as_may_be_is_kept_whole_and_a_byte_more_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let kept = |length: usize| {
        let file = dir.path().join("photo.jpg");
        fs::write(&file, vec![7; length]).unwrap();
        keep_up_to(8, dir.path(), &file, &place())
    };
    let whole = path_of(dir.path(), &kept(8).unwrap()).unwrap();
    assert_eq!(fs::read(whole).unwrap(), [7; 8]);
    assert!(kept(9).unwrap_err().message.contains("too large to be kept: 9 bytes"));
}
