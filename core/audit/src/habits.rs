//! What no rule forbids and nobody believes: everything ticked in one minute, every reading a round one.
//!
//! Neither proves anything, so neither is more than "not shown".

use std::collections::VecDeque;

use standpipe_job::Moment;

use super::point::{Point, Verdict};
use super::seen::{Look, Seen};
use standpipe_job::names::seconds_between;
use standpipe_job::plan::Plan;
use standpipe_job::replay::entered;
use standpipe_job::{Address, Event};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

/// Nobody does so many steps in a minute.
const MOST_IN_A_MINUTE: usize = 6;
/// Fewer say nothing.
const FEWEST_ENTRIES: usize = 3;
const FEWEST_READINGS: usize = 8;
/// Of the ten last digits, 0 and 5 are round.
const ROUND_BY_CHANCE: f64 = 0.2;
/// Chance makes so many round ones in one job of a thousand.
const BELIEVED: f64 = 1e-3;

pub struct Habits {
    pace: Point,
    digits: Point,
    window: VecDeque<(Moment, Address)>,
    busiest: Option<(usize, u64, Moment)>,
    entries: usize,
    last: Option<Address>,
    round: usize,
    readings: usize,
}

impl Habits {
    pub fn new(file: &str) -> Self {
        Self {
            pace: Point::new("pace of entries", file),
            digits: Point::new("round readings", file),
            window: VecDeque::new(),
            busiest: None,
            entries: 0,
            last: None,
            round: 0,
            readings: 0,
        }
    }

    fn entry(&mut self, line: u64, at: Moment, address: Address) {
        // The items of one step may be confirmed together.
        if self.last.as_ref() == Some(&address) {
            return;
        }
        self.last = Some(address.clone());
        self.entries += 1;
        self.window.push_back((at, address));
        while self.window.front().is_some_and(|(first, _)| seconds_between(*first, at) > 60.0) {
            self.window.pop_front();
        }
        let first = self.window.front().map_or(at, |(first, _)| *first);
        if self.busiest.is_none_or(|(most, ..)| self.window.len() > most) {
            self.busiest = Some((self.window.len(), line, first));
        }
    }
}

impl Look for Habits {
    fn see(&mut self, seen: &Seen<'_>) {
        let Event::Entered { address, values, with, .. } = &seen.record.event else { return };
        self.entry(seen.line(), entered(seen.record), address.whole());
        for name in with.keys() {
            let Some(Value::Quantity(value)) = values.get(name) else { continue };
            // The ends of scales are round, and nobody's choice.
            if seen.plan.scale_end(&address.step, name).is_some() {
                continue;
            }
            if let Some(round) = with.get(name).and_then(|id| is_round(seen.plan, id, value)) {
                self.readings += 1;
                self.round += usize::from(round);
            }
        }
    }

    fn points(mut self: Box<Self>) -> Vec<Point> {
        self.pace.looked_at = self.entries as u64;
        self.digits.looked_at = self.readings as u64;
        if let Some((most, line, first)) = self.busiest
            && (most >= MOST_IN_A_MINUTE || (most == self.entries && most >= FEWEST_ENTRIES))
        {
            let message = format!("{most} of {} steps were entered within one minute from {first}", self.entries);
            self.pace.unshown(line, message);
        }
        let (round, all) = (self.round, self.readings);
        if all >= FEWEST_READINGS && at_least_by_chance(round, all) < BELIEVED {
            let share = 100 * round / all;
            let message = format!("{round} of {all} readings ({share} %) end in 0 or 5; one in five would by chance");
            self.digits.find(Verdict::NotShown, None, message);
        }
        vec![self.pace, self.digits]
    }
}

/// Whether the last digit that the instrument shows is 0 or 5. `None` where its scale is not known, is itself one of
/// fives, or reads zero, as a scale that was set to zero does.
fn is_round(plan: &Plan, instrument: &str, value: &Quantity) -> Option<bool> {
    let resolution = plan.shop.instruments.get(instrument)?.resolution.as_ref()?;
    let written = value.written.as_ref()?;
    let unit = plan.units.family(value.of.as_deref()?)?.unit(&written.unit)?;
    let step = unit.from_si(value.si + resolution.si) - unit.from_si(value.si);
    let (ticks, digits) = (written.value / step, step / 10f64.powf((step.log10() + 1e-9).floor()));
    let is_a_ten = (digits - 1.0).abs() < 1e-6;
    if !is_a_ten || !ticks.is_finite() || ticks.round() == 0.0 || ticks.abs() > 1e9 {
        return None;
    }
    let near = |multiple: f64| (ticks / multiple - (ticks / multiple).round()).abs() * multiple < 1e-3;
    Some(near(5.0))
}

/// The probability that of `all` readings at least so many are round.
fn at_least_by_chance(round: usize, all: usize) -> f64 {
    let (p, mut sum) = (ROUND_BY_CHANCE, 0.0);
    let mut term = (1.0 - p).powi(i32::try_from(all).unwrap_or(i32::MAX));
    for k in 0..=all {
        if k >= round {
            sum += term;
        }
        term *= (all - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chance_is_that_of_the_binomial_distribution() {
        // computed by hand: 1 - 0.8^10, and 0.2^3
        assert!((at_least_by_chance(1, 10) - 0.892_625_817_6).abs() < 1e-12);
        assert!((at_least_by_chance(3, 3) - 0.008).abs() < 1e-15);
        assert!((at_least_by_chance(0, 5) - 1.0).abs() < 1e-12);
    }
}
