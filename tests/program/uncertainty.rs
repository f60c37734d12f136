//! Uncertainty of results against values from outside. tests/reference/SOURCES.md says where the values come from.

use std::time::Duration;

use assert_cmd::Command;
use indexmap::IndexMap;
use serde_json::Value as Json;
use standpipe::quantity::Units;
use standpipe::script::{ScriptFile, Scripts};
use standpipe::sheet::Sheet;
use standpipe::sheet::uncertainty::{Error, Found, Plan, Propagated, Spread, propagate};
use standpipe::source::Source;
use standpipe::value::Value;

struct Row {
    id: String,
    inputs: String,
    value: f64,
    standard: f64,
}

fn reference() -> Vec<Row> {
    let mut reader = csv::Reader::from_path("tests/reference/uncertainty.csv").unwrap();
    let number = |text: &str| text.parse().unwrap_or(f64::NAN);
    reader
        .records()
        .map(|row| row.unwrap())
        .map(|row| Row { id: row[0].into(), inputs: row[2].into(), value: number(&row[3]), standard: number(&row[4]) })
        .collect()
}

fn row(id: &str) -> Row {
    reference().into_iter().find(|row| row.id == id).unwrap_or_else(|| panic!("no row {id}"))
}

/// `T=40±0.8; d=0.008 exact`: names, values and standard uncertainties; units are coherent and left out.
fn inputs_of(text: &str) -> Vec<(String, f64, Option<f64>)> {
    let number = |text: &str| text.split_whitespace().next().unwrap().parse::<f64>().unwrap();
    text.split(';')
        .map(|one| {
            let (name, value) = one.trim().split_once('=').unwrap();
            let (value, error) = match value.split_once('±') {
                Some((value, error)) => (value, Some(number(error))),
                None => (value, None),
            };
            (name.to_lowercase(), number(value), error)
        })
        .collect()
}

/// A sheet of plain numbers around one formula.
fn sheet(formula: &str, names: &[String]) -> (Sheet, Source) {
    let inputs: String = names.iter().map(|name| format!("  {name}: {{ is: ratio }}\n")).collect();
    let text = format!(
        "sheet: formula\ntitle: Formula\nscript: arithmetic::formula\nsources: [none]\ninputs:\n{inputs}outputs:\n  \
         result: {{ is: ratio }}\n"
    );
    let mut problems = Vec::new();
    let sheet = Sheet::read(&Source::new("formula.yaml", text), "", &Units::standard(), &mut problems);
    let script = format!("fn formula(x) {{ #{{ result: {formula} }} }}");
    (sheet.unwrap_or_else(|| panic!("{problems:?}")), Source { name: "arithmetic.rhai".into(), text: script })
}

fn propagated(formula: &str, given: &[(String, f64, Option<f64>)], seed: u64, threads: usize) -> Propagated {
    let names: Vec<String> = given.iter().map(|(name, ..)| name.clone()).collect();
    let (sheet, script) = sheet(formula, &names);
    let units = Units::standard();
    let inputs: IndexMap<_, _> = given.iter().map(|(name, value, _)| (name.clone(), Value::Number(*value))).collect();
    let spread = |(name, _, error): &(String, f64, Option<f64>)| {
        error.map(|error| (name.clone(), Spread(vec![Error::Normal(error)])))
    };
    let spreads = given.iter().filter_map(spread).collect();
    let plan = Plan { seed, threads, alone: Duration::ZERO, ..Plan::new(&sheet, &units, &inputs, &spreads) };
    let scripts = || {
        let source = Source::new(script.name.clone(), script.text.clone());
        Scripts::new(Units::standard(), vec![ScriptFile { name: "arithmetic".into(), plugin: "".into(), source }])
    };
    propagate(&plan, &scripts, &mut |_| ()).unwrap()
}

