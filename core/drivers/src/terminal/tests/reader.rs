//! Sittings with a reader that is followed: rows go in between keys.

use std::sync::mpsc::sync_channel;

use super::*;
use standpipe_job::{Origin, StreamStatus};
use standpipe_log::Choices;
use standpipe_stream::{Following, Live, Message, Raw, columns, wanted};

const WARM: &str = "\
steps:
  - id: warm
    title: Wait for it
    await:
      sample: warmth
      is: temperature
      within: range(36.degC, 44.degC)
      instrument: gauge
      unit: degC
  - { id: rest, title: Let it rest, do: Rest. }
";

/// A reader whose messages are all there at once, and the folder that its rows are kept in.
fn ear(machine: &Machine, folder: &Path, messages: Vec<Message>) -> LiveReader {
    let (sender, receiver) = sync_channel(messages.len().max(1));
    for message in messages {
        sender.send(message).unwrap();
    }
    // Its other end stays: a reader that is silent has not ended.
    std::mem::forget(sender);
    let columns = columns(&machine.plan);
    let raw = Some(Raw::new(folder, "rows.csv"));
    let live = Live::new(columns.clone(), wanted(&columns), Choices::default(), machine.plan.units.clone(), raw);
    LiveReader::new(Following::of(receiver), live, "rows.csv".to_owned())
}

/// A heading and rows a second apart.
fn rows(warmths: &[f64]) -> Message {
    let mut text = "Elapsed [s],Warmth [°C]\n".to_owned();
    for (second, warmth) in warmths.iter().enumerate() {
        text.push_str(&format!("{second},{warmth:.1}\n"));
    }
    Message::Bytes(text.into_bytes())
}

fn warming(from: f64, count: usize) -> Vec<f64> {
    (0..count).map(|second| from + second as f64 * 0.1).collect()
}

fn turns(sitting: &Sitting) -> Vec<StreamStatus> {
    let turned = sitting.events().filter_map(|event| match event {
        Event::Stream { turn, .. } => Some(*turn),
        _ => None,
    });
    turned.collect()
}

fn sit_by(machine: &Machine, keys: &str, messages: Vec<Message>) -> Sitting {
    let folder = tempfile::tempdir().unwrap();
    let ear = ear(machine, folder.path(), messages);
    sit_with(machine, "ann", keys, Some(ear))
}

#[test]
fn a_reading_in_the_range_is_taken_with_enter_and_marked_as_from_the_reader() {
    let machine = machine(WARM);
    let sitting = sit_by(&machine, "\n\n", vec![rows(&warming(35.5, 10))]);
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    assert!(sitting.saw("Warmth 36.4 °C by the reader, 0 s old"), "{:#?}", sitting.drawn);
    assert!(sitting.saw("Enter takes 36.4 °C, or type it:"), "{:#?}", sitting.drawn);
    assert_eq!(sitting.typed("warmth"), ["36.4 °C"]);
    assert_eq!(turns(&sitting), [StreamStatus::Began, StreamStatus::Reached]);
    let entered = sitting
        .records
        .iter()
        .find(|record| matches!(&record.event, Event::Entered { address, .. } if address.step == "warm"));
    let entered = entered.unwrap();
    assert_eq!(entered.origin, Origin::Log);
    let Event::Entered { remarks, with, .. } = &entered.event else { panic!() };
    assert_eq!(remarks, &[standpipe_job::said::Remark::FromReader]);
    assert_eq!(with["warmth"], "gauge-1");
    // What no reading answered is typed.
    let rest = sitting.records.iter().rev().find(|record| matches!(record.event, Event::Entered { .. })).unwrap();
    assert_eq!(rest.origin, Origin::Typed);
}

#[test]
fn enter_takes_nothing_before_the_range_is_reached() {
    let machine = machine(WARM);
    let sitting = sit_by(&machine, "\n", vec![rows(&warming(30.0, 10))]);
    assert!(sitting.typed("warmth").is_empty());
    assert!(sitting.saw("Enter takes it once it is inside, or type it:"));
    assert!(sitting.saw("Not taken: the reading is not in the window yet"), "{:#?}", sitting.drawn.last());
    assert_eq!(turns(&sitting), [StreamStatus::Began]);
}

#[test]
fn a_stale_reading_is_said_at_once_and_never_taken() {
    let machine = machine(WARM);
    // Ten seconds pass with each wait.
    let sitting = sit_by(&machine, "~~\n", vec![rows(&warming(36.5, 10))]);
    assert!(sitting.typed("warmth").is_empty(), "{:?}", sitting.typed("warmth"));
    assert!(sitting.saw("Warmth NOT SHOWN by the reader: no reading for 20 s. Last 37.4 °C."), "{:#?}", sitting.drawn);
    assert!(sitting.saw("Not taken: the reader shows nothing: no reading for 2"), "{:#?}", sitting.drawn.last());
    assert_eq!(turns(&sitting), [StreamStatus::Began, StreamStatus::Reached, StreamStatus::Stale]);
    // What a person reads by eye still counts.
    let typed = sit_by(&machine, "~~37\n\n", vec![rows(&warming(36.5, 10))]);
    assert!(matches!(typed.ended.outcome, Outcome::Finished));
    assert!(
        typed
            .records
            .iter()
            .all(|record| { !matches!(record.event, Event::Entered { .. }) || record.origin == Origin::Typed })
    );
}

