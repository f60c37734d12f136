//! Logs: what is read does not hang on how the bytes came, and the time of rows never goes back.

use std::sync::{Arc, OnceLock};

use indexmap::IndexMap;
use standpipe::log::{Choices as Said, LogReader, Wanted, WantedColumn};
use standpipe::quantity::Units;

use super::choices::Choices;

fn wanted() -> Arc<Wanted> {
    static WANTED: OnceLock<Arc<Wanted>> = OnceLock::new();
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    let column = |quantity: Option<&str>, named: &[&str], stands_for: &[(&str, &[&str])]| WantedColumn {
        title: "wanted".to_owned(),
        quantity: quantity.map(str::to_owned),
        words: words(named),
        not: Vec::new(),
        required: quantity == Some("temperature"),
        entered: None,
        stands_for: stands_for.iter().map(|(word, cells)| ((*word).to_owned(), words(cells))).collect(),
    };
    let make = || {
        Arc::new(Wanted {
            time: ["time", "elapsed", "t"].map(str::to_owned).to_vec(),
            columns: IndexMap::from([
                ("heat".to_owned(), column(Some("temperature"), &["fluid", "temp", "heat"], &[])),
                ("speed".to_owned(), column(Some("rotational-speed"), &["speed", "rpm"], &[])),
                ("gear".to_owned(), column(None, &["gear", "state"], &[("D", &["d", "drive"]), ("P", &["p"])])),
            ]),
        })
    };
    WANTED.get_or_init(make).clone()
}

/// Everything that comes of it, to the bit.
fn read(bytes: &[u8], chunks: impl Fn(usize) -> usize) -> String {
    let mut reader = LogReader::new(wanted(), Said::default(), Units::standard());
    let (mut rows, mut last) = (Vec::new(), f64::NEG_INFINITY);
    let mut each = |row: standpipe::log::Row<'_>| {
        assert!(row.at.is_finite() && row.at >= last, "{} after {last}", row.at);
        last = row.at;
        let values: Vec<u64> = row.values.iter().map(|value| value.to_bits()).collect();
        rows.push((row.line, row.at.to_bits(), values));
    };
    let (mut at, mut number) = (0, 0);
    let mut result = Ok(());
    while at < bytes.len() && result.is_ok() {
        let end = (at + chunks(number).max(1)).min(bytes.len());
        result = reader.push(&bytes[at..end], &mut each);
        (at, number) = (end, number + 1);
    }
    let result = result.and_then(|()| reader.finish(&mut each));
    let tally = reader.tally();
    assert!(result.is_err() || tally.rows >= rows.len() as u64, "{tally:?}");
    format!("{result:?} {rows:?} {tally:?} {:?} {:?}", reader.understood(), reader.words(2))
}

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let sizes = [choices.byte(), choices.byte(), choices.byte()].map(|size| usize::from(size) * usize::from(size) / 64);
    let log = choices.rest();
    let whole = read(log, |_| usize::MAX / 2);
    let parts = read(log, |number| sizes[number % 3]);
    assert_eq!(whole, parts, "it hangs on how the bytes came");
}
