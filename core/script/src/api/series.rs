//! Readings over time. Times are in seconds from the beginning of the series' own clock.

use std::sync::Arc;

use rhai::{Array, Dynamic};

use super::{Arguments, Function};
use crate::comparison;
use crate::guest::{Absent, Answer, Span, Stop, View};
use crate::operand::{Operand, collapsed, give, give_number};
use standpipe_quantity::series::{Kind, Series};
use standpipe_quantity::{Quantity, Scale};

/// More gaps or crossings than this are not looked at one by one.
const MOST: usize = 1_000;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "series",
        takes: &["times", "values"],
        about: "A series of readings from a list of times and a list of values or texts.",
        examples: &[
            ("samples(series([0.s, 1.s], [20.degC, 21.degC]))", "2"),
            ("series([1.s, 0.s], [5, 6])", "error: `series`: the times do not rise"),
        ],
        run: made,
    },
    Function {
        name: "during",
        takes: &["series", "span"],
        about: "The part of a series within a range of times.",
        examples: &[("highest(during(series([0.s, 1.s, 2.s], [5, 6, 9]), range(0.s, 1.s)))", "6")],
        run: |a| {
            let (view, span) = (a.view(0)?, a.span(1)?);
            let (from, to) = (a.seconds_of(&span.low)?, a.seconds_of(&span.high)?);
            Ok(Dynamic::from(View { window: (from, to), ..view }))
        },
    },
    Function {
        name: "samples",
        takes: &["series"],
        about: "How many samples a whole series has.",
        examples: &[("samples(series([0.s, 1.s], [5, 5]))", "2")],
        run: |a| Ok(Dynamic::from_int(a.view(0)?.series.count as i64)),
    },
    Function {
        name: "span_of",
        takes: &["series"],
        about: "The range of time from the first to the last sample of a whole series.",
        examples: &[("span_of(series([2.s, 5.s], [1, 1])).high == 5.s", "true")],
        run: |a| {
            let view = a.view(0)?;
            let Some((from, to)) = view.series.span() else { return absent(&a, &view, "a sample") };
            Ok(Dynamic::from(Span { low: a.time(from)?, high: a.time(to)? }))
        },
    },
    Function {
        name: "spacing",
        takes: &["series"],
        about: "The average time between the samples of a whole series.",
        examples: &[("spacing(series([0.s, 1.s, 2.s], [1, 1, 2])) == 1.s", "true")],
        run: |a| {
            let view = a.view(0)?;
            match view.series.spacing() {
                Some(seconds) => give(a.time(seconds)?),
                None => absent(&a, &view, "a second sample"),
            }
        },
    },
    Function {
        name: "first_reading",
        takes: &["series"],
        about: "The first value; not known where there is none.",
        examples: &[("first_reading(series([0.s, 1.s], [20.degC, 21.degC])) == 20.degC", "true")],
        run: |a| one(&a, |mut points| points.next()),
    },
    Function {
        name: "last_reading",
        takes: &["series"],
        about: "The last value; not known where there is none.",
        examples: &[("last_reading(series([0.s, 1.s], [20.degC, 21.degC])) == 21.degC", "true")],
        run: |a| one(&a, |points| points.last()),
    },
    Function {
        name: "lowest",
        takes: &["series"],
        about: "The lowest value; not known where there is none.",
        examples: &[("lowest(series([0.s, 1.s, 2.s], [5, 3, 4]))", "3")],
        run: |a| one(&a, |points| points.min_by(|x, y| x.1.total_cmp(&y.1))),
    },
    Function {
        name: "highest",
        takes: &["series"],
        about: "The highest value; not known where there is none.",
        examples: &[("highest(series([0.s, 1.s, 2.s], [5, 7, 4]))", "7")],
        run: |a| one(&a, |points| points.max_by(|x, y| x.1.total_cmp(&y.1))),
    },
    Function {
        name: "reading_at",
        takes: &["series", "time", "gap"],
        about: "The latest value at a time, if it is not older than the gap; otherwise not known.",
        examples: &[
            ("reading_at(series([0.s, 1.s, 5.s], [5, 7, 4]), 1.5.s, 1.s)", "7"),
            (
                "reading_at(series([0.s, 1.s, 5.s], [5, 7, 4]), 4.s, 1.s) > 0",
                "not shown: a reading at that time of the series",
            ),
        ],
        run: |a| {
            let (view, at, gap) = (a.view(0)?, a.quantity(1)?, a.seconds(2)?);
            match view.series.at(a.seconds_of(&at)?, gap) {
                Some(value) => given(&view, value),
                None => absent(&a, &view, "a reading at that time"),
            }
        },
    },
    Function {
        name: "gaps",
        takes: &["series", "gap"],
        about: "The ranges of time in which no sample came for longer than this.",
        examples: &[
            ("len(gaps(series([0.s, 1.s, 5.s], [5, 7, 4]), 1.s))", "1"),
            ("gaps(series([0.s, 1.s, 5.s], [5, 7, 4]), 1.s)[0].low == 1.s", "true"),
        ],
        run: |a| {
            let (view, gap) = (a.view(0)?, a.seconds(1)?);
            let found = view.series.gaps(gap, view.window);
            if found.len() > MOST {
                return Err(a.fail(format!("there are {} gaps; allow a longer one", found.len())));
            }
            let spans =
                found.into_iter().map(|(from, to)| Ok(Dynamic::from(Span { low: a.time(from)?, high: a.time(to)? })));
            Ok(Dynamic::from_array(spans.collect::<Result<Array, Stop>>()?))
        },
    },
    Function {
        name: "longest_gap",
        takes: &["series"],
        about: "The longest time between two samples of a whole series.",
        examples: &[("longest_gap(series([0.s, 1.s, 5.s], [5, 7, 4])) == 4.s", "true")],
        run: |a| give(a.time(a.view(0)?.series.longest_gap())?),
    },
    Function {
        name: "coverage",
        takes: &["series", "gap"],
        about: "The share of the time in which samples came no further apart than the gap.",
        examples: &[("coverage(series([0.s, 1.s, 4.s], [5, 7, 4]), 1.s)", "0.25")],
        run: |a| {
            let (view, gap) = (a.view(0)?, a.seconds(1)?);
            let long = view.window.1 - view.window.0;
            let lost: f64 = view.series.gaps(gap, view.window).iter().map(|(from, to)| to - from).sum();
            give_number(if long > 0.0 { ((long - lost) / long).clamp(0.0, 1.0) } else { 0.0 })
        },
    },
    Function {
        name: "flat",
        takes: &["series", "gap"],
        about: "The longest time over which the value did not change at all, without a gap.",
        examples: &[("flat(series([0.s, 1.s, 2.s, 3.s], [5, 5, 5, 6]), 1.s) == 2.s", "true")],
        run: |a| {
            let (view, gap) = (a.view(0)?, a.seconds(1)?);
            give(a.time(view.series.flat(gap, view.window).max(0.0))?)
        },
    },
    Function {
        name: "jumps",
        takes: &["series", "step"],
        about: "How many steps from one sample to the next are larger than this.",
        examples: &[("jumps(series([0.s, 1.s, 2.s], [20.degC, 60.degC, 21.degC]), 5.degC_diff)", "2")],
        run: |a| {
            let (view, step) = (a.view(0)?, a.quantity(1)?);
            alike(&a, &view, &step, false)?;
            Ok(Dynamic::from_int(view.series.jumps(step.si, view.window) as i64))
        },
    },
    Function {
        name: "resolution",
        takes: &["series"],
        about: "The smallest step between two samples that differ; not known where none do.",
        examples: &[("resolution(series([0.s, 1.s, 2.s], [20.5.degC, 21.degC, 23.degC])) == 0.5.degC_diff", "true")],
        run: |a| {
            let view = a.view(0)?;
            match (view.series.resolution(view.window), &view.series.kind) {
                (Some(step), Kind::Measured(scale)) => give(difference(scale, step)),
                _ => absent(&a, &view, "a change"),
            }
        },
    },
    Function {
        name: "identical",
        takes: &["series", "other"],
        about: "Whether two whole series have the same values at the same times.",
        examples: &[("identical(series([0.s, 1.s], [5, 6]), series([0.s, 1.s], [5, 6]))", "true")],
        run: |a| Ok(a.view(0)?.series.same_as(&a.view(1)?.series).into()),
    },
    Function {
        name: "repeats",
        takes: &["series", "other", "late"],
        about: "Whether a series shows nothing but another's readings, at most this much later or earlier; not known where it hardly moves.",
        examples: &[
            (
                "repeats(series([0.s, 1.s, 2.s, 3.s, 4.s], [1, 2, 9, 20, 21]), series([0.s, 1.s, 2.s, 3.s, 4.s], [1, 2, 9, 20, 21]), 0.s)",
                "true",
            ),
            (
                "repeats(series([0.s, 1.s, 2.s, 3.s, 4.s], [1, 2, 9, 20, 21]), series([0.s, 1.s, 2.s, 3.s, 4.s], [1, 2, 3, 4, 5]), 0.s)",
                "false",
            ),
            (
                "repeats(series([0.s, 1.s, 2.s], [5, 6, 7]), series([0.s, 1.s, 2.s], [5, 6, 7]), 1.s)",
                "not shown: a change that tells of the series",
            ),
        ],
        run: |a| {
            let (view, other, late) = (a.view(0)?, a.view(1)?, a.seconds(2)?);
            let of = |view: &View| match &view.series.kind {
                Kind::Measured(scale) => Some((scale.quantity(0.0).dimension, scale.quantity(0.0).point)),
                Kind::Words(_) => None,
            };
            if of(&view).is_none() || of(&view) != of(&other) {
                return Err(a.fail("two series of one quantity are needed"));
            }
            match view.series.repeats(&other.series, late, view.window) {
                Some(truth) => Ok(truth.into()),
                None => absent(&a, &view, "a change that tells"),
            }
        },
    },
    Function {
        name: "rose",
        takes: &["series", "value", "gap"],
        about: "When the readings first rose above a value, seen below it just before; not known where they did not, or in a gap.",
        examples: &[
            ("rose(series([0.s, 1.s, 2.s], [0, 0, 700]), 300, 1.s) == 2.s", "true"),
            (
                "rose(series([0.s, 9.s], [0, 700]), 300, 1.s)",
                "not shown: a moment at which it rose above 300 of the series",
            ),
        ],
        run: |a| {
            let (view, level, gap) = (a.view(0)?, a.quantity(1)?, a.seconds(2)?);
            alike(&a, &view, &level, true)?;
            match view.series.rose(level.si, gap, view.window) {
                Some(at) => give(a.time(at)?),
                None => absent(&a, &view, &format!("a moment at which it rose above {}", a.run.shown(&level))),
            }
        },
    },
    Function {
        name: "rise",
        takes: &["series", "long"],
        about: "By how much the readings rose at most within any stretch of that time; not known where there is none.",
        examples: &[("rise(series([0.s, 10.s, 20.s], [20.degC, 24.degC, 27.degC]), 10.s) == 4.degC_diff", "true")],
        run: |a| {
            let (view, long) = (a.view(0)?, a.seconds(1)?);
            match (view.series.rise(long, view.window), &view.series.kind) {
                (Some(rise), Kind::Measured(scale)) => give(difference(scale, rise)),
                _ => absent(&a, &view, "a reading"),
            }
        },
    },
    Function {
        name: "cannot_tell",
        takes: &["why"],
        about: "Not known, for a check that has no means to tell; the text says why.",
        examples: &[("1 > 2 || cannot_tell(\"which is more\")", "not shown: which is more")],
        run: |a| Err(a.run.touch(&Absent(a.text(0)?.as_str().into()))),
    },
    Function {
        name: "crossed",
        takes: &["series", "value"],
        about: "The times of the samples with which a value was reached or passed, from either side.",
        examples: &[
            ("crossed(series([0.s, 1.s, 2.s], [5, 7, 4]), 6).len()", "2"),
            ("crossed(series([0.s, 1.s, 2.s], [5, 7, 4]), 6)[0] == 1.s", "true"),
        ],
        run: |a| {
            let (view, level) = (a.view(0)?, a.quantity(1)?);
            alike(&a, &view, &level, true)?;
            let points: Vec<(f64, f64)> = view.series.within(view.window).collect();
            let side = |value: f64| value >= level.si || standpipe_quantity::close(value, level.si);
            let found = points.windows(2).filter(|pair| side(pair[0].1) != side(pair[1].1)).map(|pair| pair[1].0);
            let found: Vec<f64> = found.take(MOST).collect();
            let times = found.into_iter().map(|at| Ok(collapsed(a.time(at)?)));
            Ok(Dynamic::from_array(times.collect::<Result<Array, Stop>>()?))
        },
    },
];

