use jiff::civil::date;
use standpipe_job::{Event, Record, What};
use standpipe_quantity::value::Value;

use super::{Job, Plan, WORK, entry, event, finds, forged, in_shop, looked_at, point, work};
use crate::point::Verdict::{DoesNotHold, Holds, NotShown};

/// All entries are made on this day.
const DAY: jiff::civil::Date = date(2026, 11, 23);

fn read(plan: &Plan, text: &str) -> Value {
    plan.units.read(text, None, None).unwrap()
}

fn reading(records: &mut [Record], value: Option<Value>, with_it: Option<&str>) {
    let Event::Entered { values, with, .. } = &mut entry(records, "warm").event else { panic!() };
    if let Some(value) = value {
        values.insert("heat".to_owned(), value);
    }
    with.clear();
    with.extend(with_it.map(|id| ("heat".to_owned(), id.to_owned())));
}

#[test]
fn a_reading_is_of_an_instrument_of_its_kind_that_reaches_so_far() {
    for (heat, with, verdict, found) in [
        ("150 degC", Some("probe"), Holds, ""),
        ("151 degC", Some("probe"), DoesNotHold, "`heat` is 151 °C, and `probe` reads"),
        ("40 degC", None, DoesNotHold, "nobody says which reader read `heat`"),
        ("40 degC", Some("sticker"), DoesNotHold, "read with a surface-reader, not a reader"),
        ("40 degC", Some("borrowed"), DoesNotHold, "`borrowed`, which the shop does not have"),
    ] {
        let points = {
            let mut job = work();
            let heat = read(&job.machine.plan, heat);
            reading(&mut job.records, Some(heat), with);
            looked_at(&job.machine.plan, &job.records)
        };
        finds(&points, "instruments", verdict, found);
    }
    let unread = forged(work(), |records| reading(records, Some(Value::Unknown), None));
    finds(&unread, "instruments", Holds, "");
}

#[test]
fn its_calibration_was_made_and_had_not_run_out_on_the_day_of_the_entry() {
    for (due, calibrated, verdict, found) in [
        (DAY, DAY, Holds, ""),
        (
            DAY.yesterday().unwrap(),
            DAY.yesterday().unwrap(),
            DoesNotHold,
            "the calibration of `probe` ran out on 2026-11-22",
        ),
        (DAY.tomorrow().unwrap(), DAY.tomorrow().unwrap(), NotShown, "calibrated after that, on 2026-11-24"),
    ] {
        let plan = in_shop(WORK, "due: 2030-01-01", &format!("calibrated: {calibrated}, due: {due}"));
        let points = looked_at(&plan, &work().records);
        finds(&points, "instruments", verdict, found);
    }
}

/// It was read when the entry was made, and only written down otherwise later.
#[test]
fn what_a_correction_says_was_read_is_looked_at_as_of_the_entry() {
    let steps = "steps:\n  - { id: warm, read: { heat: { is: temperature, instrument: reader } } }\n  - { id: end, do: End. }\n";
    let corrected = || {
        let mut job = Job::new(steps);
        job.enter("warm", &[("heat", "40 degC")]).unwrap();
        let values = [("heat".to_owned(), "41 degC".to_owned())].into_iter().collect();
        job.later(24 * 60).input(What::Correct { entry: None, values, because: "misread".to_owned() }).unwrap();
        job
    };
    let points = looked_at(&in_shop(steps, "due: 2030-01-01", &format!("due: {DAY}")), &corrected().records);
    finds(&points, "instruments", Holds, "");
    assert_eq!(point(&points, "instruments").looked_at, 2);
    let job = corrected();
    let far = read(&job.machine.plan, "151 degC");
    let points = forged(job, |records| {
        let corrected = event(records, |event| matches!(event, Event::Corrected { .. }));
        let Event::Corrected { values, .. } = &mut corrected.event else { panic!() };
        values.insert("heat".to_owned(), far);
    });
    finds(&points, "instruments", DoesNotHold, "`heat` is 151 °C");
}
