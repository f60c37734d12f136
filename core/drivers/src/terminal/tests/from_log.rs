//! Sittings in which a value is taken from the file of a log.

use std::fs;

use super::*;
use standpipe_job::{Origin, ReadFrom};

const READ: &str = "\
steps:
  - id: warm
    title: Read it
    read: { warmth: { is: temperature, instrument: gauge, unit: degC }, word: { is: text, ask: \"What does it look like?\" } }
    gate: { must: warmth < 40.degC, otherwise: wait }
  - id: soon
    title: Wait for it
    await:
      sample: warmth
      is: temperature
      within: range(36.degC, 44.degC)
      instrument: gauge
      unit: degC
";

/// A row a minute from 7:30 until 7:50, each a tenth of a degree warmer; the clock of the sittings says 8:00.
fn log(heading: &str, cells: impl Fn(u32) -> String) -> String {
    let rows = (0..=20).map(|minute| format!("07:{:02}:00,{}\n", 30 + minute, cells(minute)));
    format!("{heading}\n{}", rows.collect::<String>())
}

fn sit_over(text: &str, keys: &str) -> (Sitting, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    fs::write(&file, text).unwrap();
    let keys = keys.replace('@', &file.display().to_string());
    let sitting = sit_in(folder.path(), &machine(READ), "ann", &keys, None);
    (sitting, folder)
}

fn read_of(sitting: &Sitting) -> Vec<(&Record, &ReadFrom)> {
    let entered = sitting.records.iter().filter_map(|record| match &record.event {
        Event::Entered { read: Some(read), .. } => Some((record, &**read)),
        _ => None,
    });
    entered.collect()
}

#[test]
fn a_log_is_read_at_the_time_that_is_said_and_entered_late() {
    let text = log("Time,Warmth [°C]", |minute| format!("{:.1}", 30.0 + f64::from(minute) / 10.0));
    // Enter takes the time of the last row, which is offered.
    let (sitting, _folder) = sit_over(&text, "l@\n\ngrey\n");
    assert!(
        sitting.saw("l log") && sitting.saw("Last row 2026-11-23 07:50:00: 32.0 °C."),
        "{:#?}",
        sitting.drawn.last()
    );
    assert_eq!(sitting.typed("warmth"), ["32.0 °C"]);
    let [(record, read)] = read_of(&sitting)[..] else { panic!("{:#?}", sitting.records) };
    assert_eq!(record.at, "2026-11-23T07:50:00+00:00".parse().unwrap());
    assert_eq!(record.entered_at, Some("2026-11-23T08:00:00+00:00".parse().unwrap()));
    // A word was typed beside it.
    assert_eq!(record.origin, Origin::Typed);
    assert!(read.log && read.values["warmth"].row == Some(7.0 * 3600.0 + 50.0 * 60.0), "{read:?}");
    // The key is shown where a log could give the value, and nowhere else.
    let words = sitting.drawn.iter().find(|page| page.contains("What does it look like?")).unwrap();
    assert!(!words.contains("l log"), "{words}");
}

#[test]
fn what_a_log_leaves_open_is_asked_and_what_it_does_not_show_is_not_taken() {
    let text = log("Time,Warmth 1 [°C],Warmth 2 [°C]", |minute| format!("{}.0,{}.0", 20 + minute, 60 + minute));
    let (sitting, _folder) = sit_over(&text, "l@\n2\n");
    assert!(sitting.saw("1 Warmth 1") && sitting.saw("2 Warmth 2"), "{:#?}", sitting.drawn.last());
    assert!(sitting.saw("Last row 2026-11-23 07:50:00: 80.0 °C."), "{:#?}", sitting.drawn.last());
    // Ten minutes after its last row a log shows nothing.
    let text = log("Time,Warmth [°C]", |minute| format!("{:.1}", 30.0 + f64::from(minute) / 10.0));
    let (sitting, _folder) = sit_over(&text, "l@\n7\n\u{15}07:59:00\n");
    assert!(sitting.saw("is not a time of day") && sitting.saw("does not show it then"), "{:#?}", sitting.drawn.last());
    assert!(sitting.typed("warmth").is_empty());
    // No log at all, and no file: said, and the value is still asked.
    let (sitting, _folder) = sit_over("nothing of this is a log", "l@\n");
    assert!(sitting.saw("Not taken") && sitting.typed("warmth").is_empty(), "{:#?}", sitting.drawn.last());
    let (sitting, _folder) = sit_over(&text, "l/no/such/file\n31 degC\ngrey\n");
    assert!(sitting.saw("Not taken") && sitting.typed("warmth") == ["31 degC"], "{:#?}", sitting.drawn.last());
}

#[test]
fn a_value_typed_after_all_is_not_from_the_log() {
    let text = log("Time,Warmth [°C]", |minute| format!("{:.1}", 30.0 + f64::from(minute) / 10.0));
    // Taken, one back with Esc and b, and typed anew.
    let (sitting, _folder) = sit_over(&text, "l@\n\n\u{1b}b1\ngrey\n");
    assert!(sitting.records.iter().all(|record| record.origin != Origin::Log));
    assert!(read_of(&sitting).is_empty(), "{:#?}", sitting.typed("warmth"));
}
