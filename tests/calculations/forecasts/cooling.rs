//! When it is cold enough to begin: a constant fitted in one cooling, and what is told by it in that one.

use indexmap::IndexMap;
use standpipe::script::Fault;
use standpipe::value::Value;

use super::binomial::bounds;
use super::bodies::{Bodies, Change};
use super::chance::Chance;
use crate::bench::Bench;
use crate::heat::{of, readings, run};

#[derive(Clone, Copy, Debug, PartialEq)]
enum Regime {
    One,
    /// Fluid and metal, from the moment on at which the engine stops.
    Two,
    /// The bay gets warmer or colder by up to 1 K an hour.
    Drift,
    /// The bay is read wrong by 2 K.
    Misread,
    /// A door is opened after the ask: nothing foretells it.
    Door,
}

struct Asked {
    told: Option<(f64, Option<f64>)>,
    /// Seconds after the ask.
    cold_enough: Option<f64>,
}

fn number(outcome: &standpipe::sheet::Outcome, name: &str) -> Option<f64> {
    match &outcome.outputs[name] {
        Value::Quantity(quantity) => Some(quantity.si),
        _ => None,
    }
}

/// Read every minute for forty minutes or an hour, the bay at the start, and asked at the end.
fn ask(bench: &Bench, regime: Regime, chance: &mut Chance) -> Asked {
    let bay = chance.between(8.0, 24.0);
    let two = regime == Regime::Two || (regime != Regime::One && chance.share() < 0.5);
    let ratio = if two { chance.between(1.0, 4.0) } else { 0.0 };
    let loss = (1.0 + ratio) / (60.0 * chance.between(50.0, 160.0));
    let start = chance.between(70.0, 95.0);
    let of_fluid = if two { chance.between(0.2, 0.6) } else { 1.0 };
    let mut bodies = Bodies {
        fluid: start,
        metal: if two { start - chance.between(3.0, 15.0) } else { start },
        bay,
        ratio,
        coupling: 1.0 / (60.0 * chance.between(1.0, 5.0)),
        fluid_loss: loss * of_fluid,
        metal_loss: loss * (1.0 - of_fluid),
        heat: 0.0,
        tremble: 0.0,
        tremble_for: 1.0,
        trembling: 0.0,
    };
    let misread = if regime == Regime::Misread { 2.0 * chance.one_of(&[-1.0, 1.0]) } else { 0.0 };
    let drift = if regime == Regime::Drift { chance.between(-1.0, 1.0) / 3600.0 } else { 0.0 };
    let limit = bay + chance.between(8.0, 16.0);
    let until = 60.0 * chance.one_of(&[40.0, 60.0]);
    let mut points = Vec::new();
    let (mut at, mut cold_enough) = (0.0, None);
    let door = until + chance.between(300.0, 3600.0);
    while at < 16.0 * 3600.0 && cold_enough.is_none() {
        if at % 60.0 == 0.0 && at <= until {
            points.push((at, ((bodies.fluid + 0.1 * chance.normal()) * 10.0).round() / 10.0));
        }
        if at > until && bodies.fluid <= limit {
            cold_enough = Some(at - until);
        }
        if regime == Regime::Door && at == door.round() {
            bodies.change(Change { heat: 1.0, loss: chance.between(1.2, 2.0), bay: -chance.between(4.0, 10.0) });
        }
        bodies.bay += drift;
        bodies.step(1.0, chance);
        at += 1.0;
    }
    let given = vec![("readings", readings(&points, "degC")), ("ambient", of(bay + misread, "degC"))];
    let told = run(bench, "cooling-fit", given).ok().and_then(|fit| {
        let inputs = vec![
            ("start_limit", of(limit, "degC")),
            ("fluid_temperature", of(points.last()?.1, "degC")),
            ("bay_temperature", of(bay + misread, "degC")),
            ("time_constant", fit.outputs["time_constant"].clone()),
            ("time_constant_u", fit.outputs["time_constant_u"].clone()),
        ];
        let outcome = run(bench, "start-limit-reachable", inputs).ok()?;
        Some((number(&outcome, "earliest")?, number(&outcome, "latest")))
    });
    Asked { told, cold_enough }
}

