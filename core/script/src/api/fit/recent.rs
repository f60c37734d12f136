//! What recent readings say about the next ones: wild values left out, thinned, and how they go on.

use rhai::Dynamic;

use super::course::{Beliefs, courses, reached};
use super::robust::robust;
use super::thinned::{beside, edges, thin};
use super::{Arguments, Function, plain_row, record};
use crate::guest::{Answer, Stop};

pub(in crate::api) const FUNCTIONS: &[Function] = &[
    Function {
        name: "fit_robust",
        takes: &["rows", "ys", "least?"],
        about: "As `fit_linear`, but what lies far off counts less or not at all: values, scatter, and weights from 0 to 1; \
                least is a scatter below which nothing is told apart.",
        examples: &[
            ("fit_robust([0, 1, 2, 3, 4].map(|x| [1, x]), [1, 3, 90, 7, 9]).values.map(|b| round(b, 6))", "1, 2"),
            ("fit_robust([0, 1, 2, 3, 4].map(|x| [1, x]), [1, 3, 90, 7, 9]).weights[2]", "0"),
        ],
        run: robustly,
    },
    Function {
        name: "when_reached",
        takes: &["xs", "ys", "noises", "targets", "ask"],
        about: "How far beyond x = 0 a series that rises, and whose rate dies away, gets above each target, with each of the \
                probabilities `ask.shares`: for each target a list of as many of them as are reached within `ask.far`. What is held \
                possible stands in `ask` too: constants `settles` of the rate, `fades` of what adds to it and is gone soon; in \
                shares of the rate how it may tremble (`trembles`), be more or less at first (`ahead`, with the probability \
                `ahead_share`), `wander` for each root of x, and `jump`, once in `every`. Each y is off by its noise.",
        examples: &[(
            "when_reached([-3, -2, -1, 0], [2, 4, 6, 8], [0.1, 0.1, 0.1, 0.1], [18], #{ shares: [0.5], far: 20, \
             settles: [1e6], fades: [1], trembles: [0.001], ahead: 0, ahead_share: 0.5, wander: 0, jump: 0, every: 1 })\
             .map(|one| round(one[0], 1))",
            "5",
        )],
        run: reaching,
    },
    Function {
        name: "thin",
        takes: &["xs", "ys", "stretches"],
        about: "Means of the xs and of the ys over this many stretches of equal length: a list of x, y and count; empty \
                stretches are left out.",
        examples: &[("thin([0, 1, 2, 3], [5, 7, 9, 11], 2).map(|one| one.y)", "6, 10")],
        run: thinned,
    },
    Function {
        name: "beside",
        takes: &["xs", "ys"],
        about: "How far each y but the first and the last is off the line between its neighbours, scaled to scatter as a single y \
                does: for a scatter without a curve, and for wild values.",
        examples: &[("beside([0, 1, 2, 3, 4], [0, 1, 2, 9, 4]).map(|one| round(one, 3))", "0, 2.449, 4.899")],
        run: beside_neighbours,
    },
    Function {
        name: "edges",
        takes: &["xs", "ys", "within"],
        about: "Where a value that is shown in steps goes from one to the next: a list of x between the two, y halfway, and count; \
                a step back within this much of x counts as the same one.",
        examples: &[
            ("edges([0, 1, 2, 3, 4], [5, 5, 6, 6, 7], 1).map(|one| one.x)", "1.5, 3.5"),
            ("edges([0, 1, 2, 3, 4], [5, 6, 5, 6, 6], 9).map(|one| one.count)", "3"),
        ],
        run: edged,
    },
];

fn robustly(a: Arguments<'_, '_>) -> Answer {
    let rows: Vec<Vec<f64>> = a.list(0)?.iter().map(|row| plain_row(&a, row)).collect::<Result<_, Stop>>()?;
    let y = plain_row(&a, a.value(1))?;
    let least = if a.count() == 3 { a.number(2)? } else { 0.0 };
    let width = rows.first().map_or(0, Vec::len);
    if width == 0 || rows.len() != y.len() || rows.iter().any(|row| row.len() != width) || rows.len() <= width {
        return Err(a.fail(format!("{} rows and {} values; all rows have as many numbers", rows.len(), y.len())));
    }
    let fit = robust(&rows, &y, least)
        .ok_or_else(|| a.fail("the columns depend on one another, so nothing tells them apart"))?;
    record(vec![
        ("values", numbers(&fit.x)),
        ("weights", numbers(&fit.weights)),
        ("scatter", Dynamic::from_float(fit.scatter)),
    ])
}

fn numbers(values: &[f64]) -> Dynamic {
    Dynamic::from_array(values.iter().map(|value| Dynamic::from_float(*value)).collect())
}

