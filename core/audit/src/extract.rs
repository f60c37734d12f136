//! What a pack has of the shop's book: lines that fit the journal or not, and what they can't show.

use super::book::{compare, due_by};
use super::entered;
use super::known::Known;
use super::point::{At, Point, Verdict};
use standpipe_book::Line;
use standpipe_job::journal::Contents;
use standpipe_sign::Beside;

/// Never better than not shown: lines that were left out could say anything. None where there is no extract and no hash was printed.
///
/// `printed`: the hash of a line of the book, as a record of the shop has it.
pub(super) fn point(
    known: Option<&Known>,
    contents: &Contents,
    beside: &[Beside],
    printed: Option<&str>,
    file: &str,
) -> Option<Point> {
    let mut point = Point::new("book", file);
    let Some(known) = known else {
        printed?;
        point.find(Verdict::NotShown, None, "the pack has no extract of a book that could have the printed hash");
        return Some(point);
    };
    let here = |index: usize| At { file: file.to_owned(), line: Some(index as u64 + 1) };
    let said = match &known.said {
        Ok(said) => said,
        Err(unread) => {
            let place = At { file: file.to_owned(), line: unread.line };
            point.find_in(unread.verdict, place, unread.why.clone());
            return Some(point);
        }
    };
    let name = said.only();
    let lines = said.of(name);
    compare(&mut point, lines, &due_by(name, contents), &contents.heads, here);
    entered::compare(&mut point, said, name, (beside, &contents.heads, file), here);
    let proved = printed.and_then(|printed| lines.iter().position(|line| line.hash == printed));
    if let Some(last) = proved.map(|at| &lines[at])
        && point.verdict == Verdict::Holds
    {
        let of = last.entry.of;
        let message = format!(
            "the printed hash proves the journal up to event {of}, and {} of the lines",
            chained(lines, proved)
        );
        point.find_in(Verdict::NotShown, here(proved.unwrap_or_default()), message);
    } else if printed.is_some() && proved.is_none() {
        let message = "no line of the extract has the printed hash: it may be of another job, or this of another book";
        point.find(Verdict::NotShown, None, message);
    }
    let rest = "an extract is not the book: only the shop's folder shows that the book has these lines of this job and no others";
    point.find(Verdict::NotShown, None, rest);
    Some(point)
}

/// How many lines up to this one follow each other without a gap, and are proved with it.
fn chained(lines: &[Line], last: Option<usize>) -> String {
    let before = &lines[..last.map_or(0, |last| last + 1)];
    let gaps = before.windows(2).rev().position(|pair| pair[0].seq + 1 != pair[1].seq);
    format!("{} of {}", gaps.map_or(before.len(), |gap| gap + 1), lines.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_book::{Entry, What};

    #[test]
    fn no_line_before_a_gap_is_proved() {
        let line = |seq| {
            let entry = Entry {
                what: What::Paused,
                job: String::new(),
                folder: String::new(),
                of: seq,
                head: String::new(),
                at: String::new(),
                late: false,
                signature: None,
            };
            Line { format: 1, seq, entry, hash: String::new() }
        };
        let lines = [2, 3, 7, 8, 9, 12].map(line);
        let proved: Vec<String> = (0..lines.len()).map(|last| chained(&lines, Some(last))).collect();
        assert_eq!(proved, ["1 of 6", "2 of 6", "1 of 6", "2 of 6", "3 of 6", "1 of 6"]);
    }
}