impl Arguments<'_, '_> {
    pub fn view(&self, index: usize) -> Result<View, Stop> {
        match self.values[index].read_lock::<View>() {
            Some(view) => Ok(view.clone()),
            None => Err(self.refuse(index, "a series of readings")),
        }
    }

    pub fn time(&self, seconds: f64) -> Result<Quantity, Stop> {
        self.run.units.quantity(seconds, "s").map_err(|fault| self.fail(fault))
    }

    pub fn seconds(&self, index: usize) -> Result<f64, Stop> {
        self.seconds_of(&self.quantity(index)?)
    }

    pub fn seconds_of(&self, quantity: &Quantity) -> Result<f64, Stop> {
        self.run
            .units
            .convert(quantity, "s")
            .map_err(|_| self.refuse_value(&Operand::Quantity(quantity.clone()), "a time"))
    }
}

/// What is not there makes the result not shown.
fn absent(a: &Arguments<'_, '_>, view: &View, what: &str) -> Answer {
    Err(a.run.touch(&Absent(format!("{what} of {}", view.series.name).into())))
}

/// A step between points is a difference, which no scale of points has.
fn difference(scale: &Scale, step: f64) -> Quantity {
    let sample = scale.quantity(step);
    if sample.point { Quantity::new(step, sample.dimension) } else { sample }
}

