//! A log as it is read.

use std::sync::Arc;

use indexmap::IndexMap;

use super::*;
use standpipe_quantity::Units;

fn wanted() -> Arc<Wanted> {
    let column = |title: &str, quantity: Option<&str>, words: &[&str], required| WantedColumn {
        title: title.to_owned(),
        quantity: quantity.map(str::to_owned),
        words: words.iter().map(|word| (*word).to_owned()).collect(),
        not: vec!["set point".to_owned()],
        required,
        entered: None,
        stands_for: match quantity {
            None => IndexMap::from([("low".to_owned(), vec!["l".to_owned()])]),
            Some(_) => IndexMap::new(),
        },
    };
    let columns = IndexMap::from([
        ("kiln_temperature".to_owned(), column("the kiln", Some("temperature"), &["kiln temp", "kiln"], true)),
        ("burner".to_owned(), column("the burner", None, &["burner"], false)),
    ]);
    Arc::new(Wanted { time: vec!["time".to_owned(), "elapsed".to_owned()], columns })
}

struct Got {
    rows: Vec<(f64, Vec<f64>)>,
    reader: LogReader,
    result: Result<(), Trouble>,
}

fn read_with(bytes: &[u8], choices: Choices, piece: usize) -> Got {
    let mut reader = LogReader::new(wanted(), choices, Units::standard());
    let mut rows = Vec::new();
    let mut each = |row: Row<'_>| rows.push((row.at, row.values.to_vec()));
    let mut result = Ok(());
    for chunk in bytes.chunks(piece.max(1)) {
        result = result.and_then(|()| reader.push(chunk, &mut each));
    }
    let result = result.and_then(|()| reader.finish(&mut each));
    Got { rows, reader, result }
}

fn read(text: &str) -> Got {
    read_with(text.as_bytes(), Choices::default(), 1 << 20)
}

fn celsius(got: &Got) -> Vec<f64> {
    got.rows.iter().map(|(_, values)| ((values[0] - 273.15) * 1e6).round() / 1e6).collect()
}

fn asked(got: &Got) -> Vec<&str> {
    match &got.result {
        Err(Trouble::Asked(questions)) => questions.iter().map(|question| question.option.as_str()).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_plain_log_is_understood() {
    let got = read("Time,Kiln temp [°C],Burner\n08:00:00,20.5,L\n08:00:01,21.5,low\n08:00:02,-,H\n");
    assert_eq!(got.result, Ok(()));
    assert_eq!(celsius(&got)[..2], [20.5, 21.5]);
    assert!(got.rows[2].1[0].is_nan());
    assert_eq!(got.rows.iter().map(|(at, _)| *at).collect::<Vec<_>>(), [28800.0, 28801.0, 28802.0]);
    let understood = got.reader.understood().unwrap();
    assert_eq!((understood.delimiter, understood.decimal), (b',', Some(DecimalSign::Point)));
    assert_eq!((understood.heading_line, understood.data_line), (Some(1), 2));
    assert_eq!(got.reader.words(1), ["low", "H"]);
    assert_eq!(got.rows.iter().map(|(_, values)| values[1]).collect::<Vec<_>>(), [0.0, 0.0, 1.0]);
}

#[test]
fn it_comes_out_the_same_in_pieces_of_any_size_and_in_any_encoding() {
    let text = "Export of kiln 3\nStart;08:00\n\"Time\";\"Kiln temp\";Burner\n;°C;\n\
                08:00:00;20,5;L\n08:00:01;21,5;L\n08:00:02;22,25;L\n08:00:03;23;L\n08:00:04;24,1;L\n";
    let utf16 = |big: bool| -> Vec<u8> {
        let mark = if big { vec![0xFE, 0xFF] } else { vec![0xFF, 0xFE] };
        let units = text.encode_utf16().flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() });
        mark.into_iter().chain(units).collect()
    };
    let latin: Vec<u8> = text.chars().map(|letter| letter as u8).collect();
    let marked = [&[0xEF, 0xBB, 0xBF], text.as_bytes()].concat();
    let forms = [
        (text.as_bytes().to_vec(), Encoding::Utf8),
        (marked, Encoding::Utf8),
        (utf16(false), Encoding::Utf16Le),
        (utf16(true), Encoding::Utf16Be),
        (latin, Encoding::Latin1),
    ];
    for (bytes, encoding) in forms {
        for piece in [1, 2, 3, 7, 64, 10_000] {
            let got = read_with(&bytes, Choices::default(), piece);
            assert_eq!(got.result, Ok(()), "{encoding:?} in pieces of {piece}");
            assert_eq!(celsius(&got), [20.5, 21.5, 22.25, 23.0, 24.1]);
            let understood = got.reader.understood().unwrap();
            assert_eq!(understood.encoding, encoding);
            assert_eq!((understood.preamble, understood.units_line), (2, Some(4)));
        }
    }
}

