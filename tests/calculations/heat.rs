//! Cooling and warming.

use indexmap::IndexMap;
use standpipe::quantity::Units;
use standpipe::script::Fault;
use standpipe::sheet::Outcome;
use standpipe::value::Value;

use crate::bench::{Bench, Row, near, number, rows};

pub fn of(number: f64, unit: &str) -> Value {
    Value::Quantity(Units::standard().quantity(number, unit).expect("a unit"))
}

pub fn readings(series: &[(f64, f64)], unit: &str) -> Value {
    let one = |(time, temperature): &(f64, f64)| {
        let fields = [("time".to_owned(), of(*time, "s")), ("temperature".to_owned(), of(*temperature, unit))];
        Value::Record(IndexMap::from(fields))
    };
    Value::List(series.iter().map(one).collect())
}

pub fn run(bench: &Bench, sheet: &str, inputs: Vec<(&str, Value)>) -> Result<Outcome, Fault> {
    let inputs = inputs.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    bench.sheet(sheet).run(&bench.scripts, inputs)
}

fn refusal(result: Result<Outcome, Fault>) -> String {
    match result {
        Err(Fault::Failed(diagnostic)) => diagnostic.message,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_noisy_series_is_fitted_as_by_another_program() {
    let bench = Bench::new();
    let series = rows("cooling_series.csv", 72);
    let mut seen = 0;
    for row in rows("cooling.csv", 41).iter().filter(|row| row["kind"] == "fit_noisy") {
        let seed = row["note"].trim_start_matches("seed ").split(':').next().expect("a seed");
        let own = series.iter().filter(|point| point["seed"] == seed);
        let points: Vec<(f64, f64)> = own.map(|point| (number(point, "t_s"), number(point, "T_C"))).collect();
        assert!(points.len() > 30, "{seed}");
        let outcome =
            run(&bench, "cooling-fit", vec![("readings", readings(&points, "degC")), ("leave_out", of(0.0, "s"))])
                .expect("a fit");
        // Printed to six digits behind the point; the search of the other program ends at 1e-8.
        for (name, column, unit, tolerance) in [
            ("time_constant", "fit_tau_s", "s", 1e-7),
            ("time_constant_u", "fit_tau_se_s", "s", 1e-5),
            ("ambient", "fit_ambient_C", "degC", 1e-6),
            ("ambient_u", "fit_ambient_se_C", "Δ°C", 1e-5),
            ("start", "fit_T0_C", "degC", 1e-6),
            ("start_u", "fit_T0_se_C", "Δ°C", 1e-5),
        ] {
            near(bench.number(&outcome, name, unit), number(row, column), tolerance, row);
        }
        let scatter = (number(row, "rss") / (points.len() - 3) as f64).sqrt();
        near(bench.number(&outcome, "scatter", "Δ°C"), scatter, 1e-6, row);
        assert!(outcome.warnings.is_empty());
        // With the ambient given the constant comes out near, and its uncertainty smaller.
        let ambient = of(number(row, "fit_ambient_C"), "degC");
        let given = run(
            &bench,
            "cooling-fit",
            vec![("readings", readings(&points, "degC")), ("ambient", ambient), ("leave_out", of(0.0, "s"))],
        )
        .expect("a fit");
        near(bench.number(&given, "time_constant", "s"), number(row, "fit_tau_s"), 1e-6, row);
        assert!(bench.number(&given, "time_constant_u", "s") < number(row, "fit_tau_se_s"));
        assert_eq!(bench.number(&given, "ambient_u", "Δ°C"), 0.0);
        seen += 1;
    }
    assert_eq!(seen, 2);
}

/// The rows of one curve: start, ambient, constant, and points.
fn exact_curves() -> Vec<(Row, Vec<(f64, f64)>)> {
    let mut curves: Vec<(Row, Vec<(f64, f64)>)> = Vec::new();
    for row in rows("cooling.csv", 41).into_iter().filter(|row| row["kind"] == "exact") {
        let point = (number(&row, "t_s"), number(&row, "T_expected_C"));
        match curves.iter_mut().find(|(first, _)| first["tau_s"] == row["tau_s"] && first["T0_C"] == row["T0_C"]) {
            Some((_, points)) => points.push(point),
            None => curves.push((row, vec![point])),
        }
    }
    curves
}

#[test]
fn exact_curves_give_back_what_they_were_made_of() {
    let bench = Bench::new();
    let curves = exact_curves();
    assert!(curves.len() >= 7, "{}", curves.len());
    for (row, points) in curves {
        assert!(points.len() >= 4, "{row:?}");
        let outcome =
            run(&bench, "cooling-fit", vec![("readings", readings(&points, "degC")), ("leave_out", of(0.0, "s"))])
                .expect("a fit");
        // The points have twelve digits.
        near(bench.number(&outcome, "time_constant", "s"), number(&row, "tau_s"), 1e-8, &row);
        let (ambient, start) = (bench.number(&outcome, "ambient", "degC"), bench.number(&outcome, "start", "degC"));
        assert!((ambient - number(&row, "T_ambient_C")).abs() < 1e-6, "{ambient}: {row:?}");
        assert!((start - number(&row, "T0_C")).abs() < 1e-6, "{start}: {row:?}");
    }
}

#[test]
fn readings_that_tell_nothing_are_refused() {
    let bench = Bench::new();
    let fit = |points: &[(f64, f64)]| {
        run(&bench, "cooling-fit", vec![("readings", readings(points, "degC")), ("leave_out", of(0.0, "s"))])
    };
    let line: Vec<(f64, f64)> = (0..8).map(|i| (60.0 * f64::from(i), 80.0 - f64::from(i))).collect();
    assert!(refusal(fit(&line)).contains("straight line"));
    assert!(refusal(fit(&line[..3])).contains("it takes 4"));
    assert!(refusal(fit(&[(0.0, 80.0), (60.0, 70.0), (30.0, 75.0), (90.0, 65.0)])).contains("the times must rise"));
    assert!(refusal(fit(&[(0.0, 50.0); 5])).contains("the times must rise"));
    let short: Vec<(f64, f64)> =
        (0..8).map(|i| (60.0 * f64::from(i), 20.0 + 70.0 * (-f64::from(i) * 60.0 / 1500.0).exp())).collect();
    let outcome = fit(&short).expect("a fit");
    assert!(outcome.warnings[0].contains("less than one time constant"), "{:?}", outcome.warnings);
}

#[test]
fn waiting_until_it_is_cold_enough() {
    let bench = Bench::new();
    let mut seen = 0;
    for row in rows("cooling.csv", 41) {
        let (start, around, limit, time) = match row["kind"].as_str() {
            "exact_time_to_temperature" => {
                (row["T0_C"].clone(), row["T_ambient_C"].clone(), row["T_expected_C"].clone(), number(&row, "t_s"))
            }
            // One hundredth of the distance is left.
            "textbook_time_for_fraction_exact" => ("100".into(), "0".into(), "1".into(), number(&row, "t_s")),
            _ => continue,
        };
        let given = [
            ("start_limit", format!("{limit} degC")),
            ("fluid_temperature", format!("{start} degC")),
            ("bay_temperature", format!("{around} degC")),
            ("time_constant", format!("{} s", row["tau_s"])),
        ];
        let given: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
        let outcome = bench.run("start-limit-reachable", &given);
        assert_eq!(outcome.outputs["reachable"], Value::Truth(true));
        // Twelve digits.
        near(bench.number(&outcome, "when", "s"), time, 1e-10, &row);
        seen += 1;
    }
    assert_eq!(seen, 6);
    let wait = |fluid: &str, bay: &str| {
        bench.run(
            "start-limit-reachable",
            &[
                ("start_limit", "28 degC"),
                ("fluid_temperature", fluid),
                ("bay_temperature", bay),
                ("time_constant", "40 min"),
            ],
        )
    };
    let warm = wait("60 degC", "29 degC");
    assert_eq!((&warm.outputs["reachable"], &warm.outputs["when"]), (&Value::Truth(false), &Value::Unknown));
    let cold = wait("25 degC", "29 degC");
    near(bench.number(&cold, "when", "s"), 0.0, 0.0, &cold);
    assert_eq!(cold.warnings.len(), 1);
    let near_the_bay = wait("60 degC", "27 degC");
    assert!(near_the_bay.warnings[0].contains("never gets there"));
    assert_eq!(near_the_bay.outputs["latest"], Value::Unknown);
    let cool = wait("60 degC", "10 degC");
    assert!(cool.warnings.is_empty());
    // By hand: 36 min x ln(52 / 20) and 44 min x ln(48 / 16).
    near(bench.number(&cool, "earliest", "min"), 34.3984, 1e-4, &cool);
    near(bench.number(&cool, "latest", "min"), 48.3389, 1e-4, &cool);
    let cold = [
        ("start_limit", "28 degC"),
        ("fluid_temperature", "60 degC"),
        ("bay_temperature", "20 degC"),
        ("time_constant", "0 s"),
    ];
    bench.refused("start-limit-reachable", &cold, "input-beyond-limit");
}

pub fn forecast(bench: &Bench, points: &[(f64, f64)], low: f64, high: f64) -> Outcome {
    let inputs = vec![("readings", readings(points, "degC")), ("low", of(low, "degC")), ("high", of(high, "degC"))];
    run(bench, "window-forecast", inputs).unwrap_or_else(|fault| panic!("{fault:?}"))
}

pub fn seconds(outcome: &Outcome, name: &str) -> [Option<f64>; 3] {
    ["earliest", "likely", "latest"].map(|part| match outcome.outputs[name].at(&[part]) {
        Some(Value::Quantity(quantity)) => Some(quantity.si),
        None => None,
        other => panic!("{other:?}"),
    })
}

pub fn verdict(outcome: &Outcome) -> &str {
    match &outcome.outputs["verdict"] {
        Value::Text(text) => text,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_steady_warming_is_told_ahead_with_a_spread() {
    let bench = Bench::new();
    // 1.2 degC a minute, read every 30 s, shown to a tenth.
    let points: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 28.0 + 0.6 * f64::from(i))).collect();
    let outcome = forecast(&bench, &points, 36.0, 44.0);
    assert_eq!(verdict(&outcome), "not yet");
    let [earliest, likely, latest] = seconds(&outcome, "opens").map(|time| time.expect("a time"));
    // By hand: 33.4 degC now, 2.6 degC to go at 1.2 a minute; the rate is taken to die away in half an hour, so a little later.
    let straight = 2.6 / 1.2 * 60.0;
    assert!((straight..1.1 * straight).contains(&likely), "{likely}");
    assert!(earliest < 0.99 * straight && latest > 1.1 * likely, "{earliest} {likely} {latest}");
    let closes = seconds(&outcome, "closes")[1].expect("a time");
    let straight = 10.6 / 1.2 * 60.0;
    assert!((straight..1.3 * straight).contains(&closes), "{closes}");
    near(bench.number(&outcome, "rate", "°C/min"), 1.2, 1e-9, &outcome);
    // Cooling down it opens at the high end.
    let points: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 50.0 - 0.6 * f64::from(i))).collect();
    let opens = seconds(&forecast(&bench, &points, 36.0, 44.0), "opens")[1].expect("a time");
    assert!((28.0..34.0).contains(&opens), "{opens}");
}

