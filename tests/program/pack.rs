//! One job as one file: it is judged as its folder is, and whatever else such a file holds is said and never done.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value as Json, json};
use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge_all, point, sha256, standpipe};
use crate::audit::fleet::fleet;

/// Exit code, and all that was said.
fn pack(job: &Path, to: &Path) -> (i32, String) {
    let output = standpipe().arg("pack").arg(job).arg("-o").arg(to).output().unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    (output.status.code().unwrap(), said)
}

/// An audit of several paths at once, with a folder for what is taken out that is empty afterwards and in no word of it.
fn audit_all(paths: &[PathBuf], more: &[&str]) -> (i32, Vec<Json>) {
    let room = TempDir::new().unwrap();
    let mut command = standpipe();
    command.env("TMPDIR", room.path()).args(["audit", "--format", "json"]).args(paths).args(more);
    let output = command.output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(!text.contains(room.path().to_str().unwrap()), "{text}");
    assert_eq!(fs::read_dir(room.path()).unwrap().count(), 0, "something was left behind");
    let json: Json = serde_json::from_str(&text).unwrap();
    (output.status.code().unwrap(), json["journals"].as_array().cloned().unwrap_or_default())
}

/// A journal of an audit without where it lay and without what only a pack has.
fn anywhere(journal: &Json) -> Json {
    let folder = journal["folder"].as_str().unwrap();
    let mut same: Json = serde_json::from_str(&journal.to_string().replace(folder, "HERE")).unwrap();
    same["points"].as_array_mut().unwrap().retain(|point| point["point"] != "pack");
    same
}

#[test]
fn a_packed_fleet_is_judged_as_its_folders_are() {
    let out = TempDir::new().unwrap();
    let mut folders: Vec<PathBuf> = fs::read_dir(fleet()).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.retain(|folder| folder.join("journal.jsonl").exists());
    folders.sort();
    assert!(folders.len() >= 12, "{folders:?}");
    let mut packs = Vec::new();
    for folder in &folders {
        let to = out.path().join(folder.file_name().unwrap()).with_extension("zip");
        let (code, said) = pack(folder, &to);
        assert_eq!(code, 0, "{said}");
        let open = folder.ends_with("dunlin-parcel") || folder.ends_with("heron-taxi");
        assert_eq!(said.contains("the job is not closed"), open, "{said}");
        packs.push(to);
    }
    let again = out.path().join("again.zip");
    assert_eq!(pack(&folders[0], &again).0, 0);
    assert!(fs::read(&again).unwrap() == fs::read(&packs[0]).unwrap(), "the same job makes the same bytes");
    let (code, of_folders) = audit_all(&folders, &[]);
    let (packed_code, of_packs) = audit_all(&packs, &[]);
    assert_eq!((code, packed_code), (1, 1));
    for ((folder, packed), pack) in of_folders.iter().zip(&of_packs).zip(&packs) {
        assert_eq!(packed["folder"], pack.to_str().unwrap());
        assert_eq!(anywhere(folder), anywhere(packed));
        assert!(point(packed, "pack")["looked_at"].as_u64().unwrap() >= 3);
    }
    // A worker of an audit takes them too, and a record is drawn from them.
    let line = json!({ "key": 7, "folder": packs[0] }).to_string();
    let output = standpipe().args(["audit", "--files-from", "-"]).write_stdin(line).output().unwrap();
    let answer: Json = serde_json::from_slice(output.stdout.split(|byte| *byte == b'\n').next().unwrap()).unwrap();
    assert_eq!((&answer["key"], &answer["verdict"]), (&7.into(), &of_folders[0]["verdict"]), "{answer}");
    for (folder, pack) in [&folders[0], folders.iter().find(|folder| folder.ends_with("heron-taxi")).unwrap()]
        .map(|folder| (folder, out.path().join(folder.file_name().unwrap()).with_extension("zip")))
    {
        let record = |path: &Path| {
            let output = standpipe().arg("report").arg(path).output().unwrap();
            (output.status.code(), String::from_utf8(output.stdout).unwrap())
        };
        assert_eq!(record(folder), record(&pack));
    }
    let table = standpipe().args(["report", "--format", "csv"]).args(&packs).output().unwrap();
    let of_folders = standpipe().args(["report", "--format", "csv"]).args(&folders).output().unwrap();
    assert_eq!(table.stdout, of_folders.stdout);
}