fn number(found: &Propagated) -> (f64, f64, (f64, f64)) {
    match &found.outputs["result"] {
        Found::Number { mean, uncertain } => (*mean, uncertain.standard, (uncertain.low, uncertain.high)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn formulas_of_general_arithmetic() {
    // Formula, and by how much of it the standard uncertainty may differ: 20,000 trials and more give it to half a percent;
    // where the formula is curved, first order is too small.
    let formulas = [
        ("UN10", "x.f * x.l", 0.015),
        ("UN11", "x.t * x.l / (x.l + x.e)", 0.015),
        ("UN12", "x.v1 * exp(-x.a * x.dt)", 0.015),
        ("UN13", "x.m / x.v", 0.015),
        ("UN14", "x.ta + (x.t0 - x.ta) * exp(-x.t / x.tau)", 0.015),
        ("UN15", "x.vin - x.vout - x.vspill", 0.015),
        ("UN16", "x.t / (x.k * x.d)", 0.05),
        ("UN17", "x.a * tan(x.angle * pi() / 180)", 0.015),
        ("UN18", "x.x * x.x", 0.015),
        ("UN19", "x.x * x.y", 0.015),
        ("UN20", "x.x - x.x", 0.0),
        ("UN21", "ln(x.x)", 0.015),
        ("UN22", "sqrt(x.a ** 2 + x.b ** 2)", 0.015),
    ];
    for (id, formula, tolerance) in formulas {
        let row = row(id);
        let given = inputs_of(&row.inputs);
        let found = propagated(formula, &given, 1, 2);
        let (mean, standard, (low, high)) = number(&found);
        assert!(found.settled, "{id}");
        assert!((standard - row.standard).abs() <= tolerance * row.standard, "{id}: {standard} {}", row.standard);
        assert!((mean - row.value).abs() <= 0.2 * row.standard, "{id}: {mean} {}", row.value);
        assert!(low <= row.value && row.value <= high, "{id}: {low} {high}");
        // The budget is first order, as the reference is, up to the curve between plus and minus one standard uncertainty.
        let budget: f64 = found.contributions["result"].values().map(|part| part * part).sum::<f64>().sqrt();
        assert!((budget - row.standard).abs() <= 0.013 * row.standard, "{id}: {budget} {}", row.standard);
    }
}

#[test]
fn one_input_used_twice_is_no_two_inputs() {
    let x = ("x".to_owned(), 3.0, Some(0.1));
    let y = ("y".to_owned(), 3.0, Some(0.1));
    let (_, same, _) = number(&propagated("x.x * x.x", std::slice::from_ref(&x), 1, 2));
    let (_, apart, _) = number(&propagated("x.x * x.y", &[x, y], 1, 2));
    assert!((same / apart - 2f64.sqrt()).abs() < 0.03, "{same} {apart}");
}

#[test]
fn the_same_seed_gives_the_same_result_on_any_number_of_cores() {
    let given = inputs_of(&row("UN14").inputs);
    let formula = "x.ta + (x.t0 - x.ta) * exp(-x.t / x.tau)";
    let one = propagated(formula, &given, 42, 1);
    assert_eq!(one, propagated(formula, &given, 42, 3));
    assert_ne!(one, propagated(formula, &given, 43, 1));
}

#[test]
fn forms_of_error_have_the_factors_of_the_gum() {
    for (id, error) in [
        ("UN23", Error::Rectangular(0.5)),
        ("UN24", Error::Arcsine(0.5)),
        ("UN25", Error::Triangular(0.5)),
        ("UN26", Error::Rectangular(0.1 / 2.0)),
    ] {
        assert!((error.standard() - row(id).standard).abs() < 1e-9, "{id}");
    }
}

#[test]
fn a_normal_result_has_a_normal_interval() {
    let given = inputs_of(&row("UN15").inputs);
    let (mean, standard, (low, high)) = number(&propagated("x.vin - x.vout - x.vspill", &given, 1, 2));
    // 1.96 standard deviations each way; the ends of 20,000 trials are good to about 0.02 of one.
    for end in [(high - mean) / standard, (mean - low) / standard] {
        assert!((end - 1.96).abs() < 0.06, "{end}");
    }
}

const GAUGE: [&str; 13] = [
    "calc",
    "gauge-length",
    "standard=50000.623(25) μm",
    "difference=0.2150(58) μm",
    "random=0.0000(39) μm",
    "systematic=0 μm u=0.0067 μm",
    "expansion=11.5e-6 ± 2e-6 1/°C",
    "d_expansion=0 ± 1e-6 1/°C",
    "mean_off=-0.1(2) °C",
    "swing=0 ± 0.5 °C arcsine",
    "d_off=0 ± 0.05 °C",
    "--plugins",
    "tests/fixtures/gauge-block",
];

fn gauge(more: &[&str]) -> String {
    let output = Command::cargo_bin("standpipe").unwrap().args(GAUGE).args(more).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_first_example_of_the_gum() {
    let json: Json = serde_json::from_str(&gauge(&["--format", "json"])).unwrap();
    let length = &json["outputs"]["length"];
    let nanometres = |value: &Json| value.as_f64().unwrap() * 1000.0;
    // The formula is not linear, so first order (32 nm) is too small and second order is the value to compare with.
    let (first, second) = (row("UN02"), row("UN09"));
    assert!((nanometres(&length["value"]) - second.value).abs() < 1e-3, "{length}");
    let uncertainty = &length["uncertainty"];
    let standard = nanometres(&uncertainty["standard"]);
    assert_eq!(standard.round(), second.standard, "{uncertainty}");
    assert!(standard > first.standard * 1.03);
    let parts = &uncertainty["contributions"];
    for (id, part) in [
        ("UN03", "standard"),
        ("UN04", "d_off"),
        ("UN05", "systematic"),
        ("UN06", "difference"),
        ("UN07", "random"),
        ("UN08", "d_expansion"),
    ] {
        assert!((nanometres(&parts[part]) - row(id).standard).abs() < 1e-3, "{id}: {}", parts[part]);
    }
    let budget: f64 = parts.as_object().unwrap().values().map(|part| nanometres(part).powi(2)).sum::<f64>().sqrt();
    assert!((budget - first.standard).abs() < 0.01 * first.standard, "{budget}");
}

#[test]
fn it_is_shown_to_the_digits_that_the_uncertainty_leaves() {
    let page = gauge(&["--explain"]);
    assert!(page.contains("  length            50000.838 μm, u = 0.034 μm, 95 % in 50000.7"), "{page}");
    assert!(page.contains("  standard          50000.623 μm (50.000623 mm), u = 0.025 μm"), "{page}");
    assert!(page.contains("u of length in μm from standard 0.025, d_off 0.017"), "{page}");
    assert_eq!(page, gauge(&["--explain"]), "the same seed gives the same page");
    let table = gauge(&["--format", "csv"]);
    assert!(table.contains(",length [μm],u(length) [μm],warnings\n"), "{table}");
}

#[test]
fn instruments_of_the_shop_bring_their_errors_along() {
    let calc = |volume: &str| {
        let args = ["calc", "volume-at-temperature", volume, "at=40@reader", "to=15 degC", "density_15=850 kg/m3"];
        let shop = ["--shop", "examples/workshop/shop.yaml", "--format", "json"];
        let output = Command::cargo_bin("standpipe").unwrap().args(args).args(shop).output().unwrap();
        let json: Json = serde_json::from_slice(&output.stdout).unwrap();
        (output.status.code().unwrap(), json)
    };
    let (code, json) = calc("volume=5.00@jug");
    assert_eq!(code, 0, "{json:#}");
    // 0.05 L as a limit, and half a step of 0.05 L: the root of 0.05^2/3 + 0.025^2/3.
    let standard = json["inputs"]["volume"]["standard_uncertainty"].as_f64().unwrap();
    assert!((standard - 0.032_274_861).abs() < 1e-8, "{standard}");
    for (volume, part) in [
        ("volume=7.00@jug", "does not reach this value"),
        ("volume=5.00@jgu", "the shop has no instrument `jgu`"),
        ("volume=5.00@scales", "is a unit of mass"),
    ] {
        let (code, json) = calc(volume);
        assert_eq!(code, 2, "{json:#}");
        assert!(json["problems"][0]["message"].as_str().unwrap().contains(part), "{json:#}");
    }
}

#[test]
fn every_row_of_a_table_comes_out_as_it_would_alone() {
    let folder = tempfile::tempdir().unwrap();
    let run = |args: &[&str]| Command::cargo_bin("standpipe").unwrap().args(args).output().unwrap();
    let table = |text: &str, more: &[&str]| {
        let file = folder.path().join("rows.csv");
        std::fs::write(&file, text).unwrap();
        let start = ["calc", "volume-correction", "--table", file.to_str().unwrap()];
        let output = run(&[&start, more].concat());
        (output.status.code().unwrap(), String::from_utf8(output.stdout).unwrap())
    };
    let alone = |temperature: &str| {
        let given = format!("temperature={temperature}");
        let output = run(&["calc", "volume-correction", &given, "density_15=850 kg/m3", "--format", "json"]);
        let json: Json = serde_json::from_slice(&output.stdout).unwrap();
        let factor = &json["outputs"]["factor"];
        let found = |key: &str| factor["uncertainty"][key].as_f64().unwrap().to_string();
        format!("{},{},{},{}", factor["value"].as_f64().unwrap(), found("standard"), found("low"), found("high"))
    };
    let heading = "factor [1],u(factor) [1],low(factor) [1],high(factor) [1],warnings,error";
    let (code, text) =
        table("temperature\n40.0 ± 1.5 degC\n60(2) degC\n20 degC\n", &["density_15=850 kg/m3", "--uncertainty"]);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!((code, lines[0]), (0, format!("temperature,{heading}").as_str()), "{text}");
    assert_eq!(lines[1], format!("40.0 ± 1.5 degC,{},,", alone("40.0 ± 1.5 degC")));
    assert_eq!(lines[2], format!("60(2) degC,{},,", alone("60(2) degC")));
    assert!(lines[3].starts_with("20 degC,0.99") && lines[3].ends_with(",,,,,"), "{text}");

    // The same from a column of standard uncertainties; an empty cell has none.
    let (code, text) = table("temperature [degC],u(temperature) [degC]\n60,2\n20,\n20,-1\n", &["density_15=850 kg/m3"]);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!((code, lines[0]), (1, format!("temperature [degC],u(temperature) [degC],{heading}").as_str()), "{text}");
    assert_eq!(lines[1], format!("60,2,{},,", alone("60 degC u=2")));
    assert!(lines[2].ends_with(",,,,,") && lines[3].ends_with("`-1` is not a standard uncertainty"), "{text}");

    let (code, text) = table("temperature\n40.0 ± 1.5 degC\n", &["density_15=850 kg/m3"]);
    assert!(code == 1 && text.contains("add --uncertainty"), "{text}");
    let (code, text) = table("temperature [degC]\n40\n", &["density_15=850(2) kg/m3"]);
    assert!(code == 0 && text.contains(",u(factor) [1],"), "{text}");
}

#[test]
fn a_calibration_that_ran_out_is_said_beside_the_result() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop.yaml");
    std::fs::write(&shop, "shop: shed\ninvented: true\ninstruments:\n  jug: { kind: measuring-jug, range: 0.1..6 L, accuracy: 0.05 L, unit: L, due: 2020-01-31 }\n").unwrap();
    let args = ["calc", "volume-at-temperature", "volume=5.00@jug", "at=40 degC", "to=15 degC", "density_15=850 kg/m3"];
    let output = Command::cargo_bin("standpipe").unwrap().args(args).arg("--shop").arg(&shop).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("the calibration of `jug` ran out on 2020-01-31"), "{said}");
}

#[test]
fn trials_that_the_sheet_refuses_are_no_uncertainty() {
    let args = ["calc", "volume-correction", "temperature=20(1) degC", "density_15=801(5) kg/m3", "--format", "json"];
    let output = Command::cargo_bin("standpipe").unwrap().args(args).output().unwrap();
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((output.status.code(), &json["ok"]), (Some(1), &false.into()));
    let message = json["problems"][0]["message"].as_str().unwrap();
    assert!(message.contains("of 2000 trials are refused") && message.contains("density_15 is"), "{message}");
    assert!(json["outputs"]["factor"]["value"].is_number() && json["outputs"]["factor"]["uncertainty"].is_null());
}

/// Once in two thousand trials the density falls below what the sheet takes: the interval stands, and says so.
#[test]
fn a_trial_refused_now_and_then_takes_no_interval_away() {
    let args = ["calc", "volume-correction", "temperature=20(1) degC", "density_15=801.0(3) kg/m3", "--format", "json"];
    let output = Command::cargo_bin("standpipe").unwrap().args(args).output().unwrap();
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{json}");
    assert!(json["outputs"]["factor"]["uncertainty"].is_object(), "{json}");
    assert!(json.to_string().contains("refused: "), "{json}");
}

#[test]
fn a_verdict_is_shown_with_how_often_it_came() {
    let args = ["calc", "fluid-ledger", "removed=6.35 L", "added=6.4 L", "overflow=", "temperature=20 degC"];
    let more = ["density_15=845 kg/m3", "allowed=0.25(3) L", "--format", "json"];
    let output = Command::cargo_bin("standpipe").unwrap().args(args).args(more).output().unwrap();
    let json: Json = serde_json::from_slice(&output.stdout).unwrap();
    let verdict = &json["outputs"]["verdict"];
    let shares: f64 = verdict["shares"].as_object().unwrap().values().map(|share| share.as_f64().unwrap()).sum();
    assert!((shares - 1.0).abs() < 1e-9 && verdict["value"].is_string(), "{verdict}");
    assert!(verdict["shares"].as_object().unwrap().len() > 1, "{verdict}");
}
