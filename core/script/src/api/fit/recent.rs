//! What recent readings say about the next ones: wild values left out, thinned, and the trend they end in.

use rhai::{Array, Dynamic};

use super::robust::robust;
use super::trend::{Trend, thin, trend};
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
        name: "fit_trend",
        takes: &["xs", "ys", "noises", "wander", "settle"],
        about: "Level and rate at the last x, with the variance of each and their covariance, when the rate wanders by so \
                much for each root of x and dies away with the constant settle; each y is off by its noise.",
        examples: &[
            ("round(fit_trend([0, 1, 2, 3], [5, 7, 9, 11], [0.1, 0.1, 0.1, 0.1], 0, 1e9).rate, 6)", "2"),
            ("fit_trend([0, 0], [5, 5], [1, 1], 0, 1)", "error: `fit_trend`: the xs have to rise"),
        ],
        run: trending,
    },
    Function {
        name: "trend_ahead",
        takes: &["trend", "by", "wander", "settle"],
        about: "What `fit_trend` found, so much further on: level, rate and their variances.",
        examples: &[(
            "round(trend_ahead(fit_trend([0, 1, 2], [5, 7, 9], [0.1, 0.1, 0.1], 0, 1e9), 3, 0, 1e9).level, 4)",
            "15",
        )],
        run: further,
    },
    Function {
        name: "thin",
        takes: &["xs", "ys", "stretches"],
        about: "Means of the xs and of the ys over so many stretches of equal length: a list of x, y and count; stretches \
                without any are left out.",
        examples: &[("thin([0, 1, 2, 3], [5, 7, 9, 11], 2).map(|one| one.y)", "6, 10")],
        run: thinned,
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

fn trending(a: Arguments<'_, '_>) -> Answer {
    let lists = [0, 1, 2].map(|index| plain_row(&a, a.value(index)));
    let [x, y, noise] = lists;
    let (x, y, noise) = (x?, y?, noise?);
    let (wander, settle) = going(&a, 3)?;
    if x.len() != y.len() || x.len() != noise.len() || x.len() < 2 {
        return Err(a.fail(format!(
            "{} xs, {} ys and {} noises; it takes two at least",
            x.len(),
            y.len(),
            noise.len()
        )));
    }
    if x.windows(2).any(|pair| pair[1] <= pair[0]) {
        return Err(a.fail("the xs have to rise"));
    }
    let found = trend(&x, &y, &noise, wander, settle).ok_or_else(|| a.fail("without any noise nothing is weighed"))?;
    shown(&found)
}

/// Wander and settling, from an argument on.
fn going(a: &Arguments<'_, '_>, from: usize) -> Result<(f64, f64), Stop> {
    let (wander, settle) = (a.number(from)?, a.number(from + 1)?);
    if wander < 0.0 || settle <= 0.0 {
        return Err(a.fail("wander is not negative, settle is more than nothing"));
    }
    Ok((wander, settle))
}

fn shown(found: &Trend) -> Answer {
    let [level, both, rate] = found.variance;
    record(vec![
        ("level", Dynamic::from_float(found.level)),
        ("rate", Dynamic::from_float(found.rate)),
        ("level_variance", Dynamic::from_float(level)),
        ("covariance", Dynamic::from_float(both)),
        ("rate_variance", Dynamic::from_float(rate)),
    ])
}

fn further(a: Arguments<'_, '_>) -> Answer {
    let given = a.record(0)?;
    let part = |name: &str| -> Result<f64, Stop> {
        given
            .get(name)
            .and_then(|value| value.as_float().ok())
            .ok_or_else(|| a.fail("the trend is what `fit_trend` gives"))
    };
    let found = Trend {
        level: part("level")?,
        rate: part("rate")?,
        variance: [part("level_variance")?, part("covariance")?, part("rate_variance")?],
    };
    let by = a.number(1)?;
    if by < 0.0 {
        return Err(a.fail("further on, not back"));
    }
    let (wander, settle) = going(&a, 2)?;
    shown(&found.ahead(by, wander, settle))
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
    let list: Array = thin(&x, &y, stretches)
        .into_iter()
        .map(|(x, y, count)| {
            record(vec![
                ("x", Dynamic::from_float(x)),
                ("y", Dynamic::from_float(y)),
                ("count", Dynamic::from_int(count as i64)),
            ])
        })
        .collect::<Result<_, Stop>>()?;
    Ok(Dynamic::from_array(list))
}