/// A file of a pack, as somebody else might write it.
#[derive(Clone)]
struct Entry {
    name: String,
    bytes: Vec<u8>,
    /// What its headers say otherwise: places and bytes in the local and in the central one.
    local: Vec<(usize, Vec<u8>)>,
    central: Vec<(usize, Vec<u8>)>,
}

fn file(name: &str, bytes: impl Into<Vec<u8>>) -> Entry {
    Entry { name: name.to_owned(), bytes: bytes.into(), local: Vec::new(), central: Vec::new() }
}

fn u32_at(bytes: &[u8], at: usize) -> usize {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize
}

/// The files of a pack, by their local headers.
fn files(pack: &Path) -> Vec<Entry> {
    let bytes = fs::read(pack).unwrap();
    let (mut rest, mut files) = (bytes.as_slice(), Vec::new());
    while rest.starts_with(b"PK\x03\x04") {
        let name = 30 + usize::from(rest[26]);
        let end = name + u32_at(rest, 22);
        files.push(file(std::str::from_utf8(&rest[30..name]).unwrap(), &rest[name..end]));
        rest = &rest[end..];
    }
    assert_eq!(bytes, zip(&files), "the tests write packs as the program does");
    files
}

/// CRC-32, bit by bit.
fn crc(bytes: &[u8]) -> u32 {
    let bit = |sum: u32| if sum & 1 == 1 { sum >> 1 ^ 0xEDB8_8320 } else { sum >> 1 };
    !bytes.iter().fold(!0, |sum, byte| (0..8).fold(sum ^ u32::from(*byte), |sum, _| bit(sum)))
}

fn zip(files: &[Entry]) -> Vec<u8> {
    let (mut bytes, mut list) = (Vec::new(), Vec::new());
    for file in files {
        let at = (bytes.len() as u32).to_le_bytes();
        let mut common = vec![10, 0, 0, 8, 0, 0, 0, 0, 33, 0];
        common.extend(crc(&file.bytes).to_le_bytes());
        common.extend([(file.bytes.len() as u32).to_le_bytes(); 2].concat());
        common.extend([(file.name.len() as u16).to_le_bytes(), [0, 0]].concat());
        let otherwise = |mut header: Vec<u8>, changes: &[(usize, Vec<u8>)]| {
            for (at, change) in changes {
                header[*at..at + change.len()].copy_from_slice(change);
            }
            header
        };
        bytes.extend(otherwise([b"PK\x03\x04", common.as_slice(), file.name.as_bytes()].concat(), &file.local));
        bytes.extend(&file.bytes);
        let header = [b"PK\x01\x02\x0a\0", common.as_slice(), &[0; 10], &at, file.name.as_bytes()].concat();
        list.extend(otherwise(header, &file.central));
    }
    let count = (files.len() as u16).to_le_bytes();
    let (size, at) = ((list.len() as u32).to_le_bytes(), (bytes.len() as u32).to_le_bytes());
    [bytes, list, [b"PK\x05\x06\0\0\0\0", &count[..], &count, &size, &at, &[0, 0]].concat()].concat()
}

