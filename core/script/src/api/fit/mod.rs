//! Curves through readings, by least squares.

mod course;
mod exponential;
mod marquardt;
mod recent;
mod robust;
mod squares;
mod thinned;

use rhai::{Array, Dynamic, Map};

use self::exponential::{Unfit, approach};
use self::marquardt::{Trouble, minimise};
pub(super) use self::recent::FUNCTIONS as RECENT;
use self::squares::solve;
use super::{Arguments, Function};
use crate::guest::{Answer, Stop};
use crate::operand::{Operand, collapsed, give};
use crate::operator::faulty;
use standpipe_quantity::Quantity;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "fit_line",
        takes: &["xs", "ys"],
        about: "The straight line that fits best: slope, start (at x = 0), their standard errors, scatter, degrees; also \
                middle, the mean of xs, and level, the line there.",
        examples: &[
            ("fit_line([0, 1, 2], [1, 3, 5]).slope", "2"),
            ("fit_line([0.min, 1.min, 2.min], [20.degC, 22.degC, 24.degC]).start == 20.degC", "true"),
            ("round(fit_line([0, 1, 2, 3], [0, 1, 1, 2]).slope_error, 6) == 0.141421", "true"),
            ("fit_line([1, 1, 1], [1, 2, 3])", "error: `fit_line`: the values of x are all the same"),
        ],
        run: line,
    },
    Function {
        name: "fit_linear",
        takes: &["rows", "ys"],
        about: "The numbers that, each times its column of the rows, fit the ys best: values, errors, scatter, degrees; \
                and inverse, which times the variance of one y is the covariance of the values.",
        examples: &[
            ("fit_linear([0, 1, 2, 3].map(|x| [1, x, x * x]), [1, 2, 5, 10]).values.map(|b| round(b, 9))", "1, 0, 1"),
            (
                "fit_linear([[1, 2], [2, 4], [3, 6]], [1, 2, 3])",
                "error: `fit_linear`: the columns depend on one another, so nothing tells them apart",
            ),
        ],
        run: linear,
    },
    Function {
        name: "fit_exponential",
        takes: &["xs", "ys", "limit?"],
        about: "y = limit + (start - limit) exp(-x / constant) with the constant, limit and start that fit best, each with \
                its standard error, and scatter and degrees; the limit may be given.",
        examples: &[
            ("round(fit_exponential([0, 1, 2, 3], [8.0, 4.0, 2.0, 1.0]).constant, 6) == round(1 / ln(2), 6)", "true"),
            ("round(fit_exponential([0, 1, 2], [9, 5, 3], 1).start, 6)", "9"),
            (
                "fit_exponential([0, 1, 2, 3], [1, 2, 3, 4])",
                "error: `fit_exponential`: the values follow a straight line, so no constant can be told",
            ),
        ],
        run: exponential,
    },
    Function {
        name: "fit",
        takes: &["function", "xs", "ys", "start"],
        about: "The list of unknowns p for which `|x, p| ...` fits the ys best, searched from a start: values, errors, \
                scatter, degrees.",
        examples: &[
            ("fit(|x, p| p[0] * exp(p[1] * x), [0, 1, 2], [3, 6, 12], [1, 1]).values.map(|p| round(p, 3))", "3, 0.693"),
            (
                "fit(|x, p| p[0] + p[1], [0, 1, 2], [3, 6, 12], [1, 1])",
                "error: `fit`: two of the unknowns make the same difference, or one makes none",
            ),
        ],
        run: general,
    },
];

fn quantities(a: &Arguments<'_, '_>, index: usize) -> Result<Vec<Quantity>, Stop> {
    let list = a.list(index)?;
    let all: Vec<Quantity> = list
        .iter()
        .map(|value| {
            let operand = Operand::of(value);
            operand.measured().ok_or_else(|| a.refuse_value(&operand, "lists of numbers or quantities"))
        })
        .collect::<Result<_, Stop>>()?;
    if let Some((first, rest)) = all.split_first() {
        for other in rest {
            a.run.units.compare(first, other).map_err(faulty)?;
        }
    }
    Ok(all)
}

fn numbers(values: &[Quantity]) -> Vec<f64> {
    values.iter().map(|value| value.si).collect()
}

/// Two lists that belong together, with more entries than unknowns.
fn pairs(a: &Arguments<'_, '_>, first: usize, unknowns: usize) -> Result<(Vec<Quantity>, Vec<Quantity>), Stop> {
    let (x, y) = (quantities(a, first)?, quantities(a, first + 1)?);
    if x.len() != y.len() {
        return Err(a.fail(format!("{} values of x and {} of y", x.len(), y.len())));
    }
    if x.len() <= unknowns {
        return Err(few(a, unknowns + 1, x.len()));
    }
    Ok((x, y))
}

