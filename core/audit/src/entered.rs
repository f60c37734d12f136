//! Signatures that lie beside a journal, held against those that were entered in the book.

use std::collections::HashMap;

use standpipe_book::{Line, What};
use standpipe_job::Moment;
use standpipe_sign::{Beside, FOLDER, file_hash, is_name, named, read};

use super::known::{Said, name};
use super::point::{At, Point, Verdict};

/// `folder`: what the job's folder is called in the book. `at`: where a line of it stands.
pub(super) fn compare(
    point: &mut Point,
    said: &Said,
    folder: &str,
    (beside, heads, dir): (&[Beside], &[String], &str),
    at: impl Fn(usize) -> At,
) {
    let files: HashMap<&str, Option<String>> =
        beside.iter().map(|file| (file.name.as_str(), file.bytes.as_ref().ok().map(|it| file_hash(it)))).collect();
    let lines = said.of(folder);
    let mut known: HashMap<String, Vec<(usize, &Line)>> = HashMap::new();
    for (index, line) in lines.iter().enumerate() {
        if let Some(name) = name(line) {
            known.entry(name).or_default().push((index, line));
        }
    }
    let mut known: Vec<_> = known.into_iter().collect();
    known.sort_by_key(|(_, entered)| entered[0].0);
    for (name, entered) in &known {
        let found = files.get(name.as_str());
        let is_it = |line: &Line| line.entry.signature.as_ref().map(|it| &it.file) == found.and_then(Option::as_ref);
        let renewed = entered.iter().any(|(_, line)| is_it(line));
        for (index, line) in entered.iter().filter(|(_, line)| !is_it(line)) {
            let act = line.entry.signature.as_ref().map_or("", |it| it.act.as_str());
            let of = format!("the signature of `{act}` in event {}, entered on {},", line.entry.of, line.entry.at);
            let (verdict, message) = match found {
                None => (Verdict::DoesNotHold, format!("{of} is gone")),
                Some(_) if renewed => (Verdict::NotShown, format!("{of} is gone, and another was made to replace it")),
                Some(_) => (Verdict::DoesNotHold, format!("{of} is a different file now")),
            };
            point.find_in(verdict, at(*index), message);
        }
    }
    for file in beside.iter().filter(|file| is_name(&file.name) && !known.iter().any(|(name, _)| *name == file.name)) {
        if is_of(file, heads) && is_due(file, said, lines) {
            let file = format!("{dir}/{FOLDER}/{}", file.name);
            let message = "the book does not know of this signature: it was made without it, or put there later";
            point.find_in(Verdict::NotShown, At { file, line: None }, message);
        }
    }
}

/// Of other lines it is no signature of this journal, which is said where keys are looked at.
fn is_of(file: &Beside, heads: &[String]) -> bool {
    named(&file.name).is_some_and(|(head, _)| heads.iter().any(|it| it == head))
}

/// Whether it was made since signatures are entered, by the book itself or by its own word. Of an older one a book says nothing.
fn is_due(file: &Beside, said: &Said, lines: &[Line]) -> bool {
    let Some((since, from)) = said.since else { return false };
    let opened = lines.iter().find(|line| line.entry.what == What::Opened);
    let signed: Option<Moment> = file.bytes.as_ref().ok().and_then(|bytes| Some(read(bytes).ok()?.1));
    opened.is_some_and(|line| line.seq > since) || signed.is_none_or(|at| at >= from)
}
