use std::path::Path;

use standpipe_job::said::Remark;
use standpipe_job::{Event, Origin, Record, StreamStatus};

use super::{entry, event, work};
use crate::point::Point;
use crate::point::Verdict::{DoesNotHold, NotShown};

fn readings(change: impl FnOnce(&mut Vec<Record>)) -> Option<Point> {
    let mut job = work();
    change(&mut job.records);
    crate::readings::point(&job.machine.plan, &job.records, Path::new("job"), "journal.jsonl")
}

#[test]
fn of_a_job_that_nothing_was_read_for_there_is_nothing_to_say() {
    assert!(readings(|_| {}).is_none());
}

#[test]
fn what_somebody_decides_comes_from_no_reader_and_what_follows_may() {
    let of_rows = |is: &dyn Fn(&Event) -> bool| readings(|records| event(records, is).origin = Origin::Log);
    let deeds: [&dyn Fn(&Event) -> bool; 3] =
        [&|event| matches!(event, Event::Opened { .. }), &|event| matches!(event, Event::Accepted { .. }), &|event| {
            matches!(event, Event::Skipped { .. })
        }];
    for deed in deeds {
        let point = of_rows(deed).unwrap();
        assert_eq!((point.verdict, point.looked_at, point.findings.len()), (DoesNotHold, 1, 1));
        assert!(
            point.findings[0].message.contains("a reader or a log is said to have given it"),
            "{:?}",
            point.findings
        );
    }
    let follows: [&dyn Fn(&Event) -> bool; 2] =
        [&|event| matches!(event, Event::Judged { .. }), &|event| matches!(event, Event::Finished)];
    for event in follows {
        assert!(of_rows(event).is_none());
    }
}

#[test]
fn what_a_reader_did_nobody_entered() {
    for (origin, found) in [(Origin::Log, 0), (Origin::Typed, 1), (Origin::Page, 1), (Origin::Answers, 1)] {
        let point = readings(|records| {
            let judged = event(records, |event| matches!(event, Event::Judged { .. }));
            let name = "heat".to_owned();
            judged.event = Event::Stream { address: None, name, turn: StreamStatus::Began, value: None, note: None };
            judged.origin = origin;
        });
        assert_eq!(point.map_or(0, |point| point.findings.len()), found, "{origin:?}");
    }
}

#[test]
fn a_claim_of_rows_that_names_none_is_not_shown() {
    let point = readings(|records| entry(records, "warm").origin = Origin::Log).unwrap();
    assert_eq!((point.verdict, point.looked_at, point.findings.len()), (NotShown, 1, 1));
    assert!(point.findings[0].message.contains("`heat` is said to come from rows"), "{:?}", point.findings);
    for remark in [Remark::FromReader, Remark::FromLog("rows.csv".to_owned())] {
        let point = readings(|records| {
            let Event::Entered { remarks, .. } = &mut entry(records, "warm").event else { panic!() };
            remarks.push(remark.clone());
        });
        let point = point.unwrap();
        assert_eq!((point.verdict, point.looked_at, point.findings.len()), (NotShown, 1, 1));
        assert!(point.findings[0].message.contains("mentions rows"), "{:?}", point.findings);
    }
}
