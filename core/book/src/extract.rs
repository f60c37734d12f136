//! The lines of a book that concern one job, to hand over: what stands between them concerns others and is left out.
//!
//! Each line carries the hash of the line before, of which an extract has only those that follow one another. So it shows what
//! was entered, and by a printed hash that it was; it can't show that there is no other line.

use crate::line::Line;
use crate::{Book, chain};
use standpipe_diagnostic::Diagnostic;

/// The lines of the folder of that name, as bytes, and how many they are. Errors: those of [`Book::read`].
pub fn of(book: &Book, folder: &str) -> Result<(Vec<u8>, usize), Box<Diagnostic>> {
    let lines = book.read()?;
    let (mut bytes, mut count, mut prev) = (Vec::new(), 0, "");
    for line in &lines {
        if line.entry.folder == folder {
            bytes.extend(chain::written(line.format, line.seq, prev, &line.entry).into_bytes());
            count += 1;
        }
        prev = &line.hash;
    }
    Ok((bytes, count))
}

/// Errors: number of the first line of the extract that can't stand in one book with those before it, and why.
pub fn read(bytes: &[u8]) -> Result<Vec<Line>, (u64, &'static str)> {
    let mut lines: Vec<Line> = Vec::new();
    if chain::whole(bytes).len() != bytes.len() {
        return Err((1, "or one after it was cut off"));
    }
    for (index, text) in bytes.split_inclusive(|byte| *byte == b'\n').enumerate() {
        let number = index as u64 + 1;
        let line = chain::alone(text.strip_suffix(b"\n").unwrap_or(text)).map_err(|why| (number, why))?;
        if let Some(last) = lines.last() {
            if line.seq <= last.seq || (line.seq == last.seq + 1 && line.after != last.hash) {
                return Err((number, "does not follow from the line before"));
            }
            if line.entry.folder != last.entry.folder {
                return Err((number, "concerns another job's folder"));
            }
        }
        lines.push(line.line());
    }
    Ok(lines)
}