#[test]
fn a_frozen_reading_is_never_taken() {
    let machine = machine(WARM);
    let sitting = sit_by(&machine, "\n", vec![rows(&[vec![36.0, 37.0], vec![38.0; 200]].concat())]);
    assert!(sitting.typed("warmth").is_empty());
    assert!(sitting.saw("Warmth NOT SHOWN by the reader: no change for 3 min"), "{:#?}", sitting.drawn.last());
    assert_eq!(turns(&sitting), [StreamStatus::Began, StreamStatus::Reached, StreamStatus::Frozen]);
}

#[test]
fn a_stream_that_ends_shows_nothing_any_more() {
    let machine = machine(WARM);
    let sitting = sit_by(&machine, "\n", vec![rows(&warming(36.5, 10)), Message::Over]);
    assert!(sitting.typed("warmth").is_empty());
    assert!(sitting.saw("Warmth NOT SHOWN by the reader: it has ended."), "{:#?}", sitting.drawn.last());
    assert_eq!(turns(&sitting), [StreamStatus::Began, StreamStatus::Reached, StreamStatus::Over]);
}

#[test]
fn a_file_that_begins_anew_has_a_gap() {
    let machine = machine(WARM);
    let messages = vec![rows(&warming(36.5, 10)), Message::Anew, rows(&warming(37.5, 10))];
    let sitting = sit_by(&machine, "\n\n", messages);
    assert_eq!(
        turns(&sitting),
        [StreamStatus::Began, StreamStatus::Reached, StreamStatus::Stale, StreamStatus::Again, StreamStatus::Reached]
    );
    assert_eq!(sitting.typed("warmth"), ["38.4 °C"]);
}

#[test]
fn what_stood_in_the_file_before_is_no_reading_of_now() {
    let machine = machine(WARM);
    let Message::Bytes(before) = rows(&warming(36.5, 10)) else { panic!() };
    let sitting = sit_by(&machine, "\n", vec![Message::History(before)]);
    assert!(sitting.typed("warmth").is_empty());
    assert!(sitting.saw("Warmth NOT SHOWN by the reader: no new reading has come yet. Last 37.4 °C."));
}

#[test]
fn a_stream_that_is_followed_again_says_how_long_it_was_not() {
    let machine = machine(WARM);
    let folder = tempfile::tempdir().unwrap();
    let first = ear(&machine, folder.path(), vec![rows(&warming(30.0, 10))]);
    sit_in(folder.path(), &machine, "ann", "q", Some(first));
    let again = ear(&machine, folder.path(), vec![rows(&warming(31.0, 10))]);
    let second = sit_in(folder.path(), &machine, "ann", "\n", Some(again));
    let began = second.events().find_map(|event| match event {
        Event::Stream { turn: StreamStatus::Began, note, .. } => Some(note.as_ref().unwrap().to_string()),
        _ => None,
    });
    assert!(began.unwrap().contains("since it was last followed: not shown in between"));
}

#[test]
fn columns_that_are_not_clear_are_asked_for_and_nothing_is_taken() {
    let machine = machine(WARM);
    let two = Message::Bytes(b"Elapsed [s],Warmth [\xc2\xb0C],Warmth 2 [\xc2\xb0C]\n0,37.0,37.1\n1,37.1,37.2\n2,37.2,37.3\n3,37.3,37.4\n4,37.4,37.5\n5,37.5,37.6\n".to_vec());
    let sitting = sit_by(&machine, "\n", vec![two]);
    assert!(sitting.saw("--column warmth=COLUMN"), "{:#?}", sitting.drawn.last());
    assert!(sitting.typed("warmth").is_empty() && turns(&sitting).is_empty());
}

#[test]
fn a_time_that_is_held_is_covered_by_the_reader_or_not() {
    let steps = format!("{WARM}  - {{ id: h, title: Hold it, hold: {{ for: 5.s }} }}\n");
    let machine = machine(&steps);
    let sitting = sit_by(&machine, "\n\n\n~\n", vec![rows(&warming(36.5, 10))]);
    assert_eq!(
        turns(&sitting),
        [StreamStatus::Began, StreamStatus::Reached, StreamStatus::Stale, StreamStatus::NotCovered],
        "{:#?}",
        sitting.drawn
    );
    assert!(matches!(sitting.ended.outcome, Outcome::Finished));
}

#[test]
fn a_minute_and_a_half_before_the_range_closes_a_bell_says_so_once() {
    let machine = machine(&WARM.replace("unit: degC", "unit: degC\n      forecast: soon"));
    // Each listening takes 64 messages and rings at most once.
    let bells = |last: &[f64]| {
        let mut messages = vec![rows(&[36.5, 37.0, 37.5, 38.0, 38.5])];
        messages.extend((1..64).map(|_| Message::Bytes(Vec::new())));
        messages.extend(last.iter().enumerate().flat_map(|(index, warmth)| {
            let one = Message::Bytes(format!("{},{warmth:.2}\n", 5 + index).into());
            std::iter::once(one).chain((1..64).map(|_| Message::Bytes(Vec::new())))
        }));
        // A listening that hears nothing for ten seconds would ring for that.
        let sitting = sit_by(&machine, &"~".repeat(1 + last.len()), messages);
        assert!(sitting.saw("Window open."), "{:#?}", sitting.drawn);
        sitting.bells
    };
    // One bell says that the range is reached. At 41 degC it closes in 90 s, at 41.1 in 87.
    assert_eq!(bells(&[41.0]), 1);
    assert_eq!(bells(&[41.1]), 2);
    // What closes soon closes soon at the next reading too, and has been said.
    assert_eq!(bells(&[41.1, 41.2, 41.3]), 2);
}
