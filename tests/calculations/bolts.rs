//! Threads, torque, preload, stripping.

use std::collections::HashMap;

use standpipe::sheet::Outcome;
use standpipe::value::Value;

use crate::bench::{Bench, Row, near, number, rows};

fn text<'a>(outcome: &'a Outcome, name: &str) -> Vec<&'a str> {
    match &outcome.outputs[name] {
        Value::List(items) => items
            .iter()
            .map(|item| match item {
                Value::Text(text) => text.as_str(),
                other => panic!("{other:?}"),
            })
            .collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn stress_areas_and_proof_loads_are_those_of_the_standards() {
    let bench = Bench::new();
    let mut loads = 0;
    for row in rows("fasteners_iso898_1.csv", 21) {
        let (d, p) = (format!("{} mm", row["d_mm"]), format!("{} mm", row["pitch_mm"]));
        let area = bench.run("bolt-stress-area", &[("diameter", d.as_str()), ("pitch", &p)]);
        let area = bench.number(&area, "area", "mm2");
        // Printed to four digits behind the point, from diameters rounded to a thousandth.
        near(area, number(&row, "As_exact_mm2"), 2e-5, &row);
        near(area, number(&row, "As_nominal_table_mm2"), 7e-3, &row);
        if row["property_class"].is_empty() {
            continue;
        }
        let given = [
            ("torque", "1 N·m"),
            ("diameter", d.as_str()),
            ("nut_factor", "0.2"),
            ("size", &row["thread"]),
            ("property_class", &row["property_class"]),
        ];
        let outcome = bench.run("bolt-preload-nut-factor", &given);
        // The printed loads are those of rounded areas, and rounded again.
        near(bench.number(&outcome, "proof_load", "N"), number(&row, "proof_load_N"), 8e-3, &row);
        loads += 1;
    }
    assert_eq!(loads, 16);
    for row in rows("fasteners_sae_j429.csv", 7) {
        let (d, p) = (format!("{} in", row["d_in"]), format!("{} in", 1.0 / number(&row, "tpi")));
        let area = bench.run("bolt-stress-area", &[("diameter", d.as_str()), ("pitch", &p), ("form", "inch")]);
        // Printed to six digits behind the point.
        near(bench.number(&area, "area", "in2"), number(&row, "As_formula_in2"), 2e-5, &row);
        let size = &row["thread"];
        let given = [
            ("torque", "1 lbf·ft"),
            ("diameter", d.as_str()),
            ("nut_factor", "0.2"),
            ("size", size),
            ("property_class", &row["grade"]),
        ];
        let outcome = bench.run("bolt-preload-nut-factor", &given);
        let proof = bench.number(&outcome, "proof_load", "lbf");
        near(proof, number(&row, "proof_load_from_area_lbf"), 1e-3, &row);
        near(proof, number(&row, "proof_load_table_lbf"), 1e-2, &row);
    }
    let swapped = [("diameter", "1 mm"), ("pitch", "8 mm")];
    bench.refused("bolt-stress-area", &swapped, "faulty-script");
}

/// Dimensions as in the row; the head as of the coarse thread of the same size, from memory of ISO 4014 and ISO 273.
fn dimensions(row: &Row) -> Vec<(&'static str, String)> {
    let head = if row["DKm_mm"].is_empty() {
        let coarse = row["thread"].split('x').next().unwrap_or_default();
        match coarse {
            "M6" => "7.74",
            "M8" => "10.315",
            "M10" => "12.815",
            "M12" => "15.065",
            "M16" => "19.995",
            other => panic!("no head of {other}"),
        }
    } else {
        &row["DKm_mm"]
    };
    vec![
        ("pitch", format!("{} mm", row["pitch_mm"])),
        ("pitch_diameter", format!("{} mm", row["d2_mm"])),
        ("head_friction_diameter", format!("{head} mm")),
        ("thread_friction", row["mu_thread"].clone()),
        ("head_friction", row["mu_head"].clone()),
    ]
}

#[test]
fn torque_and_preload_follow_the_guideline() {
    let bench = Bench::new();
    let mut kinds: HashMap<String, usize> = HashMap::new();
    for row in rows("bolt_torque_preload.csv", 100) {
        *kinds.entry(row["kind"].clone()).or_default() += 1;
        // How far the form that a row was computed by, or the printing of it, lies from the linear form of the sheet.
        let tolerance = match row["kind"].as_str() {
            "VDI2230_table" => 1.4e-2,
            "VDI2230_equations" | "long_rounded_0.16_0.58" => 3e-3,
            "long_exact_trig" => 6e-3,
            _ => continue,
        };
        let mut given = dimensions(&row);
        let preload = format!("{} N", row["preload_N"]);
        given.push(("preload", preload));
        let borrowed: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
        let outcome = bench.run("bolt-torque", &borrowed);
        let torque = bench.number(&outcome, "torque", "N·m");
        near(torque, number(&row, "torque_Nm"), tolerance, &row);
        // By hand, in double precision, to the last digits.
        let n = |column: &str| number(&row, column);
        let head: f64 = given[2].1.trim_end_matches(" mm").parse().expect("a length");
        let arm = n("pitch_mm") / (2.0 * std::f64::consts::PI)
            + n("mu_thread") * n("d2_mm") / (2.0 * (std::f64::consts::PI / 6.0).cos())
            + n("mu_head") * head / 2.0;
        near(torque, n("preload_N") * arm / 1000.0, 1e-12, &row);
        // And back again.
        let torque = format!("{torque} N·m");
        let mut given = dimensions(&row);
        given.push(("torque", torque));
        let borrowed: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
        near(bench.number(&bench.run("bolt-preload", &borrowed), "preload", "N"), n("preload_N"), 1e-12, &row);
        if row["kind"] == "VDI2230_table" {
            // Its preloads are those at 90 % of the yield stress, by tension and torsion, printed to three digits.
            let strength = [("size", row["thread"].as_str()), ("property_class", row["property_class"].as_str())];
            let outcome = bench.run("bolt-preload", &[borrowed.as_slice(), strength.as_slice()].concat());
            near(bench.number(&outcome, "allowed", "N"), n("preload_N"), 1.5e-2, &row);
        }
    }
    assert_eq!(kinds["VDI2230_table"] + kinds["VDI2230_equations"], 61);
    assert_eq!(kinds["long_exact_trig"] + kinds["long_rounded_0.16_0.58"], 18);
}

#[test]
fn torsion_counts_before_the_proof_load_is_reached() {
    let bench = Bench::new();
    let at = |torque: &str| {
        let given = [
            ("torque", torque),
            ("size", "M6"),
            ("property_class", "8.8"),
            ("thread_friction", "0.14"),
            ("head_friction", "0.14"),
        ];
        bench.run("bolt-preload", &given)
    };
    // By hand: 9.9 kN at 11.3 N·m allowed, 11.0 kN at 12.5 N·m yields; at 13 N·m it is still 0.98 of the proof load.
    let over = at("13 N·m");
    assert!(bench.number(&over, "share_of_proof", "1") < 1.0);
    assert!(over.warnings[0].contains("it yields at"), "{:?}", over.warnings);
    near(bench.number(&over, "allowed", "kN"), 9.9, 5e-3, &over);
    assert!(at("12 N·m").warnings[0].contains("allows no more"), "{:?}", at("12 N·m").warnings);
    assert!(at("11 N·m").warnings.is_empty());
}

#[test]
fn numbers_that_contradict_a_size_are_refused() {
    let bench = Bench::new();
    let friction = [("thread_friction", "0.14"), ("head_friction", "0.14"), ("torque", "10 N·m"), ("size", "M8")];
    for slip in [("pitch", "1 mm"), ("pitch_diameter", "5.35 mm")] {
        bench.refused("bolt-preload", &[friction.as_slice(), &[slip]].concat(), "faulty-script");
    }
    bench.run("bolt-preload", &[friction.as_slice(), &[("pitch", "1.25 mm")]].concat());
    let nut = [("torque", "10 N·m"), ("nut_factor", "0.2"), ("size", "M8"), ("property_class", "8.8")];
    bench.refused("bolt-preload-nut-factor", &[nut.as_slice(), &[("diameter", "6 mm")]].concat(), "faulty-script");
    let strip = [("shear_strength", "130 MPa"), ("preload", "9000 N"), ("size", "M6"), ("engagement", "12 mm")];
    for slip in [("screw_major", "6.5 mm"), ("nut_pitch_diameter", "4.5 mm"), ("nut_pitch_diameter", "6.2 mm")] {
        bench.refused("thread-strip-margin", &[strip.as_slice(), &[slip]].concat(), "faulty-script");
    }
    let long = |engagement: &'static str| {
        bench.run("thread-strip-margin", &[strip[0], strip[1], strip[2], ("engagement", engagement)])
    };
    let (deep, enough) = (long("80 mm"), long("15 mm"));
    assert_eq!((deep.warnings.len(), enough.warnings.len()), (1, 0));
    near(bench.number(&deep, "margin", "1"), bench.number(&enough, "margin", "1"), 1e-12, &deep);
}

