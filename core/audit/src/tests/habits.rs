use super::{Job, finds, forged, in_shop, looked_at};
use crate::point::Verdict::{Holds, NotShown};

/// A job of so many steps, one so many seconds after the other.
fn entered(steps: usize, apart: i64) -> Vec<super::Point> {
    let list: String = (0..steps).map(|step| format!("  - {{ id: s{step}, do: Do it. }}\n")).collect();
    let mut job = Job::new(&format!("steps:\n{list}"));
    for step in 0..steps {
        job.seconds_later(apart).done(&format!("s{step}"));
    }
    forged(job, |_| {})
}

#[test]
fn all_of_a_job_or_six_steps_of_it_within_a_minute_are_not_believed() {
    for (steps, apart, verdict, found) in [
        (2, 0, Holds, ""),
        (3, 30, NotShown, "3 of 3 steps were entered within one minute"),
        (3, 31, Holds, ""),
        (8, 15, Holds, ""),
        (8, 12, NotShown, "6 of 8 steps were entered within one minute"),
    ] {
        finds(&entered(steps, apart), "pace of entries", verdict, found);
    }
}

#[test]
fn items_of_one_step_may_be_confirmed_together() {
    let mut job =
        Job::new("steps:\n  - { id: tighten, each: { of: spec.ring, do: Tighten it. } }\n  - { id: end, do: End. }\n");
    job.done("tighten");
    job.done("tighten");
    job.done("end");
    finds(&forged(job, |_| {}), "pace of entries", Holds, "");
}

/// By hand, one digit in five being round by chance: at least 6 of 8 come in 1.2 jobs of a thousand, at least 7 in 0.08.
#[test]
fn readings_that_are_nearly_all_round_are_not_believed() {
    let read = |digits: &[&str], resolution: &str| {
        let list: String = (0..digits.len())
            .map(|step| {
                format!("  - {{ id: s{step}, read: {{ h{step}: {{ is: temperature, instrument: reader }} }} }}\n")
            })
            .collect();
        let steps = format!("steps:\n{list}");
        let mut job = Job::new(&steps);
        for (step, digit) in digits.iter().enumerate() {
            job.later(5).enter(&format!("s{step}"), &[(&format!("h{step}"), &format!("4{digit} degC"))]).unwrap();
        }
        let plan = in_shop(&steps, "unit: degC, due", &format!("unit: degC, resolution: {resolution}, due"));
        looked_at(&plan, &job.records)
    };
    let tenths = "0.1 degC";
    let seven = ["0.0", "1.5", "2.0", "3.5", "4.0", "5.5", "6.0", "7.7"];
    finds(&read(&seven, tenths), "round readings", NotShown, "7 of 8 readings (87 %) end in 0 or 5");
    let six = ["0.0", "1.5", "2.0", "3.5", "4.0", "5.5", "6.3", "7.7"];
    finds(&read(&six, tenths), "round readings", Holds, "");
    finds(&read(&seven[..7], tenths), "round readings", Holds, "");
    finds(&read(&seven, "0.5 degC"), "round readings", Holds, "");
    let whole = ["0", "5", "0", "5", "0", "5", "0", "7"];
    finds(&read(&whole, "1 degC"), "round readings", NotShown, "7 of 8 readings");
}