pub(super) fn given(view: &View, value: f64) -> Answer {
    match &view.series.kind {
        Kind::Measured(scale) => give(scale.quantity(value)),
        Kind::Words(_) => Ok(view.series.word(value).unwrap_or_default().into()),
    }
}

type Points<'a> = dyn Iterator<Item = (f64, f64)> + 'a;

fn one(a: &Arguments<'_, '_>, choose: impl Fn(Box<Points<'_>>) -> Option<(f64, f64)>) -> Answer {
    let view = a.view(0)?;
    let found = choose(Box::new(view.series.within(view.window)));
    match found {
        Some((_, value)) => given(&view, value),
        None => absent(a, &view, "a reading"),
    }
}

/// Refuses what can't be compared with the readings.
pub(super) fn alike(a: &Arguments<'_, '_>, view: &View, with: &Quantity, point: bool) -> Result<(), Stop> {
    let Kind::Measured(scale) = &view.series.kind else {
        return Err(a.fail(format!("{} holds words, no numbers", view.series.name)));
    };
    let mut sample = scale.quantity(1.0);
    if !point && sample.point {
        sample = Quantity::new(1.0, sample.dimension);
    }
    let pair = [collapsed(sample), collapsed(with.clone())];
    comparison::order(a.run, &pair[0], &pair[1]).map(drop)
}

fn made(a: Arguments<'_, '_>) -> Answer {
    let (times, values) = (a.list(0)?, a.list(1)?);
    if times.len() != values.len() || times.is_empty() {
        return Err(a.fail("as many values as times are needed, and at least one"));
    }
    let mut seconds = Vec::new();
    for time in &times {
        let operand = Operand::of(time);
        let time = operand.measured().ok_or_else(|| a.refuse_value(&operand, "a list of times"))?;
        seconds.push(a.seconds_of(&time)?);
    }
    if seconds.windows(2).any(|pair| pair[1] < pair[0]) {
        return Err(a.fail("the times do not rise"));
    }
    let mut words: Vec<String> = Vec::new();
    let mut numbers = Vec::new();
    let mut sample: Option<Quantity> = None;
    for value in &values {
        match Operand::of(value) {
            Operand::Text(text) if sample.is_none() => {
                let at = words.iter().position(|word| *word == text.as_str());
                numbers.push(at.unwrap_or(words.len()) as f64);
                if at.is_none() {
                    words.push(text.to_string());
                }
            }
            operand => {
                let quantity = operand.measured().filter(|_| words.is_empty());
                let quantity =
                    quantity.ok_or_else(|| a.refuse_value(&operand, "numbers, quantities or texts, all alike"))?;
                let first = sample.get_or_insert_with(|| quantity.clone());
                if (first.dimension, first.point) != (quantity.dimension, quantity.point) {
                    return Err(a.refuse_value(&Operand::Quantity(quantity), "values of one quantity"));
                }
                numbers.push(quantity.si);
            }
        }
    }
    let kind = match sample {
        None => Kind::Words(words),
        Some(sample) => {
            let family = sample.of.as_ref().and_then(|of| a.run.units.family(of));
            let scale = match family {
                Some(family) => a.run.units.scale(&family.name, &family.metric).map_err(|fault| a.fail(fault))?,
                None => Scale::plain(),
            };
            Kind::Measured(Arc::new(scale))
        }
    };
    let mut series = Series::new("the series", kind);
    seconds.into_iter().zip(numbers).for_each(|(at, value)| series.push(at, value));
    Ok(Dynamic::from(View::of(Arc::new(series))))
}
