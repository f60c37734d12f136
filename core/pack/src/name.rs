//! Names that mean the same file on every system, and how large each may be.

use standpipe_job::journal::{LARGEST_JOURNAL, LARGEST_PLAN, LINES, LeftOut, PLAN, evidence};

use crate::{ABOUT, EXTRACT, JOB};

const LONGEST: usize = 200;

/// The most bytes that a file of this name may have; none if a pack has no such file.
pub fn most(name: &str) -> Option<u64> {
    if name.len() > LONGEST {
        return None;
    }
    match name {
        ABOUT => return Some(100),
        EXTRACT => return Some(LARGEST_PLAN),
        _ => {}
    }
    let inner = name.strip_prefix(JOB)?;
    match inner.split_once('/') {
        None if inner == LINES => Some(LARGEST_JOURNAL),
        None if inner == standpipe_apart::FILE => Some(standpipe_apart::LARGEST),
        None if inner == LeftOut::FILE => Some(LeftOut::LARGEST),
        None if inner == PLAN || is_text(inner) => Some(LARGEST_PLAN),
        None if is_torn(inner) => Some(LARGEST_JOURNAL),
        Some((standpipe_sign::FOLDER, file)) if standpipe_sign::is_name(file) => Some(standpipe_sign::LARGEST),
        Some(("evidence", hash)) if is_hex(hash, 64) => Some(evidence::LARGEST),
        Some((evidence::STREAMS, file)) if is_plain(file) => Some(evidence::LARGEST),
        _ => None,
    }
}

fn is_text(name: &str) -> bool {
    let hash = name.strip_prefix("texts-").or_else(|| name.strip_prefix("plan-"));
    hash.and_then(|rest| rest.strip_suffix(".json")).is_some_and(|hash| is_hex(hash, 16))
}

fn is_torn(name: &str) -> bool {
    let number = name.strip_prefix("torn-");
    number.is_some_and(|number| number.parse::<u32>().is_ok_and(|read| read.to_string() == number))
}

fn is_hex(text: &str, digits: usize) -> bool {
    text.len() == digits && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

/// What a reader called its file. Dots and spaces at an end are lost on some systems, and some names are devices there.
fn is_plain(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_ascii_lowercase();
    let numbered = |word: &str| stem.strip_prefix(word).is_some_and(|rest| rest.chars().count() == 1);
    let device = ["con", "prn", "aux", "nul"].contains(&stem.as_str()) || numbered("com") || numbered("lpt");
    let ends = |end: Option<char>| end.is_some_and(|end| end != '.' && end != ' ');
    let inner = |c: char| c.is_alphanumeric() || " ._-()+".contains(c);
    !device && ends(name.chars().next()) && ends(name.chars().next_back()) && name.chars().all(inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_else_has_a_place() {
        let hash = "a".repeat(64);
        for name in [
            "pack.json".to_owned(),
            "book-extract.jsonl".to_owned(),
            "job/journal.jsonl".to_owned(),
            "job/plan.json".to_owned(),
            "job/plan-0123456789abcdef.json".to_owned(),
            "job/texts-0123456789abcdef.json".to_owned(),
            "job/torn-12".to_owned(),
            "job/apart.jsonl".to_owned(),
            "job/left-out.json".to_owned(),
            format!("job/evidence/{hash}"),
            "job/stream/Probe 2 (Öl)-0.csv".to_owned(),
        ] {
            assert!(most(&name).is_some(), "{name}");
        }
        for name in [
            "",
            "/",
            "job",
            "job/",
            "/etc/passwd",
            "../job/plan.json",
            "job/../plan.json",
            "job//plan.json",
            "C:\\plan.json",
            "job\\plan.json",
            "book.jsonl",
            "job/book.jsonl",
            "job/lock",
            "job/texts-0123456789ABCDEF.json",
            "job/texts-../../../x.json",
            "job/torn-",
            "job/torn-01",
            "job/torn-+1",
            "job/evidence",
            "job/evidence/",
            "job/evidence/part",
            "job/stream/",
            "job/stream/..",
            "job/stream/a/b",
            "job/stream/.hidden",
            "job/stream/end.",
            "job/stream/end ",
            "job/stream/aux.csv",
            "job/stream/COM1",
            "job/stream/lpt9 .csv",
            "job/stream/a:b",
            "job/stream/a\0",
            "job/stream/a\u{202e}b",
            "job/stream/e\u{301}.csv",
        ] {
            assert_eq!(most(name), None, "{name:?}");
        }
        assert_eq!(most(&format!("job/stream/{}", "a".repeat(300))), None);
        assert_eq!(most(&format!("job/evidence/{}", hash.to_uppercase())), None);
    }
}
