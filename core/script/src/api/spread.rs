//! How values scatter.

use super::{Arguments, Function};
use crate::guest::{Answer, Stop};
use crate::operand::{Operand, collapsed, give, give_number};
use crate::operator::faulty;
use standpipe_quantity::Quantity;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "quantile",
        takes: &["list", "share"],
        about: "The value below which this share of a list lies, on straight lines between its entries; 0.5 is the median.",
        examples: &[
            ("quantile([4, 1, 3, 2], 0.5)", "2.5"),
            ("quantile([10.degC, 20.degC, 30.degC], 0.25) == 15.degC", "true"),
            ("quantile([1, 2], 1.5)", "error: `quantile`: a share lies from 0 to 1"),
        ],
        run: quantile,
    },
    Function {
        name: "deviation",
        takes: &["list"],
        about: "The standard deviation of the entries of a list as a sample, with one less than their number below.",
        examples: &[
            ("deviation([2, 4, 4, 4, 5, 5, 7, 9]) == sqrt(32 / 7)", "true"),
            ("deviation([20.degC, 22.degC, 24.degC]) == 2.degC_diff", "true"),
            ("deviation([1])", "error: `deviation`: one value has no spread"),
        ],
        run: deviation,
    },
    Function {
        name: "student",
        takes: &["share", "degrees"],
        about: "The value below which this share of Student's t lies, for so many degrees of freedom.",
        examples: &[
            ("round(student(0.975, 10), 6) == 2.228139", "true"),
            ("round(student(0.975, 1), 6) == 12.706205", "true"),
            ("student(1, 5)", "error: `student`: a share lies between 0 and 1"),
        ],
        run: student,
    },
];

fn measured(a: &Arguments<'_, '_>) -> Result<Vec<Quantity>, Stop> {
    let all: Vec<Quantity> = a
        .list(0)?
        .iter()
        .map(|value| {
            let operand = Operand::of(value);
            operand.measured().ok_or_else(|| a.refuse_value(&operand, "a list of numbers or quantities"))
        })
        .collect::<Result<_, Stop>>()?;
    let Some((first, rest)) = all.split_first() else { return Err(a.fail("the list is empty")) };
    for other in rest {
        a.run.units.compare(first, other).map_err(faulty)?;
    }
    Ok(all)
}

/// Source: definition 7 of Hyndman and Fan 1996, the one that spreadsheets use, from memory.
fn quantile(a: Arguments<'_, '_>) -> Answer {
    let share = a.number(1)?;
    if !(0.0..=1.0).contains(&share) {
        return Err(a.fail("a share lies from 0 to 1"));
    }
    let mut all = measured(&a)?;
    all.sort_by(|x, y| x.si.total_cmp(&y.si));
    let at = share * (all.len() - 1) as f64;
    let (low, high) = (&all[at.floor() as usize], &all[at.ceil() as usize]);
    Ok(collapsed(Quantity { si: low.si + (high.si - low.si) * at.fract(), written: None, ..low.clone() }))
}

fn deviation(a: Arguments<'_, '_>) -> Answer {
    let all = measured(&a)?;
    if all.len() < 2 {
        return Err(a.fail("one value has no spread"));
    }
    // Differences to the first keep the digits of temperatures, which are large numbers in kelvin.
    let count = all.len() as f64;
    let mean = all.iter().map(|one| one.si - all[0].si).sum::<f64>() / count;
    let squares: f64 = all.iter().map(|one| (one.si - all[0].si - mean).powi(2)).sum();
    let zero = a.run.units.sub(&all[0], &all[0]).map_err(faulty)?;
    give(Quantity { si: (squares / (count - 1.0)).sqrt(), ..zero })
}

fn student(a: Arguments<'_, '_>) -> Answer {
    let (share, degrees) = (a.number(0)?, a.number(1)?);
    if share <= 0.0 || share >= 1.0 {
        return Err(a.fail("a share lies between 0 and 1"));
    }
    if degrees < 1.0 {
        return Err(a.fail("it takes at least one degree of freedom"));
    }
    give_number(student_t(share, degrees))
}

/// The quantile of Student's t: below it lies this share (between 0 and 1) with so many degrees of freedom (at least 1).
/// Source: the incomplete beta function below; compared with scipy 1.17.1, rounded with the table in GUM G.2.
pub fn student_t(share: f64, degrees: f64) -> f64 {
    let tail = share.min(1.0 - share);
    // Half of the share that lies beyond t on both sides; it falls as t grows.
    let beyond = |t: f64| 0.5 * incomplete_beta(degrees / (degrees + t * t), degrees / 2.0, 0.5);
    let (mut low, mut high) = (0.0, 1.0);
    while beyond(high) > tail && high < 1e150 {
        high *= 2.0;
    }
    for _ in 0..200 {
        let middle = (low + high) / 2.0;
        if beyond(middle) > tail { low = middle } else { high = middle }
    }
    let t = (low + high) / 2.0;
    if share < 0.5 { -t } else { t }
}

/// The regularised incomplete beta function by its continued fraction.
/// Source: Abramowitz and Stegun 26.5.8, evaluated after Lentz 1976, from memory; compared with scipy 1.17.1.
fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 || x >= 1.0 {
        return if x <= 0.0 { 0.0 } else { 1.0 };
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - incomplete_beta(1.0 - x, b, a);
    }
    let front = (ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b) + a * x.ln() + b * (1.0 - x).ln()).exp() / a;
    let never_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / never_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..500 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / never_zero(1.0 + even * d);
        c = never_zero(1.0 + even / c);
        fraction *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / never_zero(1.0 + odd * d);
        c = never_zero(1.0 + odd / c);
        fraction *= d * c;
        if (d * c - 1.0).abs() < 1e-16 {
            break;
        }
    }
    front * fraction
}

/// Source: the asymptotic series of Stirling (Abramowitz and Stegun 6.1.41), with the argument raised above 15 first.
fn ln_gamma(mut x: f64) -> f64 {
    let mut below = 0.0;
    while x < 15.0 {
        below += x.ln();
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    let series = (1.0 / 12.0 - y * (1.0 / 360.0 - y * (1.0 / 1260.0 - y * (1.0 / 1680.0 - y / 1188.0)))) / x;
    (x - 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + series - below
}
