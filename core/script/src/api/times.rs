//! When a series was as wanted, and what that shows. Samples further apart than the gap leave open what was between them:
//! an answer that depends on it is not known, and the gate that asks is not shown.

use rhai::Dynamic;

use super::series::alike;
use super::{Arguments, Function};
use crate::guest::{Absent, Answer, Stop, View};
use crate::operand::{Operand, give};
use standpipe_quantity::Quantity;
use standpipe_quantity::close;
use standpipe_quantity::series::{Kind, Times};

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "times_in",
        takes: &["series", "wanted", "gap"],
        about: "When the readings lay in a range, ends included, or were a value or a text.",
        examples: &[
            ("longest_time(times_in(series([0.s, 1.s, 2.s], [5, 5, 9]), range(4, 6), 1.s)) == 1.s", "true"),
            (
                "lasts(times_in(series([0.s, 1.s, 9.s, 10.s], [\"D\", \"D\", \"D\", \"D\"]), \"D\", 1.s), 5.s)",
                "not shown: whether the series was D, in a gap",
            ),
        ],
        run: times_in,
    },
    Function {
        name: "times_above",
        takes: &["series", "value", "gap"],
        about: "When the readings were above a value.",
        examples: &[("ever(times_above(series([0.s, 1.s, 2.s], [5, 5, 9]), 8, 1.s))", "true")],
        run: |a| compared(a, "above", |value, limit| value > limit && !close(value, limit)),
    },
    Function {
        name: "times_below",
        takes: &["series", "value", "gap"],
        about: "When the readings were below a value.",
        examples: &[("ever(times_below(series([0.s, 1.s, 2.s], [5, 5, 9]), 5, 1.s))", "false")],
        run: |a| compared(a, "below", |value, limit| value < limit && !close(value, limit)),
    },
    Function {
        name: "both",
        takes: &["times", "other"],
        about: "When the one and the other held.",
        examples: &[(
            "longest_time(both(times_in(series([0.s, 1.s, 2.s], [5, 5, 9]), 5, 1.s), times_in(series([0.s, 1.s, 2.s], [1, 2, 2]), 2, 1.s))) == 0.s",
            "true",
        )],
        run: |a| Ok(Dynamic::from(a.times(0)?.both(&a.times(1)?))),
    },
    Function {
        name: "lasts",
        takes: &["times", "long"],
        about: "Whether it held that long without a break; not known where a gap leaves it open.",
        examples: &[
            ("lasts(times_in(series([0.s, 1.s, 2.s, 3.s], [5, 5, 5, 9]), 5, 1.s), 2.s)", "true"),
            ("lasts(times_in(series([0.s, 1.s, 2.s, 3.s], [5, 5, 9, 9]), 5, 1.s), 4.s)", "false"),
        ],
        run: |a| {
            let (times, long) = (a.times(0)?, a.seconds(1)?);
            told(&a, &times, times.lasts(long))
        },
    },
    Function {
        name: "throughout",
        takes: &["times", "span"],
        about: "Whether it held for all of a range of time.",
        examples: &[
            ("throughout(times_in(series([0.s, 1.s, 2.s], [5, 5, 9]), 5, 1.s), range(0.s, 1.s))", "true"),
            ("throughout(times_in(series([0.s, 1.s, 2.s], [5, 5, 9]), 5, 1.s), range(0.s, 2.s))", "false"),
            (
                "throughout(times_in(series([0.s, 1.s], [5, 5]), 5, 1.s), range(0.s, 4.s))",
                "not shown: whether the series was 5, in a gap",
            ),
            (
                "throughout(times_in(series([0.s, 1.s], [5, 5]), 5, 1.s), range(1.s, 1.s))",
                "not shown: whether the series was 5, over no time at all",
            ),
        ],
        run: |a| {
            let (times, span) = (a.times(0)?, a.span(1)?);
            let (from, to) = (a.seconds_of(&span.low)?, a.seconds_of(&span.high)?);
            if to <= from {
                // What is so for no time is so of anything.
                return Err(a.run.touch(&Absent(format!("whether {}, over no time at all", times.what).into())));
            }
            told(&a, &times, times.throughout((from, to)))
        },
    },
    Function {
        name: "ever",
        takes: &["times"],
        about: "Whether it held at all.",
        examples: &[
            ("ever(times_in(series([0.s, 1.s], [5, 6]), 6, 1.s))", "true"),
            ("ever(times_in(series([0.s, 9.s], [5, 5]), 6, 1.s))", "not shown: whether the series was 6, in a gap"),
        ],
        run: |a| {
            let times = a.times(0)?;
            told(&a, &times, times.ever())
        },
    },
    Function {
        name: "longest_time",
        takes: &["times"],
        about: "The longest time for which it held for certain.",
        examples: &[("longest_time(times_in(series([0.s, 1.s, 2.s], [5, 5, 9]), 5, 1.s)) == 1.s", "true")],
        run: |a| give(a.time(a.times(0)?.longest())?),
    },
    Function {
        name: "total_time",
        takes: &["times"],
        about: "All the time for which it held for certain.",
        examples: &[(
            "total_time(times_in(series([0.s, 1.s, 2.s, 3.s, 4.s], [5, 5, 9, 5, 5]), 5, 1.s)) == 2.s",
            "true",
        )],
        run: |a| give(a.time(a.times(0)?.total())?),
    },
    Function {
        name: "began",
        takes: &["times"],
        about: "When it was first so for certain; not known where it never was.",
        examples: &[
            ("began(times_above(series([0.s, 1.s, 2.s], [5, 5, 9]), 6, 1.s)) == 2.s", "true"),
            (
                "began(times_above(series([0.s, 1.s], [5, 5]), 6, 1.s))",
                "not shown: a time at which the series was above 6",
            ),
        ],
        run: |a| {
            let times = a.times(0)?;
            moment(&a, &times, times.certain.first().map(|(from, _)| *from))
        },
    },
    Function {
        name: "ended",
        takes: &["times"],
        about: "When it was last so for certain; not known where it never was.",
        examples: &[("ended(times_below(series([0.s, 1.s, 2.s], [5, 5, 9]), 6, 1.s)) == 1.s", "true")],
        run: |a| {
            let times = a.times(0)?;
            moment(&a, &times, times.certain.last().map(|(_, to)| *to))
        },
    },
];