fn few(a: &Arguments<'_, '_>, needed: usize, given: usize) -> Stop {
    a.fail(format!("it takes at least {needed} values to tell these and how sure they are, found {given}"))
}

/// Like a value of the list, with another number.
fn like(sample: &Quantity, si: f64) -> Quantity {
    Quantity { si, written: None, ..sample.clone() }
}

/// The difference of two values like this one.
fn apart(a: &Arguments<'_, '_>, sample: &Quantity, si: f64) -> Result<Quantity, Stop> {
    let zero = a.run.units.sub(sample, sample).map_err(faulty)?;
    Ok(like(&zero, si))
}

fn record(entries: Vec<(&str, Dynamic)>) -> Answer {
    Ok(Dynamic::from_map(entries.into_iter().map(|(name, value)| (name.into(), value)).collect::<Map>()))
}

fn line(a: Arguments<'_, '_>) -> Answer {
    let (x, y) = pairs(&a, 0, 2)?;
    if x[0].point {
        return Err(a.fail("the values of x are points on a scale; subtract one of them first"));
    }
    let count = x.len() as f64;
    let middle = numbers(&x).iter().sum::<f64>() / count;
    // Differences to the first value: sums of temperatures in kelvin would lose digits.
    let level = numbers(&y).iter().map(|value| value - y[0].si).sum::<f64>() / count;
    let (mut xx, mut xy) = (0.0, 0.0);
    let beside: Vec<f64> = x.iter().map(|value| value.si - middle).collect();
    let above: Vec<f64> = y.iter().map(|value| value.si - y[0].si - level).collect();
    for (beside, above) in beside.iter().zip(&above) {
        xx += beside * beside;
        xy += beside * above;
    }
    if xx == 0.0 {
        return Err(a.fail("the values of x are all the same"));
    }
    let slope = xy / xx;
    let rest: f64 = beside.iter().zip(&above).map(|(beside, above)| (above - slope * beside).powi(2)).sum();
    let degrees = x.len() - 2;
    let scatter = (rest / degrees as f64).sqrt();
    let per_x = |si: f64| -> Answer {
        let quotient = a.run.units.div(&apart(&a, &y[0], 1.0)?, &like(&x[0], 1.0)).map_err(faulty)?;
        give(like(&quotient, si))
    };
    let start_error = scatter * (1.0 / count + middle * middle / xx).sqrt();
    record(vec![
        ("slope", per_x(slope)?),
        ("slope_error", per_x(scatter / xx.sqrt())?),
        ("start", give(like(&y[0], y[0].si + level - slope * middle))?),
        ("start_error", give(apart(&a, &y[0], start_error)?)?),
        ("middle", give(like(&x[0], middle))?),
        ("level", give(like(&y[0], y[0].si + level))?),
        ("scatter", give(apart(&a, &y[0], scatter)?)?),
        ("degrees", Dynamic::from_int(degrees as i64)),
    ])
}

fn plain_row(a: &Arguments<'_, '_>, row: &Dynamic) -> Result<Vec<f64>, Stop> {
    let wanted = "rows of plain numbers";
    let Some(row) = row.read_lock::<Array>() else { return Err(a.refuse_value(&Operand::of(row), wanted)) };
    row.iter()
        .map(|value| match Operand::of(value) {
            Operand::Number(number) => Ok(number),
            Operand::Whole(whole) => Ok(whole as f64),
            other => Err(a.refuse_value(&other, wanted)),
        })
        .collect()
}

fn linear(a: Arguments<'_, '_>) -> Answer {
    let rows: Vec<Vec<f64>> = a.list(0)?.iter().map(|row| plain_row(&a, row)).collect::<Result<_, Stop>>()?;
    let y = plain_row(&a, a.value(1))?;
    let width = rows.first().map_or(0, Vec::len);
    if width == 0 || rows.len() != y.len() || rows.iter().any(|row| row.len() != width) {
        return Err(a.fail(format!("{} rows and {} values; all rows have as many numbers", rows.len(), y.len())));
    }
    let count = rows.len();
    if count <= width {
        return Err(few(&a, width + 1, count));
    }
    let solution =
        solve(rows, y).ok_or_else(|| a.fail("the columns depend on one another, so nothing tells them apart"))?;
    let degrees = count - width;
    let list = |values: &[f64]| Dynamic::from_array(values.iter().map(|value| Dynamic::from_float(*value)).collect());
    let inverse = solution.inverse.iter().map(|row| list(row)).collect();
    record(vec![
        ("values", list(&solution.x)),
        ("errors", list(&solution.errors(degrees))),
        ("inverse", Dynamic::from_array(inverse)),
        ("scatter", Dynamic::from_float((solution.rest / degrees as f64).sqrt())),
        ("degrees", Dynamic::from_int(degrees as i64)),
    ])
}

