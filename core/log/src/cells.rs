//! The cells of a record where they lie, without taking them apart byte by byte.

/// Finds the cells of the record that begins with `text`, and where the next one begins. None where that takes a reader of
/// delimited text: the record has not ended yet, or a cell in quotation marks is more than what stands between two of them.
#[inline(never)]
pub(super) fn split(text: &[u8], delimiter: u8, cells: &mut Vec<(usize, usize)>) -> Option<usize> {
    cells.clear();
    let mut start = 0;
    loop {
        let end = if text.get(start) == Some(&b'"') {
            let inner = &text[start + 1..];
            let length = inner.iter().position(|byte| matches!(byte, b'"' | b'\n' | b'\r'))?;
            let end = start + length + 2;
            let closed = inner[length] == b'"' && text.get(end).is_some_and(|next| ends(*next, delimiter));
            if !closed {
                return None;
            }
            cells.push((start + 1, end - 1));
            end
        } else {
            let end = start + length(&text[start..], delimiter)?;
            cells.push((start, end));
            end
        };
        start = end + 1;
        if text[end] != delimiter {
            return Some(start);
        }
    }
}

fn ends(byte: u8, delimiter: u8) -> bool {
    byte == delimiter || matches!(byte, b'\n' | b'\r')
}

const LOW: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;

/// Bytes before the first that ends a cell. Eight are looked at together: most cells are shorter.
#[inline]
fn length(text: &[u8], delimiter: u8) -> Option<usize> {
    let mut at = 0;
    while let Some(eight) = text.get(at..at + 8).and_then(|eight| eight.try_into().ok()) {
        let word = u64::from_le_bytes(eight);
        // Carries reach upwards only, so that the lowest mark is never one too many.
        let difference = word ^ (LOW * u64::from(delimiter));
        let delimiters = difference.wrapping_sub(LOW) & !difference;
        let low = word.wrapping_sub(LOW * u64::from(b'\r' + 1)) & !word;
        let found = (delimiters | low) & HIGH;
        if found != 0 {
            let end = at + found.trailing_zeros() as usize / 8;
            // A tab within a cell is as low as a line end.
            return if ends(text[end], delimiter) { Some(end) } else { by_byte(text, end, delimiter) };
        }
        at += 8;
    }
    by_byte(text, at, delimiter)
}

#[cold]
fn by_byte(text: &[u8], from: usize, delimiter: u8) -> Option<usize> {
    text.get(from..)?.iter().position(|byte| ends(*byte, delimiter)).map(|more| from + more)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> Option<(Vec<&str>, usize)> {
        let mut cells = Vec::new();
        let end = split(text.as_bytes(), b',', &mut cells)?;
        Some((cells.iter().map(|(start, end)| &text[*start..*end]).collect(), end))
    }

    #[test]
    fn cells_lie_between_delimiters_and_line_ends() {
        assert_eq!(cells("a,bc,,d\nnext"), Some((vec!["a", "bc", "", "d"], 8)));
        assert_eq!(
            cells("08:15:02.25,longer than eight,\r\n"),
            Some((vec!["08:15:02.25", "longer than eight", ""], 31))
        );
        assert_eq!(cells("\"a;b\",\"\",c\"d\n"), Some((vec!["a;b", "", "c\"d"], 13)));
        // Bytes one above and one below what ends a cell, side by side.
        assert_eq!(cells("\u{b}\t-+\u{e}\u{c}---,,\n"), Some((vec!["\u{b}\t-+\u{e}\u{c}---", "", ""], 12)));
    }

    #[test]
    fn what_is_not_complete_or_not_plain_is_left_to_others() {
        for text in
            ["", "a", "a,b", "a,", "\"a", "\"a\"", "\"a\"\"b\"\n", "\"a\"b\n", "\"a\nb\"\n", "1,2,3,4,5,6,7,8,9"]
        {
            assert_eq!(cells(text), None, "{text}");
        }
    }
}