/// A finished job of a shop that keeps a book, packed, and the hash that its record prints.
fn shop() -> (TempDir, PathBuf, PathBuf, String) {
    let folder = TempDir::new().unwrap();
    let jobs = folder.path().join("jobs");
    fs::create_dir(&jobs).unwrap();
    let book = |more: &[&str]| {
        let output = standpipe().arg("book").arg(&jobs).args(more).args(["--format", "json"]).output().unwrap();
        serde_json::from_slice::<Json>(&output.stdout).unwrap()
    };
    book(&["--begin"]);
    example("plover-pickup", &jobs.join("plover-pickup"));
    example("heron-van", &jobs.join("heron-van"));
    let hash = book(&[])["lines"].as_array().unwrap().last().unwrap()["hash"].as_str().unwrap().to_owned();
    let to = folder.path().join("van.zip");
    let (code, said) = pack(&jobs.join("heron-van"), &to);
    assert!(code == 0 && said.contains("with 3 lines of the book"), "{said}");
    (folder, jobs, to, hash)
}

type Attack = (&'static str, fn(&mut Vec<Entry>), [&'static str; 3]);

fn at<'a>(files: &'a mut [Entry], name: &str) -> &'a mut Entry {
    files.iter_mut().find(|file| file.name.starts_with(name)).unwrap()
}

fn put(files: &mut Vec<Entry>, name: &str, bytes: &[u8]) {
    files.push(file(name, bytes));
    files[1..].sort_by(|one, other| one.name.cmp(&other.name));
}

const BROKEN: &str = "does not hold";
/// What is done to the files of a pack, and the point, the verdict and words that must come of it.
const ATTACKS: &[Attack] = &[
    ("way-out", |files| put(files, "job/../../out.json", b"{}"), ["pack", BROKEN, "no pack has a file of that name"]),
    ("absolute", |files| put(files, "/tmp/standpipe-out", b"{}"), ["pack", BROKEN, "no pack has a file of that name"]),
    ("drive", |files| put(files, "C:\\out.json", b"{}"), ["pack", BROKEN, "no pack has a file of that name"]),
    ("foreign", |files| put(files, "job/start.bat", b"x"), ["pack", BROKEN, "no pack has a file of that name"]),
    ("own-book", |files| put(files, "book.jsonl", b"{}"), ["pack", BROKEN, "no pack has a file of that name"]),
    (
        "stowaway",
        |files| put(files, &format!("job/evidence/{}", "ab".repeat(32)), b"x"),
        ["pack", BROKEN, "the journal does not name it"],
    ),
    (
        "link",
        |files| {
            at(files, "job/evidence").bytes = b"/etc/passwd".to_vec();
            // Made on Unix, with the rights of a link.
            at(files, "job/evidence").central = vec![(5, vec![3]), (38, (0o120_777_u32 << 16).to_le_bytes().to_vec())];
        },
        ["pack", BROKEN, "or as a link"],
    ),
    ("doubled", |files| put(files, "job/plan.json", b"{}"), ["pack", BROKEN, "`job/plan.json` is in it twice"]),
    (
        "doubled-by-capitals",
        |files| {
            put(files, "job/stream/a.csv", b"1");
            put(files, "job/stream/A.csv", b"2");
        },
        ["pack", BROKEN, "is in it twice"],
    ),
    (
        "bomb",
        |files| {
            // A few bytes that say that they become 200 MiB.
            let grown = (200_u32 << 20).to_le_bytes().to_vec();
            let evidence = at(files, "job/evidence");
            (evidence.local, evidence.central) =
                (vec![(8, vec![8]), (22, grown.clone())], vec![(10, vec![8]), (24, grown)]);
        },
        ["pack", BROKEN, "is not stored as a pack does it"],
    ),
    (
        "bomb-of-one-file-many-times",
        |files| {
            let evidence = at(files, "job/evidence").clone();
            put(files, &format!("job/evidence/{}", "f".repeat(64)), &evidence.bytes);
            at(files, &format!("job/evidence/{}", "f".repeat(64))).central = vec![(42, vec![0, 0, 0, 0])];
        },
        ["pack", BROKEN, "does not begin where the file before it ends"],
    ),
    (
        "endless",
        |files| {
            let all = u32::MAX.to_le_bytes();
            at(files, "job/plan").central = vec![(20, [all, all].concat())];
        },
        ["pack", BROKEN, "has 4294967295 bytes, and at most"],
    ),
    (
        "two-readers",
        |files| at(files, "job/plan").local = vec![(30, b"job/plon".to_vec())],
        ["pack", BROKEN, "is not what the list at the end of the pack says"],
    ),
    (
        "damaged",
        |files| at(files, "job/plan").local = vec![(14, vec![1, 2, 3, 4])],
        ["pack", BROKEN, "is not what the list"],
    ),
    ("order", |files| files[2..4].reverse(), ["pack", BROKEN, "is not in its place"]),
    ("no-form", |files| drop(files.remove(0)), ["pack", BROKEN, "it is not a pack"]),
    (
        "no-journal",
        |files| files.retain(|file| !file.name.contains("journal")),
        ["chain of hashes", BROKEN, "journal.jsonl"],
    ),
    ("newer", |files| files[0].bytes = b"{\"format\":3}\n".to_vec(), ["version", "not shown", "a newer version"]),
    (
        "odd-form",
        |files| files[0].bytes = b"{\"format\":1, \"x\":0}\n".to_vec(),
        ["pack", BROKEN, "not as it is written"],
    ),
    (
        "evidence-exchanged",
        |files| at(files, "job/evidence").bytes = b"another photo".to_vec(),
        ["evidence", BROKEN, "it was changed"],
    ),
    ("evidence-left-out", |files| drop(files.remove(3)), ["evidence", BROKEN, "No such file"]),
    (
        "journal-changed",
        |files| {
            let journal = at(files, "job/journal");
            let text = String::from_utf8(journal.bytes.clone()).unwrap();
            journal.bytes = text.replacen("\"value\":", "\"value\":1", 1).into_bytes();
        },
        ["chain of hashes", BROKEN, "changed"],
    ),
    ("journal-forged", |files| forged(files), ["book", BROKEN, "the journal was replaced"]),
    (
        "extract-cut",
        |files| {
            let extract = at(files, "book-extract");
            let first = extract.bytes.iter().position(|byte| *byte == b'\n').unwrap();
            extract.bytes.drain(..=first);
        },
        ["book", "not shown", "opened here, and the book does not say so"],
    ),
    (
        "extract-of-another",
        |files| {
            let extract = at(files, "book-extract");
            let text = String::from_utf8(extract.bytes.clone()).unwrap();
            let last = text.rfind("\"folder\":\"heron").unwrap();
            extract.bytes = format!("{}{}", &text[..last], text[last..].replace("heron", "plover")).into_bytes();
        },
        ["book", BROKEN, "concerns another job"],
    ),
];