fn reaching(a: Arguments<'_, '_>) -> Answer {
    let lists = [0, 1, 2, 3].map(|index| plain_row(&a, a.value(index)));
    let [x, y, noise, targets] = lists;
    let (x, y, noise, targets) = (x?, y?, noise?, targets?);
    let ask = a.record(4)?;
    let part = |name: &str| ask.get(name).ok_or_else(|| a.fail(format!("`{name}` is missing in what is asked")));
    let list = |name: &str| plain_row(&a, part(name)?);
    let number = |name: &str| -> Result<f64, Stop> {
        let row = plain_row(&a, &Dynamic::from_array(vec![part(name)?.clone()]))?;
        Ok(row[0])
    };
    let (shares, far) = (list("shares")?, number("far")?);
    let beliefs = Beliefs {
        settles: list("settles")?,
        fades: list("fades")?,
        trembles: list("trembles")?,
        ahead: number("ahead")?,
        ahead_share: number("ahead_share")?,
        wander: number("wander")?,
        jump: number("jump")?,
        every: number("every")?,
    };
    if x.len() != y.len() || x.len() != noise.len() || x.len() < 2 || x.len() > MOST {
        return Err(a.fail(format!(
            "{} xs, {} ys and {} noises; it takes from 2 to {MOST}",
            x.len(),
            y.len(),
            noise.len()
        )));
    }
    if x.windows(2).any(|pair| pair[1] <= pair[0]) || x[x.len() - 1] > 0.0 {
        return Err(a.fail("the xs have to rise, up to 0 at most"));
    }
    let members = beliefs.settles.len() * beliefs.fades.len() * beliefs.trembles.len();
    let positive = [&beliefs.settles, &beliefs.fades, &beliefs.trembles, &noise];
    if positive.into_iter().flatten().any(|value| *value <= 0.0) || !(1..=MOST_COURSES).contains(&members) {
        return Err(
            a.fail(format!("constants, trembles and noises are more than nothing, at most {MOST_COURSES} together"))
        );
    }
    let sizes = [beliefs.ahead, beliefs.wander, beliefs.jump];
    if sizes.iter().any(|size| *size < 0.0) || beliefs.every <= 0.0 || far <= 0.0 {
        return Err(a.fail("ahead, wander and jump are not negative, every and far more than nothing"));
    }
    let share = |share: &f64| *share > 0.0 && *share < 1.0;
    if !share(&beliefs.ahead_share) || !shares.iter().all(share) || shares.windows(2).any(|pair| pair[1] < pair[0]) {
        return Err(a.fail("probabilities lie between 0 and 1, and the shares rise"));
    }
    let found = courses(&x, &y, &noise, &beliefs);
    let by = -x[x.len() - 1];
    let times = targets.iter().map(|target| numbers(&reached(&found, by, *target, far, &shares)));
    Ok(Dynamic::from_array(times.collect()))
}

/// No source: own choice, so that one call stays within some milliseconds.
const MOST: usize = 400;
const MOST_COURSES: usize = 100;

fn edged(a: Arguments<'_, '_>) -> Answer {
    let (x, y) = (plain_row(&a, a.value(0))?, plain_row(&a, a.value(1))?);
    if x.len() != y.len() || x.windows(2).any(|pair| pair[1] < pair[0]) {
        return Err(a.fail("as many xs as ys, and the xs have to rise"));
    }
    places(edges(&x, &y, a.number(2)?))
}

fn beside_neighbours(a: Arguments<'_, '_>) -> Answer {
    let (x, y) = (plain_row(&a, a.value(0))?, plain_row(&a, a.value(1))?);
    if x.len() != y.len() || x.len() < 3 || x.windows(2).any(|pair| pair[1] <= pair[0]) {
        return Err(a.fail("as many xs as ys, three at least, and the xs have to rise"));
    }
    Ok(numbers(&beside(&x, &y)))
}

fn places(found: Vec<(f64, f64, usize)>) -> Answer {
    let one = |(x, y, count): (f64, f64, usize)| {
        record(vec![
            ("x", Dynamic::from_float(x)),
            ("y", Dynamic::from_float(y)),
            ("count", Dynamic::from_int(count as i64)),
        ])
    };
    Ok(Dynamic::from_array(found.into_iter().map(one).collect::<Result<_, Stop>>()?))
}

fn thinned(a: Arguments<'_, '_>) -> Answer {
    let (x, y) = (plain_row(&a, a.value(0))?, plain_row(&a, a.value(1))?);
    let stretches = usize::try_from(a.whole(2, "stretches")?).unwrap_or(0);
    if x.len() != y.len() || x.is_empty() || stretches == 0 || stretches > 1000 {
        return Err(a.fail("as many xs as ys, one at least, and from 1 to 1000 stretches"));
    }
    if x.windows(2).any(|pair| pair[1] < pair[0]) {
        return Err(a.fail("the xs have to rise"));
    }
    places(thin(&x, &y, stretches))
}