#[test]
fn sizes_are_looked_up_and_editions_not_mixed() {
    let bench = Bench::new();
    let mut older = 0;
    for row in rows("bolt_torque_preload.csv", 100) {
        let size = row["thread"].as_str();
        if row["kind"] == "VDI2230_equations" {
            // The pitch diameter is computed, the head comes from the table: the same numbers as the row's.
            let (preload, mu) = (format!("{} N", row["preload_N"]), row["mu_thread"].as_str());
            let given = [("preload", preload.as_str()), ("size", size), ("thread_friction", mu), ("head_friction", mu)];
            near(
                bench.number(&bench.run("bolt-torque", &given), "torque", "N·m"),
                number(&row, "torque_Nm"),
                3e-3,
                &row,
            );
        }
        if row["kind"] == "older_edition_torque_only" {
            let torque = format!("{} N·m", row["torque_Nm"]);
            let given = [
                ("torque", torque.as_str()),
                ("size", size),
                ("property_class", &row["property_class"]),
                ("thread_friction", "0.14"),
                ("head_friction", "0.14"),
            ];
            let outcome = bench.run("bolt-preload", &given);
            // At the newer level it is 85 to 90 % of the proof load at this friction.
            let share = bench.number(&outcome, "share_of_proof", "1");
            assert!((0.65..0.83).contains(&share), "{share}: {row:?}");
            older += 1;
        }
    }
    assert_eq!(older, 10);
    let run = |more: &[(&str, &str)]| {
        let base = [("torque", "8 N·m"), ("thread_friction", "0.12"), ("head_friction", "0.12")];
        let given: Vec<(&str, &str)> = base.into_iter().chain(more.iter().copied()).collect();
        bench.try_run("bolt-preload", &given)
    };
    for size in ["M6", "m6", "M 6", "M6x1"] {
        let outcome = run(&[("size", size), ("property_class", "8.8"), ("friction_class", "B")]).expect("a preload");
        // By hand: 8 N·m / 0.9942 mm = 8046 N of 20.12 mm2 x 580 MPa.
        near(bench.number(&outcome, "share_of_proof", "1"), 0.6894, 1e-4, &size);
        let Value::Range(low, high) = &outcome.outputs["between"] else { panic!("no range") };
        assert!(low.si < 6300.0 && high.si > 11000.0, "{outcome:?}");
    }
    assert!(run(&[("size", "M8×1")]).is_ok());
    let stretched = run(&[("size", "M4"), ("property_class", "8.8")]).expect("a preload");
    assert!(stretched.warnings[0].contains("breaking load"), "{:?}", stretched.warnings);
    bench.refused(
        "bolt-preload",
        &[("torque", "8 N·m"), ("size", "M6x20"), ("thread_friction", "0.12"), ("head_friction", "0.12")],
        "faulty-script",
    );
    for more in [&[][..], &[("size", "M6"), ("property_class", "7.7")], &[("size", "1/4-20")], &[("pitch", "1 mm")]] {
        assert!(run(more).is_err(), "{more:?}");
    }
    // The head of M7 is in no table: unknown, so nothing is shown.
    assert!(matches!(run(&[("size", "M7")]), Err(standpipe::script::Fault::NotShown(_))));
}