/// Made anew with all its hashes, as it could have been.
fn forged(files: &mut [Entry]) {
    let folder = TempDir::new().unwrap();
    for name in ["job/journal.jsonl", "job/plan.json"] {
        fs::write(folder.path().join(name.trim_start_matches("job/")), &at(files, name).bytes).unwrap();
    }
    forge_all(folder.path(), |lines| {
        lines.into_iter().map(|line| line.replace("\"origin\":\"answers\"", "\"origin\":\"typed\"")).collect()
    });
    at(files, "job/journal").bytes = fs::read(folder.path().join("journal.jsonl")).unwrap();
}

#[test]
fn whatever_is_in_a_pack_is_said_and_ends_nothing() {
    let (folder, _jobs, van, hash) = shop();
    let whole = fs::read(&van).unwrap();
    let mut packs = Vec::new();
    let mut put = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(format!("{name}.zip"));
        fs::write(&path, bytes).unwrap();
        packs.push(path);
    };
    let mut wanted = Vec::new();
    for (name, attack, want) in ATTACKS {
        let mut files = files(&van);
        attack(&mut files);
        let bytes = zip(&files);
        assert_ne!(bytes, whole, "{name}");
        put(name, &bytes);
        wanted.push((*name, *want));
    }
    let ends = ["pack", BROKEN, "it does not end as a pack does"];
    let list = u32_at(&whole, whole.len() - 6);
    let mut hidden = [&whole[..list], b"more", &whole[list..]].concat();
    let behind = hidden.len() - 6;
    hidden[behind..behind + 4].copy_from_slice(&(list as u32 + 4).to_le_bytes());
    let mut many = files(&van);
    many.extend((0..10_000).map(|number| file(&format!("job/stream/{number:05}"), "")));
    let more: [(&str, Vec<u8>, [&str; 3]); 9] = [
        ("hidden", hidden, ["pack", BROKEN, "bytes that belong to no file"]),
        ("many", zip(&many), ["pack", BROKEN, "and a pack has at most 10000"]),
        ("empty", Vec::new(), ["pack", BROKEN, "it is not a pack"]),
        ("text", b"not a pack at all, but a long enough text".to_vec(), ["pack", BROKEN, "it is not a pack"]),
        ("half", whole[..whole.len() / 2].to_vec(), ends),
        ("one-byte-less", whole[..whole.len() - 1].to_vec(), ends),
        ("added-to", [whole.as_slice(), b"x"].concat(), ends),
        ("before-it", [b"#!", whole.as_slice()].concat(), ["pack", BROKEN, "it is not a pack"]),
        ("flipped", flipped(&whole), ["pack", BROKEN, "its checksum differs"]),
    ];
    for (name, bytes, want) in more {
        put(name, &bytes);
        wanted.push((name, want));
    }
    // All of it holes, so that it takes no room here.
    let large = folder.path().join("large.zip");
    fs::File::create(&large).unwrap().set_len(1 << 31).unwrap();
    packs.push(large);
    wanted.push(("large", ["pack", BROKEN, "it has more than 2147483647 bytes"]));
    // The whole one comes last: whatever came before, it is judged as if it were alone.
    packs.push(van.clone());
    let (code, journals) = audit_all(&packs, &[]);
    assert_eq!((code, journals.len()), (1, packs.len()));
    for ((name, [of, verdict, words]), journal) in wanted.iter().zip(&journals) {
        let found = point(journal, of);
        let said = found["findings"].to_string();
        assert!(found["verdict"] == *verdict && said.contains(words), "{name}: {found}");
        assert!(journal["folder"].as_str().unwrap().ends_with(&format!("{name}.zip")));
        assert_ne!(journal["verdict"], "holds", "{name}");
    }
    assert_eq!(journals.last(), audit_all(&[van], &[]).1.first());
    assert!(!Path::new("/tmp/standpipe-out").exists());
    // A record is drawn of none that can't be read, and says why.
    let output = standpipe().arg("report").arg(folder.path().join("link.zip")).output().unwrap();
    assert!(output.status.code() == Some(2) && String::from_utf8_lossy(&output.stderr).contains("or as a link"));
    // The forger of a journal may make an extract that fits, and has no line that was printed then.
    let forged = folder.path().join("journal-forged.zip");
    let (_, journals) = audit_all(&[forged], &["--book", &hash]);
    assert_eq!(point(&journals[0], "book")["verdict"], BROKEN);
}