#[test]
fn it_is_cold_enough_within_what_is_told() {
    let bench = Bench::new();
    for regime in [Regime::One, Regime::Two, Regime::Drift, Regime::Misread, Regime::Door] {
        let mut chance = Chance::new(4_000 + regime as u64);
        let (mut told, mut inside, mut widths) = (0, 0, Vec::new());
        for _ in 0..60 {
            let asked = ask(&bench, regime, &mut chance);
            let Some((earliest, latest)) = asked.told else { continue };
            told += 1;
            let within = |at: f64| at >= earliest && latest.is_none_or(|latest| at <= latest);
            inside += u64::from(asked.cold_enough.is_some_and(within));
            if let (Some(latest), Some(at)) = (latest, asked.cold_enough) {
                widths.push((latest - earliest) / at);
            }
        }
        widths.sort_by(f64::total_cmp);
        let middle = widths[widths.len() / 2];
        println!("{regime:?}: told {told} of 60, inside {inside}, median width {middle:.2} of the time");
        if regime != Regime::Door {
            assert!(told >= 30 && bounds(inside, told).1 >= 0.95, "{regime:?}: {inside} of {told}");
            assert!(middle < 1.0, "{regime:?}: {middle}");
        }
    }
}

/// From the first minutes nothing is fitted, so that nothing is told by them.
#[test]
fn the_first_minutes_fit_no_constant() {
    let bench = Bench::new();
    let points: Vec<(f64, f64)> = (0..10).map(|i| (60.0 * f64::from(i), 90.0 - f64::from(i))).collect();
    let inputs = vec![("readings", readings(&points, "degC")), ("ambient", of(20.0, "degC"))];
    match run(&bench, "cooling-fit", inputs) {
        Err(Fault::Failed(problem)) => assert!(problem.message.contains("later than 10 min"), "{}", problem.message),
        other => panic!("{other:?}"),
    }
}

/// Noise-free curves in the decimals of a display, which the search once found no end for.
#[test]
fn rounded_curves_without_noise_are_fitted() {
    let bench = Bench::new();
    let mut worst: f64 = 0.0;
    for set in 0..80 {
        let constant = 600.0 + 60.0 * f64::from(set);
        let bay = 5.0 + 0.25 * f64::from(set);
        for decimals in [1e2, 1e12] {
            let points: Vec<(f64, f64)> = (0..12)
                .map(|i| {
                    let at = 300.0 * f64::from(i);
                    (at, ((bay + (80.0 - bay) * (-at / constant).exp()) * decimals).round() / decimals)
                })
                .collect();
            let inputs = vec![("readings", readings(&points, "degC")), ("leave_out", of(0.0, "s"))];
            let fit = run(&bench, "cooling-fit", inputs).unwrap_or_else(|fault| panic!("{set}: {fault:?}"));
            let found = number(&fit, "time_constant").expect("a time");
            if decimals > 1e3 {
                worst = worst.max((found - constant).abs() / constant);
            }
        }
    }
    assert!(worst < 1e-6, "{worst}");
}

/// As many as a reader sends in some quarter of an hour; a list of more than a thousand is refused, and says so.
#[test]
fn nine_hundred_readings_are_taken() {
    let bench = Bench::new();
    let points: Vec<(f64, f64)> =
        (0..900).map(|i| (4.0 * f64::from(i), 20.0 + 60.0 * (-4.0 * f64::from(i) / 3000.0).exp())).collect();
    let fit = run(&bench, "cooling-fit", vec![("readings", readings(&points, "degC"))]).expect("a fit");
    let found = number(&fit, "time_constant").expect("a time");
    assert!((found - 3000.0).abs() < 1e-3, "{found}");
    let inputs: IndexMap<String, Value> = [
        ("readings".to_owned(), readings(&points, "degC")),
        ("low".to_owned(), of(30.0, "degC")),
        ("high".to_owned(), of(33.0, "degC")),
    ]
    .into();
    bench.sheet("window-forecast").run(&bench.scripts, inputs).expect("a forecast");
}

#[test]
fn a_curve_that_settles_at_no_bay_is_refused() {
    let bench = Bench::new();
    let points: Vec<(f64, f64)> =
        (0..30).map(|i| (60.0 * f64::from(i), 80.0 - 0.3 * f64::from(i) + 2e-4 * f64::from(i * i))).collect();
    match run(&bench, "cooling-fit", vec![("readings", readings(&points, "degC"))]) {
        Err(Fault::Failed(problem)) => assert!(problem.message.contains("no bay"), "{}", problem.message),
        other => panic!("{other:?}"),
    }
}
