//! How a number is spread over jobs, as counts that add up in any order.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use standpipe_job::State;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

/// What every job has, whatever procedure and model say.
pub const TIME: &str = "time";
pub const ENTRIES: &str = "entries";
/// Before the id of a step that repeats others.
pub const ROUNDS: &str = "rounds of ";

/// A number of one job.
#[derive(Clone, Debug, PartialEq)]
pub struct OfJob {
    pub name: String,
    pub unit: String,
    pub value: f64,
}

/// Jobs by a number that they have.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpreadOf {
    pub unit: String,
    /// By the number with three digits, in millionths of the unit.
    pub jobs: BTreeMap<i64, u64>,
}

const MILLIONTHS: f64 = 1e6;

impl SpreadOf {
    pub fn add(&mut self, value: f64) {
        if value.is_finite() {
            *self.jobs.entry((three_digits(value) * MILLIONTHS).round() as i64).or_default() += 1;
        }
    }

    pub fn merge(&mut self, other: Self) {
        for (value, jobs) in other.jobs {
            *self.jobs.entry(value).or_default() += jobs;
        }
    }

    pub fn count(&self) -> u64 {
        self.jobs.values().sum()
    }

    /// Numbers with the jobs that have them, the smallest first.
    pub fn values(&self) -> impl Iterator<Item = (f64, u64)> {
        self.jobs.iter().map(|(value, jobs)| (*value as f64 / MILLIONTHS, *jobs))
    }

    /// The smallest number that at least this share of jobs does not pass.
    pub fn quantile(&self, share: f64) -> Option<f64> {
        let wanted = share * self.count() as f64;
        let mut so_far = 0;
        let found = self.values().find(|(_, jobs)| {
            so_far += jobs;
            so_far as f64 >= wanted - 1e-9
        });
        found.or(self.values().last()).map(|(value, _)| value)
    }
}

/// So that a table of millions of jobs stays small, and what is counted is exact up to a thousand.
fn three_digits(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let step = libm::pow(10.0, libm::floor(libm::log10(value.abs())) - 2.0);
    libm::round(value / step) * step
}

/// What the procedure tells of a job in a table of many, as far as it is numbers; under the name that matters what the model
/// says does.
pub(crate) fn told(plan: &Plan, state: &State, matters: Option<(&str, &Quantity)>) -> Vec<OfJob> {
    let names = JobNames::in_the_end(plan, state);
    let columns = plan.procedures.get(&plan.procedure).map(|root| &root.columns);
    let found = columns.into_iter().flatten().filter_map(|(name, expression)| {
        match expression.evaluate(&plan.scripts, &names).ok()? {
            Value::Quantity(quantity) => in_its_unit(plan, name, &quantity),
            Value::Number(number) => Some(OfJob { name: name.clone(), unit: String::new(), value: number }),
            _ => None,
        }
    });
    found.chain(matters.and_then(|(name, quantity)| in_its_unit(plan, name, quantity))).collect()
}

fn in_its_unit(plan: &Plan, name: &str, quantity: &Quantity) -> Option<OfJob> {
    let unit = if quantity.is_plain() { String::new() } else { plan.units.unit_shown(quantity, &plan.shop.style) };
    let value = if unit.is_empty() { quantity.si } else { plan.units.convert(quantity, &unit).ok()? };
    Some(OfJob { name: name.to_owned(), unit, value })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, of 1 to 10: half of them are at most 5, nine tenths at most 9, all at most 10.
    #[test]
    fn quantiles_are_those_of_the_numbers() {
        let mut spread = SpreadOf::default();
        (1..=10).rev().for_each(|number| spread.add(f64::from(number)));
        let at = |share| spread.quantile(share);
        assert_eq!([at(0.5), at(0.51), at(0.9), at(1.0)], [Some(5.0), Some(6.0), Some(9.0), Some(10.0)]);
        assert_eq!((at(0.0), SpreadOf::default().quantile(0.5)), (Some(1.0), None));
    }

    #[test]
    fn parts_add_up_in_any_order_and_keep_three_digits() {
        let of = |numbers: &[f64]| {
            let mut spread = SpreadOf::default();
            numbers.iter().for_each(|number| spread.add(*number));
            spread
        };
        let (mut one, other) = (of(&[4.1237, -0.25, 71.0]), of(&[4.1199, f64::NAN, 0.0]));
        one.merge(other);
        assert_eq!(one, of(&[0.0, 71.0, 4.1199, -0.25, 4.1237]));
        assert_eq!(one.values().collect::<Vec<_>>(), [(-0.25, 1), (0.0, 1), (4.12, 2), (71.0, 1)]);
        assert_eq!(
            of(&[697.4, 1234.0, 0.001_234]).values().map(|(value, _)| value).collect::<Vec<_>>(),
            [0.001_23, 697.0, 1230.0]
        );
    }
}