/// One bit of a file in the middle.
fn flipped(whole: &[u8]) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    bytes
}

#[test]
fn an_extract_is_no_book() {
    let (folder, jobs, van, hash) = shop();
    assert_eq!(point(&audit(&jobs, &["--book", &hash]).1[0], "book")["verdict"], "holds");
    let said = |more: &[&str]| {
        let (code, journals) = audit_all(std::slice::from_ref(&van), more);
        assert_eq!((code, &journals[0]["verdict"]), (0, &"not shown".into()), "never more: {journals:?}");
        let book = point(&journals[0], "book");
        assert_eq!((book["looked_at"].as_u64(), &book["verdict"]), (Some(3), &"not shown".into()));
        book["findings"].to_string()
    };
    let rest = "an extract is not the book";
    let alone = said(&[]);
    assert!(alone.contains(rest) && !alone.contains("proves"), "{alone}");
    let printed = said(&["--book", &hash]);
    assert!(printed.contains(rest) && printed.contains("the printed hash proves the journal up to event"), "{printed}");
    let findings: Vec<serde_json::Value> = serde_json::from_str(&printed).unwrap();
    let proves = findings.iter().find(|it| it["message"].as_str().unwrap().contains("proves")).unwrap();
    assert_eq!(proves["place"]["line"], 3, "the line that has the printed hash, counted from 1");
    assert!(printed.contains("3 of 3 of the lines"), "{printed}");
    let other = said(&["--book", &"0".repeat(64)]);
    assert!(other.contains(rest) && other.contains("no line of the extract has the printed hash"), "{other}");
    // Nobody else's job is handed over, and what is taken out by hand lies beside no book.
    let files = files(&van);
    assert!(!files[1].bytes.windows(6).any(|bytes| bytes == b"plover"));
    assert_eq!(sha256(files[1].bytes.split(|byte| *byte == b'\n').rev().nth(1).unwrap()), hash);
    let by_hand = folder.path().join("by-hand");
    for file in &files {
        let path = by_hand.join(&file.name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, &file.bytes).unwrap();
    }
    let journal = audit(&by_hand, &[]).1.remove(0);
    assert!(journal["verdict"] == "holds" && journal["points"].to_string().find("\"book\"").is_none(), "{journal}");
    // Without any extract, a printed hash is not shown rather than passed over.
    let without = folder.path().join("without.zip");
    let less: Vec<Entry> = files.into_iter().filter(|file| !file.name.starts_with("book")).collect();
    fs::write(&without, zip(&less)).unwrap();
    assert_eq!(audit_all(std::slice::from_ref(&without), &[]).1[0]["verdict"], "holds");
    let asked = audit_all(&[without], &["--book", &hash]).1.remove(0);
    assert!(point(&asked, "book").to_string().contains("the pack has no extract"), "{asked}");
}

