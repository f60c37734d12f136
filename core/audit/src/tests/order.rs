use jiff::ToSpan;
use standpipe_job::{Event, Record};

use super::{entry, finds, forged, point, work};
use crate::point::Verdict::{DoesNotHold, Holds};

type Change = fn(&mut Vec<Record>);

#[test]
fn events_are_numbered_in_a_row_between_one_opening_and_one_end() {
    let sound = forged(work(), |_| {});
    finds(&sound, "order of events", Holds, "");
    let cases: [(&str, Change); 4] = [
        ("event 4 follows event 2", |records| drop(records.remove(2))),
        ("the job is opened a second time", |records| records[3].event = records[0].event.clone()),
        ("something happens after the job was closed", |records| {
            let last = records.last().unwrap();
            let note = Event::Noted { address: None, text: "so".to_owned() };
            records.push(Record { seq: last.seq + 1, event: note, ..last.clone() });
        }),
        ("something happens before the job is opened", |records| {
            let at = records[0].clone();
            records.insert(0, Record { event: Event::Noted { address: None, text: "so".to_owned() }, ..at });
            records.iter_mut().zip(1..).for_each(|(record, seq)| record.seq = seq);
        }),
    ];
    for (found, change) in cases {
        let points = forged(work(), change);
        finds(&points, "order of events", DoesNotHold, found);
    }
    assert_eq!(point(&sound, "time").looked_at, point(&sound, "order of events").looked_at);
}

#[test]
fn what_is_entered_is_entered_after_it_was_done_and_after_what_was_entered_before() {
    let late = |done: i64, entered: i64| {
        forged(work(), |records| {
            let before = records
                .iter()
                .position(|record| matches!(&record.event, Event::Entered { address, .. } if address.step == "who"));
            let last = records[before.unwrap() - 1].at;
            let who = entry(records, "who");
            who.at = last.saturating_add(done.minutes());
            who.entered_at = Some(last.saturating_add(entered.minutes()));
        })
    };
    for (done, entered, verdict, found) in [
        (0, 0, Holds, ""),
        (-30, 0, Holds, ""),
        (5, 4, DoesNotHold, "before it was done"),
        (-30, -1, DoesNotHold, "before the event above it"),
    ] {
        finds(&late(done, entered), "time", verdict, found);
    }
}

/// Time that was once set back is not forgotten at the next event.
#[test]
fn every_event_is_held_against_the_latest_before_it() {
    let points = forged(work(), |records| {
        let start = records[0].at;
        for (record, minutes) in records.iter_mut().zip([0, 30, 10, 20]) {
            record.at = start.saturating_add(minutes.minutes());
        }
    });
    assert_eq!(point(&points, "time").findings.len(), 2);
}