#[test]
fn what_the_readings_do_not_tell_is_not_shown() {
    let bench = Bench::new();
    let steady: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 30.0 + 0.1 * f64::from(i % 2))).collect();
    let outcome = forecast(&bench, &steady, 36.0, 44.0);
    assert_eq!(verdict(&outcome), "not shown");
    assert_eq!((&outcome.outputs["opens"], &outcome.outputs["closes"]), (&Value::Unknown, &Value::Unknown));
    assert!(outcome.warnings[0].contains("warmer or colder"), "{:?}", outcome.warnings);
    let few: Vec<(f64, f64)> = (0..4).map(|i| (30.0 * f64::from(i), 30.0 + f64::from(i))).collect();
    assert!(forecast(&bench, &few, 36.0, 44.0).warnings[0].contains("fewer than 5 readings"));
    let slow: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 30.0 + 0.1 * f64::from(i))).collect();
    assert!(forecast(&bench, &slow, 36.0, 44.0).warnings[0].contains("nothing can be promised"));
    let past: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 46.0 + 0.6 * f64::from(i))).collect();
    assert_eq!(verdict(&forecast(&bench, &past, 36.0, 44.0)), "over");
    let inside: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 34.0 + 0.6 * f64::from(i))).collect();
    let outcome = forecast(&bench, &inside, 36.0, 44.0);
    assert_eq!((verdict(&outcome), &outcome.outputs["opens"]), ("open", &Value::Unknown));
    assert!(seconds(&outcome, "closes")[0].is_some());
    // Old readings count no more: the warm-up that stood still half an hour ago is another one.
    let mut old: Vec<(f64, f64)> = (0..10).map(|i| (30.0 * f64::from(i), 20.0)).collect();
    old.extend((0..10).map(|i| (2000.0 + 30.0 * f64::from(i), 28.0 + 0.6 * f64::from(i))));
    let opens = seconds(&forecast(&bench, &old, 36.0, 44.0), "opens")[1].expect("a time");
    assert!((130.0..143.0).contains(&opens), "{opens}");
    let swapped = vec![("readings", readings(&inside, "degC")), ("low", of(44.0, "degC")), ("high", of(36.0, "degC"))];
    assert!(refusal(run(&bench, "window-forecast", swapped)).contains("above its high end"));
}
