//! Rows on their way to a thread.

use csv::ByteRecord;

/// Cells end to end: a record for each row would be memory that one thread takes and another gives back, and the threads
/// would wait for one another over that.
#[derive(Default)]
pub(super) struct Chunk {
    bytes: Vec<u8>,
    /// Where each cell ends in `bytes`.
    ends: Vec<usize>,
    /// For each row, where it ends in `ends`, and its line in the file.
    rows: Vec<(usize, u64)>,
    /// How far the table was read for these rows.
    pub read_to: u64,
}

/// The cells of one row.
#[derive(Clone, Copy)]
pub(super) struct Cells<'a> {
    bytes: &'a [u8],
    from: usize,
    ends: &'a [usize],
}

impl Chunk {
    pub fn add(&mut self, record: &ByteRecord) {
        for cell in record {
            self.bytes.extend_from_slice(cell);
            self.ends.push(self.bytes.len());
        }
        self.rows.push((self.ends.len(), record.position().map_or(0, csv::Position::line)));
    }

    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// A row and its line.
    pub fn row(&self, row: usize) -> (Cells<'_>, u64) {
        let first = if row == 0 { 0 } else { self.rows[row - 1].0 };
        let from = if first == 0 { 0 } else { self.ends[first - 1] };
        let (end, line) = self.rows[row];
        (Cells { bytes: &self.bytes, from, ends: &self.ends[first..end] }, line)
    }
}

impl<'a> Cells<'a> {
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    pub fn get(&self, index: usize) -> Option<&'a [u8]> {
        let from = if index == 0 { self.from } else { *self.ends.get(index - 1)? };
        Some(&self.bytes[from..*self.ends.get(index)?])
    }

    pub fn iter(&self) -> impl Iterator<Item = &'a [u8]> + use<'a> {
        let (bytes, mut from) = (self.bytes, self.from);
        self.ends.iter().map(move |end| &bytes[std::mem::replace(&mut from, *end)..*end])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_any_length_come_out_as_they_went_in() {
        let rows = [vec!["a", "", "bc"], vec![], vec!["d"], vec!["", ""]];
        let mut chunk = Chunk::default();
        rows.iter().for_each(|row| chunk.add(&ByteRecord::from(row.clone())));
        assert_eq!(chunk.len(), rows.len());
        for (index, row) in rows.iter().enumerate() {
            let cells = chunk.row(index).0;
            assert_eq!(cells.iter().collect::<Vec<_>>(), row.iter().map(|cell| cell.as_bytes()).collect::<Vec<_>>());
            assert_eq!(cells.len(), row.len());
            for place in 0..4 {
                assert_eq!(cells.get(place), row.get(place).map(|cell| cell.as_bytes()), "{index} {place}");
            }
        }
    }
}
