//! When the window opens: asks, what was told, and what came true, by regime.
#![allow(clippy::print_stdout, reason = "the matrix is what it is for")]

use standpipe::value::Value;

use super::binomial::bounds;
use super::chance::Chance;
use super::oracle;
use super::regimes::{Figures, REGIMES, Regime, Run, run};
use crate::bench::Bench;
use crate::heat::{forecast, seconds, verdict};

/// Moments at which each run is asked.
const ASKS: usize = 3;
/// A forecast told before has to be gone, or true, so many seconds after a change shows.
const WITHDRAWN: f64 = 60.0;

#[derive(Default)]
struct Counted {
    asks: u64,
    told: u64,
    inside: u64,
    early: u64,
    late: u64,
    /// Before a change that nothing foretells.
    apart: u64,
    apart_told: u64,
    apart_inside: u64,
    /// Of forecasts that were told when a change began to show.
    stood: u64,
    withdrawn: u64,
    /// Widths over the oracle's, where that is asked.
    widths: Vec<f64>,
}

/// Earliest and latest, in seconds after the ask.
fn told(bench: &Bench, run: &Run, ask: f64) -> Option<(f64, f64)> {
    let readings = run.until(ask);
    // As the program hands them over: the last half hour, thinned to some two hundred.
    let last = readings.last()?.0;
    let recent: Vec<(f64, f64)> = readings.iter().copied().filter(|reading| last - reading.0 <= 1800.0).collect();
    let every = recent.len().div_ceil(240).max(1);
    let skip = (recent.len() - 1) % every;
    let recent: Vec<(f64, f64)> = recent.into_iter().skip(skip).step_by(every).collect();
    let outcome = forecast(bench, &recent, run.low, run.high);
    if verdict(&outcome) != "not yet" {
        assert!(outcome.outputs["opens"] == Value::Unknown, "{outcome:?}");
        return None;
    }
    let [earliest, _, latest] = seconds(&outcome, "opens");
    Some((earliest? + last, latest.expect("a latest time wherever an earliest is told") + last))
}

fn holds(told: (f64, f64), run: &Run) -> bool {
    (told.0..=told.1).contains(&run.opens)
}

fn count(bench: &Bench, regime: Regime, figures: Figures, seed: u64, runs: usize) -> Counted {
    let mut chance = Chance::new(seed * 1000 + regime as u64);
    let mut all = Counted::default();
    for _ in 0..runs {
        let run = run(regime, figures, &mut chance);
        let first = run.readings[0].0;
        for _ in 0..ASKS {
            let ask = chance.between(first + 60.0, run.opens - 20.0);
            let said = told(bench, &run, ask);
            let inside = said.is_some_and(|said| holds(said, &run));
            if run.change.is_some_and(|change| change > ask) {
                all.apart += 1;
                all.apart_told += u64::from(said.is_some());
                all.apart_inside += u64::from(inside);
                continue;
            }
            all.asks += 1;
            let Some(said) = said else { continue };
            all.told += 1;
            all.inside += u64::from(inside);
            all.early += u64::from(run.opens < said.0);
            all.late += u64::from(run.opens > said.1);
            if matches!(regime, Regime::Single | Regime::Ahead) {
                all.widths.push((said.1 - said.0) / oracle::width(&run, ask));
            }
        }
        let Some(visible) = run.visible.filter(|visible| visible + WITHDRAWN < run.opens - 5.0) else { continue };
        if visible > first + 60.0 && told(bench, &run, visible).is_some_and(|said| !holds(said, &run)) {
            all.stood += 1;
            all.withdrawn += u64::from(told(bench, &run, visible + WITHDRAWN).is_none_or(|said| holds(said, &run)));
        }
    }
    all.widths.sort_by(f64::total_cmp);
    all
}

fn share(part: u64, whole: u64) -> f64 {
    part as f64 / whole.max(1) as f64
}

impl Counted {
    fn line(&self, name: &str) -> String {
        let (low, high) = bounds(self.inside, self.told.max(1));
        let mut widths = self.widths.clone();
        widths.sort_by(f64::total_cmp);
        let width = widths.get(widths.len() / 2).map(|width| format!("{width:.2}")).unwrap_or_default();
        format!(
            "{name:14} {:5} {:5.0} % {:6.1} % ({:5.1}..{:5.1}) {:5} {:4} {width:>6} | {:5} {:4.0} % {:5.0} % | {}/{}",
            self.asks,
            100.0 * share(self.told, self.asks),
            100.0 * share(self.inside, self.told),
            100.0 * low,
            100.0 * high,
            self.early,
            self.late,
            self.apart,
            100.0 * share(self.apart_told, self.apart),
            100.0 * share(self.apart_inside, self.apart_told),
            self.withdrawn,
            self.stood,
        )
    }

    fn add(&mut self, other: &Counted) {
        self.asks += other.asks;
        self.told += other.told;
        self.inside += other.inside;
        self.early += other.early;
        self.late += other.late;
        self.apart += other.apart;
        self.apart_told += other.apart_told;
        self.apart_inside += other.apart_inside;
        self.stood += other.stood;
        self.withdrawn += other.withdrawn;
        self.widths.extend(&other.widths);
    }
}

/// Runs every regime and prints the matrix.
fn matrix(figures: Figures, seed: u64, runs: usize) -> (Vec<(Regime, Counted)>, Counted) {
    let bench = Bench::new();
    println!("regime          asks   told   inside (exact 95 %)   before after width | apart told inside | withdrawn");
    let (mut rows, mut all) = (Vec::new(), Counted::default());
    for regime in REGIMES {
        let counted = count(&bench, regime, figures, seed, runs);
        println!("{}", counted.line(&format!("{regime:?}")));
        all.add(&counted);
        rows.push((regime, counted));
    }
    println!("{}", all.line("all"));
    (rows, all)
}

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

#[test]
#[ignore = "prints the matrix; takes minutes"]
fn matrix_of_all_regimes() {
    let figures = if number("STANDPIPE_OTHERS", 0) > 0 { Figures::Others } else { Figures::Tuned };
    matrix(figures, number("STANDPIPE_SEED", 1), number("STANDPIPE_RUNS", 60) as usize);
}

/// No regime may be shown to lie below 88 % by the exact bounds; all together have to be shown to lie above 85 %, and may not be shown to
/// lie above 95 %: a span that always holds is too wide.
#[test]
fn nine_in_ten_windows_open_within_what_is_told() {
    let (rows, mut all) = matrix(Figures::Tuned, 7, 10);
    for (regime, counted) in &rows {
        let (_, high) = bounds(counted.inside, counted.told);
        assert!(counted.told > 0 && high >= 0.88, "{regime:?}: {} of {} inside", counted.inside, counted.told);
        let mut widths = counted.widths.clone();
        widths.sort_by(f64::total_cmp);
        if let Some(middle) = widths.get(widths.len() / 2) {
            assert!(*middle <= 3.0, "{regime:?}: {middle} times an oracle's width");
        }
    }
    let (low, _) = bounds(all.inside, all.told);
    assert!((0.85..=0.95).contains(&low), "{} of {} inside", all.inside, all.told);
    assert!(2 * all.told >= all.asks, "{} of {} told", all.told, all.asks);
    assert!(all.stood >= 3 && bounds(all.withdrawn, all.stood).1 >= 0.9, "{} of {}", all.withdrawn, all.stood);
    all.widths.sort_by(f64::total_cmp);
    // The aim is twice; it is missed by a little.
    assert!(all.widths[all.widths.len() / 2] <= 2.6, "{} times an oracle's width", all.widths[all.widths.len() / 2]);
}
