//! Which of the quantities that are drawn of a unit moves most what matters in the end: what is worth measuring better.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use standpipe_quantity::Quantity;

use crate::at_hand::Passing;
use crate::bench::Bench;
use crate::draw::Draws;
use crate::outcome::{Claim, Outcome};
use crate::person::Person;
use crate::simulation::{Failed, Settings};

/// What moves the number that matters.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Inputs {
    /// Jobs that came out shown: only of these it is the number at which the work ended.
    pub jobs: u64,
    /// Its mean and its standard deviation over them.
    pub mean: Option<Quantity>,
    pub deviation: f64,
    /// The largest first.
    pub moves: Vec<Moves>,
}

/// The share of the variance that would be gone if this one quantity were the same in all units, together with others or alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Moves {
    pub name: String,
    /// Pairs of jobs that differ in it alone, both shown.
    pub pairs: u64,
    pub share: f64,
    /// The interval of 95 %, from the spread of the pairs.
    pub low: f64,
    pub high: f64,
}

/// Seeds of the units that give their quantities away: any other will do. Own choice.
const OTHER: u64 = 0x9e37_79b9_7f4a_7c15;
/// Standard deviations that hold 95 % of a normal number.
const DEVIATIONS: f64 = 1.959_964;

impl Settings {
    /// Does each run again with one quantity of another unit, for each that the model draws; on this thread.
    ///
    /// Fewer runs where `stop` is set meanwhile.
    pub fn inputs(&self, bench: &Bench<'_>, runs: Range<u32>, stop: &AtomicBool) -> Result<Inputs, Failed> {
        let names: Vec<&String> = bench.model.draws.keys().collect();
        let mut base: Vec<Quantity> = Vec::new();
        let mut pairs: Vec<Vec<(f64, f64)>> = vec![Vec::new(); names.len()];
        for run in runs {
            if stop.load(Ordering::Relaxed) {
                break;
            }
            let Some(own) = shown(self.one(bench, run)?) else { continue };
            for (name, pairs) in names.iter().zip(&mut pairs) {
                pairs.extend(shown(self.exchanged(bench, run, name)?).map(|other| (own.si, other.si)));
            }
            base.push(own);
        }
        let numbers: Vec<f64> = base.iter().map(|quantity| quantity.si).collect();
        let (mean, variance) = moments(&numbers);
        let of =
            |(name, pairs): (&&String, &Vec<(f64, f64)>)| total(pairs, variance).map(|share| named(name, pairs, share));
        let mut moves: Vec<Moves> = names.iter().zip(&pairs).filter_map(of).collect();
        moves.sort_by(|one, other| other.share.total_cmp(&one.share).then(one.name.cmp(&other.name)));
        let mean = base.first().map(|quantity| Quantity { si: mean, written: None, ..quantity.clone() });
        Ok(Inputs { jobs: numbers.len() as u64, mean, deviation: variance.sqrt(), moves })
    }

    /// A run with one quantity of another unit.
    fn exchanged(&self, bench: &Bench<'_>, run: u32, name: &str) -> Result<Outcome, Failed> {
        let own = self.draws(run);
        let other = Draws { seed: self.seed ^ OTHER, run };
        let of = |drawn: &str| if drawn == name { other } else { own };
        let person = Person::on_unit(bench, own, &self.faults(bench.model, run), of);
        let done = person.and_then(|person| person.work(&mut Passing::new(&bench.machine)));
        done.map_err(|problem| Failed { run, problem })
    }
}

fn shown(outcome: Outcome) -> Option<Quantity> {
    outcome.matters.filter(|_| outcome.claim == Claim::Shown)
}

fn named(name: &str, pairs: &[(f64, f64)], (share, error): (f64, f64)) -> Moves {
    let reach = DEVIATIONS * error;
    let (low, high) = ((share - reach).max(0.0), share + reach);
    Moves { name: name.to_owned(), pairs: pairs.len() as u64, share, low, high }
}

/// Mean and variance.
fn moments(numbers: &[f64]) -> (f64, f64) {
    let count = numbers.len() as f64;
    let mean = numbers.iter().sum::<f64>() / count.max(1.0);
    let squares: f64 = numbers.iter().map(|number| (number - mean) * (number - mean)).sum();
    (mean, squares / (count - 1.0).max(1.0))
}

/// The total-effect index and its standard error: half the mean of the squared differences, by the variance.
///
/// Source: Jansen, Computer Physics Communications 117 (1999), as Saltelli and others, ibid. 181 (2010), list it for total effects;
/// from memory, held against a function whose indices are known. The error leaves out that of the variance itself.
fn total(pairs: &[(f64, f64)], variance: f64) -> Option<(f64, f64)> {
    if pairs.len() < 2 || variance <= 0.0 {
        return None;
    }
    let halves: Vec<f64> = pairs.iter().map(|(own, other)| (own - other) * (own - other) / 2.0).collect();
    let (mean, spread) = moments(&halves);
    Some((mean / variance, (spread / pairs.len() as f64).sqrt() / variance))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of f = x + 2 y + x y with x and y even between -1 and 1 the variance is 1/3 + 4/3 + 1/9 = 16/9, and the total
    /// effects are (1/3 + 1/9) / (16/9) = 1/4 of x and (4/3 + 1/9) / (16/9) = 13/16 of y: together more than 1, for what both do.
    #[test]
    fn it_is_that_of_a_function_whose_indices_are_known() {
        let even = |seed: u64, run: u32, name: &str| 2.0 * Draws { seed, run }.uniform("unit", name) - 1.0;
        let f = |x: f64, y: f64| x + 2.0 * y + x * y;
        let (mut all, mut of_x, mut of_y) = (Vec::new(), Vec::new(), Vec::new());
        for run in 0..20_000 {
            let (x, y) = (even(1, run, "x"), even(1, run, "y"));
            all.push(f(x, y));
            of_x.push((f(x, y), f(even(2, run, "x"), y)));
            of_y.push((f(x, y), f(x, even(2, run, "y"))));
        }
        let (_, variance) = moments(&all);
        assert!((variance - 16.0 / 9.0).abs() < 0.05, "{variance}");
        for (pairs, known) in [(of_x, 0.25), (of_y, 13.0 / 16.0)] {
            let (share, error) = total(&pairs, variance).expect("there are pairs");
            assert!((share - known).abs() < 4.0 * error && error < 0.01, "{share} by {error}, not {known}");
        }
    }

    #[test]
    fn of_nothing_that_varies_nothing_is_said() {
        assert_eq!(total(&[(1.0, 1.0), (1.0, 1.0)], 0.0), None);
        assert_eq!(total(&[(1.0, 2.0)], 1.0), None);
    }
}
