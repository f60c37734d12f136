//! How far values of several jobs lie apart, and what that says of the next one.

use serde::Serialize;
use standpipe_form::Kind;
use standpipe_job::plan::Plan;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity};
use standpipe_script::student_t;

use super::{FEWEST, Proposal};

/// All intervals of one proposal hold together with this share (Bonferroni): who looks at ten values is not misled ten times as
/// often.
pub const CONFIDENCE: f64 = 0.95;

#[derive(Clone, Debug, Serialize)]
pub struct Found {
    pub mean: Quantity,
    /// Where the mean of all such jobs lies.
    pub mean_between: (Quantity, Quantity),
    /// Where the next job lies.
    pub next_between: (Quantity, Quantity),
    pub smallest: Quantity,
    pub largest: Quantity,
    /// Jobs beyond the range that the data give.
    pub outside: usize,
    pub standing: Standing,
    /// As it would be written into the data.
    pub proposed: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// The data say nothing of it.
    Unknown,
    Agrees,
    Differs,
}

/// `facts`: how many are looked at together.
///
/// Intervals of the mean and of one further value of a normal distribution with nothing known of it: t s / sqrt(n) and
/// t s sqrt(1 + 1/n), from memory; held against numpy and scipy in the tests.
pub(super) fn found(plan: &Plan, fact: &Proposal, facts: usize) -> Option<Found> {
    let first = &fact.jobs.first().filter(|_| fact.jobs.len() >= FEWEST)?.value;
    let count = fact.jobs.len() as f64;
    // Differences to the first keep the digits of temperatures, which are large numbers in kelvin.
    let values: Vec<f64> = fact.jobs.iter().map(|job| job.value.si - first.si).collect();
    let mean = values.iter().sum::<f64>() / count;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let t = student_t(1.0 - (1.0 - CONFIDENCE) / facts.max(1) as f64 / 2.0, count - 1.0);
    let at = |off: f64| Quantity { si: first.si + off, written: None, ..first.clone() };
    let around = |half: f64| (at(mean - half), at(mean + half));
    let mean_between = around(t * (variance / count).sqrt());
    let next_between = around(t * (variance * (1.0 + 1.0 / count)).sqrt());
    let ends = |worst: fn(f64, f64) -> f64| at(values.iter().copied().fold(values[0], worst));
    let beyond = |low: &Quantity, high: &Quantity| {
        fact.jobs.iter().filter(|job| job.value.si < low.si || job.value.si > high.si).count()
    };
    let (outside, standing) = match &fact.now {
        Value::Range(low, high) => {
            let outside = beyond(low, high);
            // Of few jobs the next one may lie anywhere: then one has to have lain there.
            let sticks_out = next_between.0.si < low.si || next_between.1.si > high.si;
            (outside, if sticks_out && outside > 0 { Standing::Differs } else { Standing::Agrees })
        }
        Value::Quantity(now) => {
            let agrees = (mean_between.0.si..=mean_between.1.si).contains(&now.si);
            (0, if agrees { Standing::Agrees } else { Standing::Differs })
        }
        _ => (0, Standing::Unknown),
    };
    let proposed = proposed(plan, fact, &at(mean), &next_between)?;
    Some(Found {
        mean: at(mean),
        mean_between,
        next_between,
        smallest: ends(f64::min),
        largest: ends(f64::max),
        outside,
        standing,
        proposed,
    })
}

/// In the unit in which the data give it, else in the shop's.
fn proposed(plan: &Plan, fact: &Proposal, mean: &Quantity, next: &(Quantity, Quantity)) -> Option<String> {
    let kind = &plan.form.field(&fact.fact)?.kind;
    let (Kind::Quantity(quantity) | Kind::Range(quantity)) = kind else { return None };
    let written = match &fact.now {
        Value::Quantity(one) | Value::Range(one, _) => one.written.as_ref().map(|written| written.unit.to_string()),
        _ => None,
    };
    let own = || plan.units.shown_units(quantity, &plan.shop.style).first().map(ToString::to_string);
    let unit = written.or_else(own)?;
    let figure = |one: &Quantity| plan.units.figure(one, &unit, &Purpose::Computed { digits: 3 });
    Some(match kind {
        Kind::Range(_) => format!("{}..{} {unit}", figure(&next.0)?, figure(&next.1)?),
        _ => format!("{} {unit}", figure(mean)?),
    })
}