#[test]
fn nothing_is_written_over_and_nothing_outside_is_packed() {
    let (folder, jobs, van, _) = shop();
    let before = fs::read(&van).unwrap();
    let job = jobs.join("heron-van");
    let (code, said) = pack(&job, &van);
    assert!(code == 2 && said.contains("already") && fs::read(&van).unwrap() == before, "{said}");
    for name in ["van", "van.pack"] {
        let to = folder.path().join(name);
        let (code, said) = pack(&job, &to);
        assert!(code == 2 && said.contains("`.zip`") && !to.exists(), "{said}");
    }
    let new = folder.path().join("new.zip");
    let (code, said) = pack(&folder.path().join("nothing"), &new);
    assert!(code == 2 && !new.exists(), "{said}");
    // Files that lie in the folder and are no part of the job stay there.
    fs::write(job.join("letter.txt"), "private").unwrap();
    assert_eq!(pack(&job, &new).0, 0);
    assert!(fs::read(&new).unwrap() == before, "a file that nothing names was packed");
    #[cfg(unix)]
    {
        let evidence = fs::read_dir(job.join("evidence")).unwrap().next().unwrap().unwrap().path();
        let outside = folder.path().join("outside");
        fs::rename(&evidence, &outside).unwrap();
        std::os::unix::fs::symlink(&outside, &evidence).unwrap();
        let to = folder.path().join("link.zip");
        let (code, said) = pack(&job, &to);
        assert!(code == 1 && said.contains("is not in the pack: it is a link"), "{said}");
        assert_eq!(files(&to).len(), files(&van).len() - 1);
    }
    // Nothing is taken from a book that does not hold.
    fs::write(jobs.join("book.jsonl"), "{}\n").unwrap();
    let to = folder.path().join("broken.zip");
    let (code, said) = pack(&job, &to);
    assert!(code == 2 && said.contains("broken-book") && !to.exists(), "{said}");
}
