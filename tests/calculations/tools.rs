//! Torque wrenches, orders, intervals, containers.

use std::collections::HashMap;

use standpipe::value::Value;

use crate::bench::{Bench, near, number, rows};

#[test]
fn a_torque_wrench_is_set_and_judged_by_its_standard() {
    let bench = Bench::new();
    let mut kinds: HashMap<String, usize> = HashMap::new();
    for row in rows("torque_tool.csv", 32) {
        *kinds.entry(row["kind"].clone()).or_default() += 1;
        match row["kind"].as_str() {
            "offset_adapter" => {
                let given = [
                    ("torque", format!("{} {}", row["setting_or_target"], row["unit"])),
                    ("wrench_length", format!("{} {}", row["wrench_length_L"], row["length_unit"])),
                    ("offset", format!("{} {}", row["offset_E"], row["length_unit"])),
                    ("angle", format!("{} °", row["angle_deg"])),
                ];
                let given: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
                let outcome = bench.run("wrench-setting", &given);
                // Printed to four digits in one published row, computed to ten or more in the others.
                let tolerance = if row["expected_value"] == "44.44" { 0.005 / 44.44 } else { 1e-11 };
                near(bench.number(&outcome, "setting", &row["unit"]), number(&row, "expected_value"), tolerance, &row);
            }
            "iso6789_limit_on_reference_reading" => {
                let given = [
                    ("torque", format!("{} N·m", row["setting_or_target"])),
                    ("wrench_min", "0 N·m".to_owned()),
                    ("wrench_max", format!("{} N·m", row["tool_max_Nm"])),
                ];
                let given: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
                let outcome = bench.run("wrench-suits", &given);
                // Nine digits.
                near(bench.number(&outcome, "low", "N·m"), number(&row, "expected_low"), 1e-8, &row);
                near(bench.number(&outcome, "high", "N·m"), number(&row, "expected_high"), 1e-8, &row);
                // The rows are at 20, 60 and 100 % of the tool, where it is calibrated; one lies at 40 %.
                assert_eq!(outcome.outputs["suits"], Value::Truth(true), "{row:?}");
            }
            // The deviation is (set - true) / true: with it as accuracy, one of the limits is the true value.
            "iso6789_deviation" => {
                let deviation = number(&row, "deviation_pct");
                let given = [
                    ("torque", format!("{} N·m", row["setting_or_target"])),
                    ("wrench_min", "1 N·m".to_owned()),
                    ("wrench_max", "100 N·m".to_owned()),
                    ("accuracy", format!("{} %", deviation.abs())),
                ];
                let given: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
                let outcome = bench.run("wrench-suits", &given);
                let side = if deviation > 0.0 { "low" } else { "high" };
                near(bench.number(&outcome, side, "N·m"), number(&row, "expected_value"), 1e-7, &row);
            }
            other => panic!("a row of another kind: {other}"),
        }
    }
    assert_eq!(kinds["offset_adapter"], 12);
    assert_eq!(kinds["iso6789_limit_on_reference_reading"], 14);
    let suits = |torque: &str, low: &str, high: &str| {
        bench.run("wrench-suits", &[("torque", torque), ("wrench_min", low), ("wrench_max", high)]).outputs["suits"]
            == Value::Truth(true)
    };
    assert!(suits("9.5 N·m", "2 N·m", "25 N·m"));
    assert!(!suits("1.5 N·m", "2 N·m", "25 N·m"));
    assert!(!suits("26 N·m", "2 N·m", "25 N·m"));
    assert!(!suits("4 N·m", "2 N·m", "25 N·m"), "below a fifth of the largest value");
    assert!(suits("7 lbf·ft", "60 lbf·in", "200 lbf·in"));
    let folded = [("torque", "10 N·m"), ("wrench_length", "100 mm"), ("offset", "100 mm"), ("angle", "180 °")];
    bench.refused("wrench-setting", &folded, "faulty-script");
    bench.refused(
        "wrench-setting",
        &[("torque", "10 J"), ("wrench_length", "100 mm"), ("offset", "0 mm")],
        "wrong-quantity",
    );
}

#[test]
fn an_adapter_folded_back_over_most_of_the_wrench_is_refused() {
    let bench = Bench::new();
    let given = |offset: &'static str| {
        [("torque", "40 N·m"), ("wrench_length", "450 mm"), ("offset", offset), ("angle", "180 °")]
    };
    near(bench.number(&bench.run("wrench-setting", &given("200 mm")), "setting", "N·m"), 72.0, 1e-12, &"200 mm");
    // It would have been set to 3,000 N·m.
    bench.refused("wrench-setting", &given("444 mm"), "faulty-script");
}

fn order(bench: &Bench, count: usize, pattern: &str) -> Vec<usize> {
    let outcome = bench.run("tightening-order", &[("count", &count.to_string()), ("pattern", pattern)]);
    let Value::List(order) = &outcome.outputs["order"] else { panic!("no list") };
    order
        .iter()
        .map(|one| match one {
            Value::Number(number) => *number as usize,
            other => panic!("{other:?}"),
        })
        .collect()
}