#[test]
fn what_is_open_is_asked_and_not_guessed() {
    let two = read("Time,Kiln left [°C],Kiln right [°C]\n08:00:00,20.5,20.5\n08:00:01,20.5,20.5\n");
    assert_eq!(asked(&two), ["--column kiln_temperature=COLUMN"]);
    let unit = read("Time,Kiln\n08:00:00,20.5\n08:00:01,20.5\n");
    assert_eq!(asked(&unit), ["--unit kiln_temperature=UNIT"]);
    let sign = read("Time;Kiln [°C]\n08:00:00;1,250\n08:00:01;1,251\n");
    assert_eq!(asked(&sign), ["--decimal SIGN"]);
    let late = read(&format!("Time;Kiln [°C]\n{}08:01:00;1,250\n", "08:00:00;20\n".repeat(20_000)));
    assert_eq!(asked(&late), ["--decimal SIGN"]);
    let clock = read("Time,Kiln [°C]\n00:00:01,20.5\n00:00:02,20.5\n");
    assert_eq!(asked(&clock), ["--time FORM"]);
    let elapsed = read("Time,Kiln [°C]\n0,20.5\n1,20.5\n");
    assert_eq!(asked(&elapsed), ["--unit time=UNIT"]);
    let words = read("Time [s],Kiln [°C],Burner\n0,20.5,1\n1,20.5,2\n");
    assert_eq!(asked(&words), ["--word burner.NUMBER=WORD"]);
}

#[test]
fn what_was_said_is_not_asked() {
    let choices = Choices {
        columns: IndexMap::from([("kiln_temperature".to_owned(), "#3".to_owned())]),
        units: IndexMap::from([
            ("kiln_temperature".to_owned(), "degF".to_owned()),
            ("time".to_owned(), "ms".to_owned()),
        ]),
        ..Choices::default()
    };
    let got = read_with(b"Time,Kiln,Kiln\n0,1,212\n500,1,32\n", choices, 100);
    assert_eq!(got.result, Ok(()));
    assert_eq!(celsius(&got), [100.0, 0.0]);
    assert_eq!(got.rows[1].0, 0.5);
}

#[test]
fn a_cut_last_line_is_left_out() {
    let got = read("Time,Kiln [°C]\n08:00:00,20.5\n08:00:01,38.5\n08:00:02,3");
    assert_eq!(celsius(&got), [20.5, 38.5]);
    assert!(got.reader.tally().torn);
}

#[test]
fn what_does_not_fit_is_counted_with_its_line() {
    let got = read(
        "Time,Kiln [°C]\n08:00:00,20.5\n08:00:01,21\n08:00:02,22\n08:00:03,23\n08:00:02,99\nx,1\n1,2,3\n08:00:05,hot\n",
    );
    let tally = got.reader.tally();
    assert_eq!((tally.backwards, tally.back_by), (First { count: 1, line: 6 }, 1.0));
    assert_eq!(tally.timeless, First { count: 1, line: 7 });
    assert_eq!(tally.odd, First { count: 1, line: 8 });
    assert_eq!(tally.unreadable[0], First { count: 1, line: 9 });
    assert_eq!(tally.rows, 5);
}

#[test]
fn a_stream_settles_on_its_first_rows() {
    let mut reader = LogReader::new(wanted(), Choices::default(), Units::standard());
    let mut rows = Vec::new();
    let mut each = |row: Row<'_>| rows.push(row.at);
    for line in ["Time,Kiln [°C]\n", "08:00:00,20\n", "08:00:01,21\n", "08:00:02,2"] {
        reader.push(line.as_bytes(), &mut each).unwrap();
        assert_eq!(reader.settle(&mut each), Ok(false));
    }
    reader.push(b"2\n08:00:03,23\n", &mut each).unwrap();
    assert_eq!(reader.settle(&mut each), Ok(true));
    reader.push(b"08:00:04,24\n", &mut each).unwrap();
    assert_eq!(rows.len(), 5);
}

#[test]
fn commas_between_cells_and_within_numbers_are_refused() {
    let got = read("Time,Kiln [°C],Bay [°C]\n08:00:00,20,5,18,5\n08:00:01,20,5,18,5\n");
    assert!(matches!(got.result, Err(Trouble::Unusable { .. }) | Err(Trouble::Asked(_))), "{:?}", got.result);
}