#[test]
fn the_nut_factor_is_the_rule_of_the_tables() {
    let bench = Bench::new();
    let mut seen = 0;
    for row in rows("bolt_torque_preload.csv", 100) {
        let tolerance = match row["kind"].as_str() {
            // 13 to 55 lbf·ft printed to a tenth, 5.4 too.
            "TKDF_published_inch" => 1.3e-2,
            "TKDF" => 1e-12,
            _ => continue,
        };
        let given = [
            ("torque", format!("{} N·m", row["torque_Nm"])),
            ("diameter", format!("{} mm", row["d_mm"])),
            ("nut_factor", row["K_nut_factor"].clone()),
        ];
        let given: Vec<(&str, &str)> = given.iter().map(|(name, text)| (*name, text.as_str())).collect();
        let outcome = bench.run("bolt-preload-nut-factor", &given);
        near(bench.number(&outcome, "preload", "N"), number(&row, "preload_N"), tolerance, &row);
        seen += 1;
    }
    assert_eq!(seen, 11);
    let none = [("torque", "8 N·m"), ("diameter", "6 mm"), ("nut_factor", "0")];
    bench.refused("bolt-preload-nut-factor", &none, "input-beyond-limit");
}

#[test]
fn a_tapped_thread_strips_where_the_example_says() {
    let bench = Bench::new();
    let base = [("size", "M10"), ("shear_strength", "130 MPa"), ("preload", "69600 N")];
    let run = |more: &[(&str, &str)]| {
        let given: Vec<(&str, &str)> = base.into_iter().chain(more.iter().copied()).collect();
        bench.run("thread-strip-margin", &given)
    };
    // published: worked example of a handbook, seen in an abstract: with 9.968 mm and 9.206 mm it takes 21.6 mm.
    let example = run(&[("engagement", "21.6 mm"), ("screw_major", "9.968 mm"), ("nut_pitch_diameter", "9.206 mm")]);
    near(bench.number(&example, "margin", "1"), 1.0, 3e-3, &example);
    // from memory of ISO 965-2: 9.732 mm and 9.206 mm are the limits of 6g in 6H; the formulas come within 0.5 %.
    let printed = run(&[("engagement", "20 mm"), ("screw_major", "9.732 mm"), ("nut_pitch_diameter", "9.206 mm")]);
    let computed = run(&[("engagement", "20 mm")]);
    near(bench.number(&computed, "margin", "1"), bench.number(&printed, "margin", "1"), 5e-3, &computed);
    // from memory of ASME B1.1: 1/4-20 UNC 2A in 2B, 0.2408 in and 0.2223 in.
    let inch = [("size", "1/4-20"), ("shear_strength", "130 MPa"), ("preload", "5000 N"), ("engagement", "0.5 in")];
    let limits = [("screw_major", "0.2408 in"), ("nut_pitch_diameter", "0.2223 in")];
    let printed: Vec<(&str, &str)> = inch.into_iter().chain(limits).collect();
    let (printed, computed) = (bench.run("thread-strip-margin", &printed), bench.run("thread-strip-margin", &inch));
    near(bench.number(&computed, "margin", "1"), bench.number(&printed, "margin", "1"), 5e-3, &computed);
    assert_eq!(run(&[("engagement", "8 mm")]).warnings.len(), 1);
    let repaired = [base[0], base[1], base[2], ("engagement", "20 mm"), ("repaired", "true")];
    bench.refused("thread-strip-margin", &repaired, "faulty-script");
}