#[test]
fn the_cross_pattern_is_that_of_the_table_and_every_bolt_comes_once() {
    let bench = Bench::new();
    let mut sequences = 0;
    for row in rows("tightening_patterns.csv", 15).iter().filter(|row| row["kind"] == "sequence") {
        let expected: Vec<usize> =
            row["sequence_or_step"].split('-').map(|one| one.parse().expect("a number")).collect();
        assert_eq!(order(&bench, expected.len(), "cross"), expected, "{row:?}");
        sequences += 1;
    }
    assert_eq!(sequences, 6);
    for count in 1..=40 {
        for pattern in ["cross", "ring", "ends-first", "side-to-side"] {
            let mut order = order(&bench, count, pattern);
            // Opposite bolts follow one another wherever bolts have an opposite.
            if pattern == "cross" && count % 2 == 0 {
                for pair in order.chunks(2) {
                    assert_eq!(pair[0].abs_diff(pair[1]), count / 2, "{count}: {order:?}");
                }
            }
            order.sort_unstable();
            assert_eq!(order, (1..=count).collect::<Vec<_>>(), "{pattern} of {count}");
        }
    }
    // Common practice, no source: the star of five, the long flanges of ten.
    assert_eq!(order(&bench, 5, "cross"), [1, 3, 5, 2, 4]);
    assert_eq!(order(&bench, 10, "ends-first"), [1, 10, 5, 6, 2, 9, 4, 7, 3, 8]);
    assert_eq!(order(&bench, 10, "side-to-side"), [3, 8, 4, 7, 2, 9, 5, 6, 1, 10]);
    let outcome = bench.run("tightening-order", &[("count", "8"), ("pattern", "cross"), ("torque", "9.5 N·m")]);
    let Value::List(passes) = &outcome.outputs["passes"] else { panic!("no list") };
    let shares: Vec<f64> = passes
        .iter()
        .map(|pass| match (pass.at(&["torque"]), pass.at(&["share"])) {
            (Some(Value::Quantity(torque)), Some(Value::Number(share))) => {
                near(torque.si, 9.5 * share, 1e-12, pass);
                *share
            }
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(shares, [0.3, 0.6, 1.0, 1.0]);
    bench.refused("tightening-order", &[("count", "0"), ("pattern", "ring")], "input-beyond-limit");
    bench.refused("tightening-order", &[("count", "8"), ("pattern", "zigzag")], "faulty-input");
}

#[test]
fn due_dates_follow_the_calendar() {
    let bench = Bench::new();
    let run = |more: &[(&str, &str)]| {
        let base =
            [("odometer", "120000 km"), ("date", "2026-11-23"), ("distance", "50000..90000 km"), ("time", "4..6 year")];
        let given: Vec<(&str, &str)> = base.into_iter().chain(more.iter().copied()).collect();
        let outcome = bench.run("next-due", &given);
        let text = |name: &str| match &outcome.outputs[name] {
            Value::Text(text) => text.clone(),
            other => panic!("{other:?}"),
        };
        (bench.number(&outcome, "due_at", "km"), text("due_on"), text("rule"))
    };
    let (at, on, rule) = run(&[]);
    near(at, 190_000.0, 1e-12, &"the middle of the interval");
    assert_eq!((on.as_str(), rule.as_str()), ("2031-11-23", "distance or time, whichever comes first"));
    assert_eq!(run(&[("severity", "severe")]).1, "2030-11-23");
    near(run(&[("severity", "severe")]).0, 170_000.0, 1e-12, &"the short end");
    near(run(&[("severity", "light")]).0, 210_000.0, 1e-12, &"the long end");
    assert_eq!(run(&[("per_year", "35000 km")]).1, "2028-11-23");
    assert_eq!(run(&[("per_year", "35000 km")]).2, "distance, at this use");
    assert_eq!(run(&[("per_year", "5000 mile")]).2, "time, at this use");
    let leap = [("odometer", "1 km"), ("date", "2027-08-31"), ("distance", "50000 km"), ("time", "6 month")];
    assert_eq!(bench.run("next-due", &leap).outputs["due_on"], Value::Text("2028-02-29".into()));
    bench.refused("next-due", &[("odometer", "1 km"), ("date", "2027-02-30")], "faulty-input");
}

#[test]
fn containers_are_chosen_with_little_left_over() {
    let bench = Bench::new();
    let bring = |refill: &str, overflow: &str, sizes: &str| {
        let outcome =
            bench.run("fluid-to-bring", &[("refill", refill), ("overflow", overflow), ("container_sizes", sizes)]);
        match &outcome.outputs["bring"] {
            Value::Text(text) => (text.clone(), outcome),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(bring("4.4..5.2 L", "0.5 L", "1 L").0, "6 x 1 L");
    assert_eq!(bring("4.4..5.2 L", "0.5 L", "5 L; 1 L").0, "1 x 5 L, 1 x 1 L");
    assert_eq!(bring("7.4..8.2 L", "0.8 L", "1 L; 5 L; 4 L").0, "1 x 5 L, 1 x 4 L");
    assert_eq!(bring("5 L", "0 L", "5 L; 1 L").0, "1 x 5 L");
    let (_, outcome) = bring("4.4..5.2 L", "0.5 L", "1 L");
    let Value::Range(low, high) = &outcome.outputs["left_over"] else { panic!("no range") };
    near(bench.parsed.units.convert(low, "L").expect("litres"), 0.3, 1e-9, low);
    near(bench.parsed.units.convert(high, "L").expect("litres"), 1.6, 1e-9, high);
    bench.refused(
        "fluid-to-bring",
        &[("refill", "5 L"), ("overflow", "0 L"), ("container_sizes", "0 L")],
        "input-beyond-limit",
    );
    bench.refused(
        "fluid-to-bring",
        &[("refill", "900 L"), ("overflow", "0 L"), ("container_sizes", "1 L")],
        "faulty-script",
    );
}
