//! Lines of the table that comes out.

use standpipe_diagnostic::columns::is_obeyed;

/// Lines of CSV, in quotes where it takes them (RFC 4180): as the csv crate writes them, but without a look at what is known
/// to hold digits only, which is most of a long table.
pub(super) struct Lines {
    pub text: Vec<u8>,
    separator: u8,
    /// Whether the line has a cell already.
    begun: bool,
}

impl Lines {
    /// `length` is how long they may become; more is no fault.
    pub fn new(separator: u8, length: usize) -> Self {
        Self { text: Vec::with_capacity(length + length / 8), separator, begun: false }
    }

    /// A cell that holds neither separators nor quotes nor ends of lines.
    fn plain(&mut self, cell: &[u8]) {
        if self.begun {
            self.text.push(self.separator);
        }
        self.begun = true;
        self.text.extend_from_slice(cell);
    }

    /// A cell of any text. What a spreadsheet would take for a formula and carry out stays text, and what a terminal would
    /// obey becomes a space.
    pub fn cell(&mut self, cell: &[u8]) {
        let mut other = Vec::new();
        if is_formula(cell) {
            other.push(b'\'');
        }
        if !other.is_empty() || !is_harmless(cell) {
            other.extend(made_harmless(cell));
        }
        let cell = if other.is_empty() { cell } else { &other };
        if !cell.iter().any(|byte| *byte == self.separator || matches!(byte, b'"' | b'\r' | b'\n')) {
            return self.plain(cell);
        }
        self.plain(b"\"");
        for byte in cell {
            self.text.push(*byte);
            if *byte == b'"' {
                self.text.push(b'"');
            }
        }
        self.text.push(b'"');
    }

    pub fn end(&mut self) {
        self.text.push(b'\n');
        self.begun = false;
    }
}

/// A spreadsheet takes a cell that begins so for a formula. Numbers with a sign are none, with a unit behind them or not.
pub fn is_formula(cell: &[u8]) -> bool {
    match cell {
        [b'=' | b'@' | b'\t' | b'\r', ..] => true,
        [b'+' | b'-', b'0'..=b'9' | b'.', rest @ ..] => {
            rest.iter().any(|byte| matches!(byte, b'=' | b'@' | b'|' | b'!' | b'(' | b'\'' | b'"'))
        }
        [b'+' | b'-', ..] => true,
        _ => false,
    }
}

fn is_kept(c: char) -> bool {
    matches!(c, '\n' | '\r' | '\t') || !is_obeyed(c)
}

/// Text in another encoding is carried along as it is: there only what ASCII knows is a control character.
fn is_harmless(cell: &[u8]) -> bool {
    if cell.iter().all(|byte| (b' '..0x7f).contains(byte)) {
        return true;
    }
    match std::str::from_utf8(cell) {
        Ok(text) => text.chars().all(is_kept),
        Err(_) => cell.iter().all(|byte| *byte >= 0x80 || is_kept((*byte).into())),
    }
}

fn made_harmless(cell: &[u8]) -> Vec<u8> {
    match std::str::from_utf8(cell) {
        Ok(text) => text.chars().map(|c| if is_kept(c) { c } else { ' ' }).collect::<String>().into_bytes(),
        Err(_) => cell.iter().map(|byte| if *byte >= 0x80 || is_kept((*byte).into()) { *byte } else { b' ' }).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_those_of_the_csv_crate() {
        let rows = [
            ["", "", ""],
            ["7", "1.5e3", "a b"],
            ["a,b", "a;b", "a\tb"],
            ["say \"so\"", "\"", "two\nlines\r\n"],
            ["a\rb", "#", "mm²/s"],
            ["", ",", ""],
        ];
        for separator in *b",;\t" {
            let mut expected = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
            let mut lines = Lines::new(separator, 0);
            for row in rows {
                expected.write_record(row).expect("memory takes all");
                row.iter().for_each(|cell| lines.cell(cell.as_bytes()));
                lines.end();
            }
            assert_eq!(lines.text, expected.into_inner().expect("memory takes all"));
        }
    }

    #[test]
    fn no_cell_is_a_formula_or_moves_a_cursor() {
        let written = |cell: &[u8]| {
            let mut lines = Lines::new(b',', 0);
            lines.cell(cell);
            String::from_utf8_lossy(&lines.text).into_owned()
        };
        for formula in ["=cmd|x", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3+cmd|' /C calc'!D2", "\t=1", "-A1"] {
            assert!(written(formula.as_bytes()).trim_start_matches('"').starts_with('\''), "{formula}");
        }
        for number in ["-5", "+7.5e-3", "-.5", "-40 degC", "-1.2 mm²/s", "-3..5 °C", "- "] {
            let guarded = written(number.as_bytes()).starts_with('\'');
            assert_eq!(guarded, number == "- ", "{number}");
        }
        assert_eq!(written("a\u{1b}[2Jb\u{9b}c\u{202E}d".as_bytes()), "a [2Jb c d");
        // In Windows-1252 the second byte is a letter; a terminal that awaits UTF-8 obeys it not.
        assert_eq!(Lines::new(b',', 0).text, b"");
        let mut lines = Lines::new(b',', 0);
        lines.cell(b"a\x9b\x1bb");
        assert_eq!(lines.text, b"a\x9b b");
    }
}