#[test]
fn a_number_tells_its_unit_by_what_it_would_do() {
    let bench = Bench::new();
    let alarm = |number: &str, size: &str, class: &str| {
        bench.run("torque-unit-alarm", &[("number", number), ("size", size), ("property_class", class)])
    };
    let outcome = alarm("71", "M6", "8.8");
    assert_eq!(text(&outcome, "plausible"), ["lbf·in", "kgf·cm"]);
    let Value::List(verdicts) = &outcome.outputs["verdicts"] else { panic!("no list") };
    let verdict = |unit: &str| {
        let one = verdicts.iter().find(|one| one.at(&["unit"]) == Some(&Value::Text(unit.into())));
        one.and_then(|one| one.at(&["verdict"])).cloned().expect("a verdict")
    };
    assert_eq!(verdict("lbf·ft"), Value::Text("breaks it".into()));
    assert_eq!(verdict("N·m"), Value::Text("breaks it".into()));
    assert_eq!(outcome.warnings.len(), 1);
    assert_eq!(text(&alarm("8", "M6", "8.8"), "plausible"), ["N·m", "lbf·ft"]);
    assert_eq!(text(&alarm("8", "1/4-20", "5"), "plausible"), ["N·m", "lbf·ft"]);
    assert!(text(&alarm("100000", "M6", "8.8"), "plausible").is_empty());
    bench.refused("torque-unit-alarm", &[("number", "8"), ("size", "6"), ("property_class", "8.8")], "faulty-script");
    bench.refused("torque-unit-alarm", &[("number", "8"), ("size", "M6"), ("property_class", "5")], "faulty-script");
}