impl Arguments<'_, '_> {
    fn times(&self, index: usize) -> Result<Times, Stop> {
        match self.values[index].read_lock::<Times>() {
            Some(times) => Ok(times.clone()),
            None => Err(self.refuse(index, "times, as `times_in` gives them")),
        }
    }
}

fn told(a: &Arguments<'_, '_>, times: &Times, answer: Option<bool>) -> Answer {
    match answer {
        Some(truth) => Ok(truth.into()),
        None => Err(a.run.touch(&Absent(format!("whether {}, in a gap", times.what).into()))),
    }
}

fn moment(a: &Arguments<'_, '_>, times: &Times, at: Option<f64>) -> Answer {
    match at {
        Some(at) => give(a.time(at)?),
        None => Err(a.run.touch(&Absent(format!("a time at which {}", times.what).into()))),
    }
}

/// `level was above 3 m`, for whoever is told that it is not shown.
fn named(mut times: Times, view: &View, condition: &str) -> Dynamic {
    times.what = format!("{} was {condition}", view.series.name.replace('_', " "));
    Dynamic::from(times)
}

fn shown(a: &Arguments<'_, '_>, quantity: &Quantity) -> String {
    let (number, unit) = a.run.units.plain(quantity);
    format!("{} {unit}", (number * 1e6).round() / 1e6).trim_end().to_owned()
}

fn times_in(a: Arguments<'_, '_>) -> Answer {
    let (view, gap) = (a.view(0)?, a.seconds(2)?);
    let (times, condition) = match (a.operand(1), &view.series.kind) {
        (Operand::Text(text), Kind::Words(words)) => {
            let wanted = words.iter().position(|word| *word == text.as_str()).map(|at| at as f64);
            (view.series.when(gap, view.window, |value| Some(value) == wanted), text.to_string())
        }
        (Operand::Span(span), Kind::Measured(_)) => {
            alike(&a, &view, &span.low, true)?;
            let reaches = |low: f64, high: f64| low < high || close(low, high);
            let inside = |value| reaches(span.low.si, value) && reaches(value, span.high.si);
            let condition = format!("within {} to {}", shown(&a, &span.low), shown(&a, &span.high));
            (view.series.when(gap, view.window, inside), condition)
        }
        (operand, Kind::Measured(_)) => {
            let wanted = operand.measured().ok_or_else(|| a.refuse_value(&operand, "a range or a value"))?;
            alike(&a, &view, &wanted, true)?;
            (view.series.when(gap, view.window, |value| close(value, wanted.si)), shown(&a, &wanted))
        }
        (operand, Kind::Words(_)) => return Err(a.refuse_value(&operand, "a text, for a series of words")),
    };
    Ok(named(times, &view, &condition))
}

fn compared(a: Arguments<'_, '_>, side: &str, holds: fn(f64, f64) -> bool) -> Answer {
    let (view, limit, gap) = (a.view(0)?, a.quantity(1)?, a.seconds(2)?);
    alike(&a, &view, &limit, true)?;
    let times = view.series.when(gap, view.window, |value| holds(value, limit.si));
    Ok(named(times, &view, &format!("{side} {}", shown(&a, &limit))))
}