fn exponential(a: Arguments<'_, '_>) -> Answer {
    let (x, y) = pairs(&a, 0, if a.count() == 3 { 2 } else { 3 })?;
    if x[0].point {
        return Err(a.fail("the values of x are points on a scale; subtract one of them first"));
    }
    let limit = if a.count() == 3 { Some(a.quantity(2)?) } else { None };
    if let Some(limit) = &limit {
        a.run.units.compare(limit, &y[0]).map_err(faulty)?;
    }
    // From the first value on, so that kelvins are no large numbers.
    let zero = y[0].si;
    let values: Vec<f64> = y.iter().map(|y| y.si - zero).collect();
    let fit =
        approach(&numbers(&x), &values, limit.as_ref().map(|limit| limit.si - zero)).map_err(|unfit| match unfit {
            Unfit::Few(needed) => few(&a, needed, x.len()),
            Unfit::Straight => a.fail("the values follow a straight line, so no constant can be told"),
            Unfit::Sudden => a.fail("the values change all at once, so no constant can be told"),
            Unfit::Unclear => a.fail("no curve of this kind fits the values"),
            Unfit::Endless => a.fail("the search for the curve did not finish, which says nothing about the values"),
        })?;
    let difference = |si: f64| -> Answer { give(apart(&a, &y[0], si)?) };
    record(vec![
        ("constant", give(like(&x[0], fit.constant))?),
        ("constant_error", give(like(&x[0], fit.errors[0]))?),
        ("limit", give(like(&y[0], zero + fit.limit))?),
        ("limit_error", difference(fit.errors[1])?),
        ("start", give(like(&y[0], zero + fit.start))?),
        ("start_error", difference(fit.errors[2])?),
        ("scatter", difference((fit.rest / fit.degrees as f64).sqrt())?),
        ("degrees", Dynamic::from_int(fit.degrees as i64)),
    ])
}

fn general(a: Arguments<'_, '_>) -> Answer {
    let function = a.function(0)?;
    let start: Vec<Quantity> = a
        .list(3)?
        .iter()
        .map(|value| {
            let operand = Operand::of(value);
            operand.measured().ok_or_else(|| a.refuse_value(&operand, "a list of numbers or quantities to start from"))
        })
        .collect::<Result<_, Stop>>()?;
    if start.is_empty() {
        return Err(a.fail("nothing to search for: the start is empty"));
    }
    let (x, y) = pairs(&a, 1, start.len())?;
    let given: Vec<Dynamic> = a.list(1)?;
    let mut rest = |p: &[f64]| -> Result<Vec<f64>, Stop> {
        let unknowns: Array = start.iter().zip(p).map(|(start, si)| collapsed(like(start, *si))).collect();
        given
            .iter()
            .zip(&y)
            .map(|(x, y)| {
                let computed = function
                    .call_within_context::<Dynamic>(a.context, (x.clone(), Dynamic::from_array(unknowns.clone())))?;
                let operand = Operand::of(&computed);
                let computed =
                    operand.measured().ok_or_else(|| a.refuse_value(&operand, "a function that gives such values"))?;
                a.run.units.compare(&computed, y).map_err(faulty)?;
                Ok(y.si - computed.si)
            })
            .collect()
    };
    let from = numbers(&start);
    let typical: Vec<f64> = from.iter().map(|value| if *value == 0.0 { 1.0 } else { value.abs() }).collect();
    let (found, solution) = minimise(&from, &typical, &mut rest).map_err(|trouble| match trouble {
        Trouble::Failed(stop) => stop,
        Trouble::Dependent => a.fail("two of the unknowns make the same difference, or one makes none"),
        Trouble::Endless => a.fail("the search found no end; start closer to the answer"),
    })?;
    let degrees = x.len() - start.len();
    let errors = solution.errors(degrees);
    let values: Array = start.iter().zip(&found).map(|(start, si)| collapsed(like(start, *si))).collect();
    let errors: Array = start
        .iter()
        .zip(&errors)
        .map(|(start, si)| Ok(collapsed(apart(&a, start, *si)?)))
        .collect::<Result<_, Stop>>()?;
    record(vec![
        ("values", Dynamic::from_array(values)),
        ("errors", Dynamic::from_array(errors)),
        ("scatter", give(apart(&a, &y[0], (solution.rest / degrees as f64).sqrt())?)?),
        ("degrees", Dynamic::from_int(degrees as i64)),
    ])
}
