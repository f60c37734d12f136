//! A log read beside a plain read of the same bytes, in one run: `cargo bench --bench log`.
//!
//! The plain read takes every record of the file with the csv crate and does nothing with it. Megabytes can be set, as in
//! `cargo bench --bench log -- --megabytes 400`; `--write FILE` leaves the log there, to be read by the program.
//! Without `--bench`, as `cargo test` calls it, everything is run once and small.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;

use standpipe::diagnostic::Problems;
use standpipe::library::{Files, Kind};
use standpipe::log::{Choices, Collected, Description, LogReader};
use standpipe::plan::Parsed;

/// A long warm-up, ten rows a second.
fn log(bytes: usize, decimal: char) -> String {
    let between = if decimal == ',' { ';' } else { ',' };
    let mut text = String::with_capacity(bytes + 200);
    text.push_str(
        &["Time", "Sump temp [°C]", "Bay temp [°C]", "Coolant temp [°C]", "Engine speed [rpm]", "Selector"]
            .join(&between.to_string()),
    );
    text.push('\n');
    let mut noise: u32 = 1;
    let mut at = 0u64;
    while text.len() < bytes {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let wave = (at as f64 / 9_000.0).sin() * 20.0 + 45.0 + f64::from(noise >> 24) / 1_000.0;
        let (hours, minutes, seconds, tenth) = ((at / 36_000 + 8) % 24, at / 600 % 60, at / 10 % 60, at % 10);
        let row = format!(
            "{hours:02}:{minutes:02}:{seconds:02}.{tenth}|{wave:.1}|19.2|{:.1}|{}|D\n",
            wave + 30.0,
            700 + (noise >> 28)
        );
        for letter in row.chars() {
            text.push(match letter {
                '|' => between,
                '.' => decimal,
                other => other,
            });
        }
        at += 1;
    }
    text
}

fn best(times: usize, mut run: impl FnMut() -> u64) -> f64 {
    (0..times)
        .map(|_| {
            let started = Instant::now();
            black_box(run());
            started.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let after = |option: &str| arguments.iter().position(|one| one == option).and_then(|at| arguments.get(at + 1));
    let timed = arguments.iter().any(|one| one == "--bench");
    let megabytes = after("--megabytes").and_then(|text| text.parse().ok()).unwrap_or(64.0);
    let (bytes, times) = if timed { ((megabytes * 1e6) as usize, 3) } else { (200_000, 1) };
    if let Some(file) = after("--write") {
        std::fs::write(file, log(bytes, '.')).unwrap();
        return;
    }
    let mut problems = Problems::new();
    let parsed = Parsed::new(Files::built_in(), &mut problems);
    let document = parsed.library.documents(Kind::Log).next().unwrap();
    let description = Description::read(&document.source, &parsed.units, &mut problems).unwrap();
    let mut report = String::new();
    for (words, decimal) in [("decimal point, commas", '.'), ("decimal comma, semicolons", ',')] {
        let text = log(bytes, decimal);
        let size = text.len() as f64 / 1e6;
        let plain = best(times, || {
            let delimiter = if decimal == ',' { b';' } else { b',' };
            let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).from_reader(text.as_bytes());
            let mut record = csv::ByteRecord::new();
            let mut cells = 0;
            while reader.read_byte_record(&mut record).unwrap() {
                cells += record.len() as u64;
            }
            cells
        });
        let rows = best(times, || {
            let mut reader = LogReader::new(description.wanted.clone(), Choices::default(), parsed.units.clone());
            let mut count = 0;
            let mut each = |row: standpipe::log::Row<'_>| count += u64::from(row.values[0] > 0.0);
            for chunk in text.as_bytes().chunks(1 << 16) {
                reader.push(chunk, &mut each).unwrap();
            }
            reader.finish(&mut each).unwrap();
            count
        });
        let series = best(times, || {
            let log = Collected::read(text.as_bytes(), &description.wanted, Choices::default(), &parsed.units);
            log.ok().unwrap().tally.rows
        });
        let _ = writeln!(report, "{words}, {size:.0} MB");
        for (what, time) in [("plain read", plain), ("rows of readings", rows), ("series", series)] {
            let _ = writeln!(report, "  {what:18} {:6.0} MB/s  {:.2} of the plain read", size / time, plain / time);
        }
    }
    print!("{report}");
}
