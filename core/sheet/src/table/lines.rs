//! Lines of the table that comes out.

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
    pub fn plain(&mut self, cell: &[u8]) {
        if self.begun {
            self.text.push(self.separator);
        }
        self.begun = true;
        self.text.extend_from_slice(cell);
    }

    pub fn cell(&mut self, cell: &[u8]) {
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
            ["\r", "#", "mm²/s"],
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
}
