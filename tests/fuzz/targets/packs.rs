//! Packs from anybody: what is taken out is all that was in it, in the one form in which a pack is written, and nothing of it leads out
//! of its folder.

use std::path::Path;

use standpipe::pack::{Fault, unpack};

use super::choices::Choices;

/// Names that a pack may have, and some that it must not.
const NAMES: [&str; 12] = [
    "job/journal.jsonl",
    "job/plan.json",
    "job/torn-1",
    "job/stream/rows.csv",
    "job/evidence/e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "book-extract.jsonl",
    "job/../plan.json",
    "/job/plan.json",
    "job/stream/nul.csv",
    "job/Plan.json",
    "job\\plan.json",
    "job/stream/a/b",
];
const ABOUT: &str = "{\"format\":1}\n";

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    if choices.rarely(4) {
        return taken_out(choices.rest());
    }
    let mut files = vec![("pack.json".to_owned(), ABOUT.as_bytes().to_vec())];
    for _ in 0..choices.below(6) {
        files.push((choices.one(&NAMES).to_owned(), choices.bytes(40).to_vec()));
    }
    // Packs are sorted; now and then one is not.
    if !choices.rarely(8) {
        files[1..].sort();
        files.dedup_by(|one, other| one.0 == other.0);
    }
    let mut pack = zip(&files);
    for _ in 0..choices.below(3) {
        let at = choices.below(256) * pack.len() / 256;
        match choices.below(3) {
            0 => pack[at] = choices.byte(),
            1 => pack.truncate(at.max(1)),
            _ => pack.insert(at, choices.byte()),
        }
    }
    taken_out(&pack);
}

fn taken_out(bytes: &[u8]) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.zip");
    std::fs::write(&file, bytes).unwrap();
    match unpack(&file) {
        Ok(unpacked) => {
            let read = |name: &String| {
                let path = unpacked.job().join(name);
                let plain = std::fs::symlink_metadata(&path).unwrap().is_file();
                assert!(plain && path.canonicalize().unwrap().starts_with(unpacked.job().canonicalize().unwrap()));
                (format!("job/{name}"), std::fs::read(path).unwrap())
            };
            let mut files: Vec<_> = unpacked.files.iter().map(read).collect();
            files.extend(unpacked.extract.clone().map(|bytes| ("book-extract.jsonl".to_owned(), bytes)));
            files.sort();
            files.insert(0, ("pack.json".to_owned(), ABOUT.as_bytes().to_vec()));
            assert!(zip(&files) == bytes, "there is something in it that was not taken out");
        }
        Err(Fault::Disk(why)) => panic!("{why}"),
        Err(Fault::Newer | Fault::Broken(_)) => {}
    }
    let beside: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|it| it.unwrap().file_name()).collect();
    assert_eq!(beside, [Path::new("job.zip")]);
}

/// A zip of stored files, written once more from APPNOTE.TXT of PKWARE, sections 4.3.7, 4.3.12 and 4.3.16.
fn zip(files: &[(String, Vec<u8>)]) -> Vec<u8> {
    let (mut body, mut list) = (Vec::new(), Vec::new());
    for (name, bytes) in files {
        let at = u32::try_from(body.len()).unwrap();
        let (size, length) = (bytes.len() as u32, name.len() as u16);
        // Version 1.0, names in UTF-8, stored, 1 January 1980 at midnight.
        let mut common = [10u16, 1 << 11, 0, 0, 33].map(u16::to_le_bytes).concat();
        common.extend([crc(bytes), size, size].map(u32::to_le_bytes).concat());
        common.extend([length, 0].map(u16::to_le_bytes).concat());
        body.extend([b"PK\x03\x04".as_slice(), &common, name.as_bytes(), bytes].concat());
        let central = [&10u16.to_le_bytes(), common.as_slice(), &[0; 10], &at.to_le_bytes()].concat();
        list.extend([b"PK\x01\x02".as_slice(), &central, name.as_bytes()].concat());
    }
    let count = files.len() as u16;
    let mut end = b"PK\x05\x06".to_vec();
    end.extend([0, 0, count, count].map(u16::to_le_bytes).concat());
    end.extend([list.len() as u32, body.len() as u32].map(u32::to_le_bytes).concat());
    end.extend([0, 0]);
    [body, list, end].concat()
}

/// CRC-32 of ISO 3309, bit by bit.
fn crc(bytes: &[u8]) -> u32 {
    let mut sum = u32::MAX;
    for byte in bytes {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { sum >> 1 ^ 0xedb8_8320 } else { sum >> 1 };
        }
    }
    !sum
}

/// The two writers are one another's check: what the program's own tests pack is read here, and this in turn there.
#[test]
fn a_pack_that_was_written_here_is_taken_out_whole() {
    let files = [("pack.json", ABOUT), ("job/journal.jsonl", "one\n"), ("job/plan.json", "{}")];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.zip");
    std::fs::write(&file, zip(&files)).unwrap();
    assert_eq!(unpack(&file).unwrap().files, ["journal.jsonl", "plan.json"]);
    // The check value of the sum, as catalogues of such sums give it (from memory).
    assert_eq!(crc(b"123456789"), 0xcbf4_3926);
}
