//! `standpipe calc` as it is called.

use std::fs;

use assert_cmd::Command;
use serde_json::Value as Json;

struct Ran {
    code: i32,
    out: String,
    err: String,
}

fn standpipe(args: &[&str]) -> Ran {
    let output = Command::cargo_bin("standpipe").unwrap().env_remove("NO_COLOR").args(args).output().unwrap();
    Ran {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn calc(args: &[&str]) -> Ran {
    standpipe(&[&["calc"], args].concat())
}

fn json(args: &[&str]) -> (i32, Json) {
    let ran = calc(&[args, &["--format", "json"]].concat());
    assert_eq!(ran.err, "", "messages travel with the result");
    (ran.code, serde_json::from_str(&ran.out).unwrap())
}

const VOLUME: [&str; 5] =
    ["volume-at-temperature", "volume=7.00 L", "at=100 degF", "to=15degC", "density_15=850 kg/m3"];

#[test]
fn a_calculation_shows_what_it_was_given_what_came_out_and_what_it_rests_on() {
    let ran = calc(&VOLUME);
    assert_eq!(ran.code, 0, "{}", ran.err);
    for line in [
        "What a volume becomes at another temperature",
        "  at                100 °F (37.8 °C)",
        "  density_15        850 kg/m³",
        // computed in Python: 7 exp(-a dt (1 + 0.8 a dt)) = 6.88166, a = 0.6278 / 850, dt = 22.78 K
        "  volume            6.882 L",
        "Source    API MPMS 11.1 / ASTM D1250, lubricating oils",
    ] {
        assert!(ran.out.lines().any(|one| one == line), "{line}\n{}", ran.out);
    }
    assert!(ran.out.contains("Formula   volume x factor(at) / factor(to)") && ran.out.contains("Holds     "));
    assert_eq!(ran.err, "");
}

#[test]
fn the_steps_of_a_script_are_shown_without_its_doing_anything_for_it() {
    let ran = calc(&[&VOLUME[..], &["--explain"]].concat());
    // computed in Python: exp(-a dt (1 + 0.8 a dt)), a = 0.6278 / 850, dt = 68 5 / 9 - 15
    assert!(ran.out.contains("  factor_at         0.983"), "{}", ran.out);
    assert!(ran.out.contains("  factor_to         1\n"), "{}", ran.out);
    let (_, json) = json(&[&VOLUME[..], &["--explain"]].concat());
    assert_eq!(json["steps"]["factor_to"]["value"], 1.0);
    assert!(json["steps"]["factor_at"]["value"].as_f64().is_some_and(|factor| (factor - 0.983_094_7).abs() < 1e-6));
}

#[test]
fn the_shop_sees_its_own_units_and_programs_those_of_the_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop.yaml");
    fs::write(&shop, "shop: inches\nunits: { system: inch, volume: [imp qt] }\n").unwrap();
    let shop = shop.display().to_string();
    let args = [&VOLUME[..], &["--shop", &shop]].concat();
    let ran = calc(&args);
    assert!(ran.out.contains("  volume            6.055 imp qt\n"), "{}", ran.out);
    let (code, json) = json(&args);
    assert_eq!((code, &json["schema"], &json["ok"]), (0, &"standpipe.calc/1".into(), &true.into()));
    assert_eq!(json["outputs"]["volume"]["unit"], "L");
    assert_eq!(json["outputs"]["volume"]["shown"], "6.055 imp qt");
    assert_eq!(json["inputs"]["at"]["value"], 100.0);
    assert_eq!(json["inputs"]["at"]["unit"], "°F");
}

#[test]
fn outside_the_range_of_the_formula_there_is_a_warning_or_a_refusal() {
    let thick = ["viscosity-at-temperature", "kv40=28.2 mm2/s", "kv100=5.7 mm2/s", "temperature=-10 degC"];
    let ran = calc(&thick);
    assert_eq!(ran.code, 0);
    assert!(ran.out.contains("warning: temperature is -10 °C, outside 40..100 °C"), "{}", ran.out);
    let (code, json) = json(&["volume-correction", "temperature=20 degC", "density_15=700 kg/m3"]);
    assert_eq!((code, &json["ok"], &json["outputs"]), (1, &false.into(), &Json::Null));
    assert_eq!(json["problems"][0]["code"], "input-beyond-validity");
    assert_eq!(json["problems"][0]["place"], serde_json::json!({"file": "<argument 3>", "line": 1, "column": 12}));
}

#[test]
fn a_script_that_refuses_ends_with_one() {
    let ran =
        calc(&["viscosity-at-temperature", "kv40=5.7 mm2/s", "kv100=28.2 mm2/s", "temperature=50 degC", "--explain"]);
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains("are the two viscosities swapped?"), "{}", ran.err);
    // As far as it came.
    assert!(ran.out.contains("  hot               28.9"), "{}", ran.out);
}

#[test]
fn everything_wrong_is_said_at_its_argument() {
    let ran =
        calc(&["volume-at-temperature", "volum=7 L", "at=3", "x", "density_15=700 kg/m3", "density_15=800 kg/m3"]);
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    for part in [
        "in argument 2",
        "did you mean `volume`?",
        "in argument 3",
        "`3` has no unit",
        "expected  °C, °F, K",
        "`x` is not name=value",
        "`density_15` is given twice",
        "outside 800..1160 kg/m³",
        "needs `to`\n",
    ] {
        assert!(ran.err.contains(part), "{part}\n{}", ran.err);
    }
    let ran = calc(&["viscosity-at-temprature", "x=1"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("did you mean `viscosity-at-temperature`?"), "{}", ran.err);
}

#[test]
fn what_is_unknown_is_not_computed_with() {
    let (code, json) = json(&["volume-correction", "temperature=unknown", "density_15=850 kg/m3"]);
    assert_eq!(code, 3);
    assert_eq!(json["problems"][0]["code"], "result-not-shown");
    assert_eq!(json["inputs"]["temperature"], Json::Null);
}

#[test]
fn a_sheet_alone_says_what_it_takes() {
    let ran = calc(&["drip-at-level"]);
    assert_eq!(ran.code, 0);
    assert!(
        ran.out.contains("  temperature       a value of temperature; holds for -10..120 °C; 40 °C by"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("standpipe calc drip-at-level volume=\"... L\""), "{}", ran.out);
    let (code, json) = json(&["drip-at-level"]);
    assert_eq!(code, 0);
    assert_eq!(json["takes"][1]["refuses_outside"], true);
    let ran = calc(&["viscosity-at-temperature", "--format", "csv"]);
    assert_eq!(ran.out, "kv40 [mm²/s],kv100 [mm²/s],temperature [°C]\n");
}

#[test]
fn records_and_lists_are_written_out_or_come_from_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("removed.csv");
    fs::write(&file, "volume [mL];at;mass [kg];note\n6350;40 degC;;first jug\n;;0,1;what dripped\n").unwrap();
    let by_file = format!("removed=@{}", file.display());
    let rest = ["added=6.4 L", "overflow=", "temperature=20 degC", "density_15=845 kg/m3", "allowed=0.2 L"];
    let written = "removed=volume=6,35 L, at=40 degC; mass=0.1 kg";
    let net = |removed: &[&str]| {
        let (code, json) = json(&[&["fluid-ledger"], removed, &rest[..]].concat());
        assert_eq!(code, 0, "{json:#}");
        json["outputs"]["net"]["value"].as_f64().unwrap()
    };
    let expected = net(&[written]);
    assert_eq!(net(&[&by_file]), expected);
    assert_eq!(net(&["removed=volume=6.35 L, at=40 degC", "removed=mass=0.1 kg"]), expected);
}

#[test]
fn a_faulty_file_of_a_list_is_reported_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("sizes.csv");
    let argument = format!("container_sizes=@{}", file.display());
    for (text, message, line) in [
        ("size [L]\n1\n2 kg\n", "size: `kg` is a unit of mass", 3),
        ("size [L],other\n1,2\n", "none of the 2 columns is called `container_sizes`", 1),
        ("size\n1\n", "size: `1` has no unit", 2),
        ("size [L]\n1,2\n", "the line has 2 cells", 2),
        ("", "the file is empty", 1),
    ] {
        fs::write(&file, text).unwrap();
        let (code, json) = json(&["fluid-to-bring", "refill=4..5 L", "overflow=0 L", &argument]);
        let problem = &json["problems"][0];
        assert_eq!(code, 2, "{json:#}");
        assert!(problem["message"].as_str().unwrap().contains(message), "{problem:#}");
        assert_eq!(problem["place"]["line"], line, "{problem:#}");
    }
    let (code, json) = json(&["fluid-to-bring", "refill=4..5 L", "overflow=0 L", "container_sizes=@none.csv"]);
    assert_eq!((code, &json["problems"][0]["code"]), (2, &"unreadable-file".into()));
    assert_eq!(json["problems"].as_array().unwrap().len(), 1, "{json:#}");
}

#[test]
fn one_calculation_as_csv_is_a_table_of_one_row() {
    let ran = calc(&[&VOLUME[..], &["--format", "csv"]].concat());
    let mut lines = ran.out.lines();
    // The input has the name of the output and gives way.
    assert_eq!(lines.next(), Some("given volume [L],at [°F],to [°C],density_15 [kg/m³],volume [L],warnings"));
    assert!(lines.next().unwrap().starts_with("7,100,15,850,6.88"), "{}", ran.out);
    assert_eq!(standpipe(&["convert", "7 L", "--format", "csv"]).code, 2);
}

/// A table on disk, and what `calc --table` makes of it.
fn table(sheet: &str, text: &str, more: &[&str]) -> Ran {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("table.csv");
    fs::write(&file, text).unwrap();
    calc(&[&[sheet, "--table", &file.display().to_string()], more].concat())
}

#[test]
fn a_bad_row_gets_its_message_and_the_others_are_computed() {
    let text = "id,kv40 [mm2/s],kv100 [mm2/s],temperature\na,28.2,5.7,60 degC\nb,28.2,5.7,140 degF\nc,1,5.7,60 degC\n\
                d,28.2,5.7,\n\"e,e\",28.2,5.7\nf,28.2,5.7,120 degC\ng,28.2,5.7,unknown\nh,28.2,5.7,60 dgC\n";
    let ran = table("viscosity-at-temperature", text, &[]);
    assert_eq!(ran.code, 1);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert_eq!(lines.len(), 9);
    assert_eq!(lines[0], "id,kv40 [mm2/s],kv100 [mm2/s],temperature,viscosity [mm2/s],warnings,error");
    let viscosity = |line: &str| line.split(',').nth(4).unwrap().parse::<f64>().unwrap();
    // computed in Python: log10 log10 (v + 0.7) linear in log10 T
    assert!((viscosity(lines[1]) - 14.583_646_219_599_2).abs() < 1e-9, "{}", lines[1]);
    assert!((viscosity(lines[2]) - viscosity(lines[1])).abs() < 1e-9, "{}", lines[2]);
    assert!(lines[3].ends_with(",,,\"kv40 is 1 mm²/s, but must be at least 2 mm²/s\""), "{}", lines[3]);
    assert!(lines[4].ends_with("needs `temperature`"), "{}", lines[4]);
    assert_eq!(lines[5], "\"e,e\",28.2,5.7,,,,\"the row has 3 cells, the first line has 4\"");
    assert!(lines[6].contains("outside 40..100 °C where the formula holds\","), "{}", lines[6]);
    assert!(lines[7].ends_with("temperature is not known"), "{}", lines[7]);
    assert!(lines[8].contains("`dgC` is not a unit that is known, did you mean `degC`?"), "{}", lines[8]);
    for part in
        ["carried along, not read: id", "5 of 8 rows could not be computed; the first is line 4: kv40", "1 of 8 rows"]
    {
        assert!(ran.err.contains(part), "{part}\n{}", ran.err);
    }
}

#[test]
fn the_table_comes_out_in_the_units_of_the_sheet_and_in_the_hand_of_the_one_that_came_in() {
    let rest = ["to=15 degC", "density_15=850 kg/m3"];
    let ran = table("volume-at-temperature", "volume [mL];at [degF]\n\"7000,0\";104\n", &rest);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert!(
        ran.out.starts_with("given volume [mL];at [degF];volume [L];warnings;error\n7000,0;104;6.8700589"),
        "{}",
        ran.out
    );
    let inch = table(
        "volume-at-temperature",
        "volume [mL],at\n7000,40 degC\n",
        &[&rest[..], &["--shop", "examples/workshop/shop.yaml"]].concat(),
    );
    assert_eq!(inch.out.lines().next(), Some("given volume [mL],at,volume [L],warnings,error"));
}

#[test]
fn a_heading_that_can_not_be_meant_stops_before_the_first_row() {
    for (text, more, part) in [
        ("kv40 [mm2/s],kv1000 [mm2/s]\n1,2\n", &[][..], "did you mean `kv100`?"),
        ("kv40 [kg],kv100 [mm2/s],temperature [degC]\n1,2,3\n", &[], "column `kv40`: `kg` is a unit of mass"),
        ("kv40 [mm2/s],kv40 [cSt],kv100,temperature\n1,2,3,4\n", &[], "two columns are called `kv40`"),
        ("kv40 [mm2/s]\n1\n", &[], "needs `kv100`, `temperature`"),
        ("kv40 [mm2/s]\n1\n", &["kv40=3 mm2/s"], "is a column of the table and given for all rows"),
        ("kv40 [mm2/s]\n1\n", &["--explain"], "cannot be used with"),
        ("kv40 [mm2/s]\n1\n", &["kv100=3"], "`3` has no unit"),
    ] {
        let ran = table("viscosity-at-temperature", text, more);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{text}{more:?}");
        assert!(ran.err.contains(part), "{part}\n{}", ran.err);
    }
    assert_eq!(calc(&["volume-correction", "--table", "no-such.csv"]).code, 2);
}

#[test]
fn a_long_table_keeps_its_order_on_all_cores() {
    let mut text = String::from("temperature [degC],n\n");
    for n in 0..5_000 {
        text.push_str(&format!("{},{n}\n", n % 100));
    }
    let ran = Command::cargo_bin("standpipe")
        .unwrap()
        .args(["calc", "volume-correction", "--table", "-", "density_15=850 kg/m3"])
        .write_stdin(text)
        .output()
        .unwrap();
    assert!(ran.status.success());
    let out = String::from_utf8(ran.stdout).unwrap();
    let mut rows = out.lines().skip(1);
    for n in 0..5_000 {
        let cells: Vec<&str> = rows.next().unwrap().split(',').collect();
        assert_eq!(cells[1], n.to_string());
        let a_dt = 0.6278 / 850.0 * f64::from(n % 100 - 15);
        assert!((cells[2].parse::<f64>().unwrap() - (-a_dt * (1.0 + 0.8 * a_dt)).exp()).abs() < 1e-12);
    }
    assert_eq!(rows.next(), None);
}

#[test]
fn a_table_of_nothing_is_a_table_of_nothing() {
    let head = "temperature [degC],density_15 [kg/m3]\r\n";
    let ran = table("volume-correction", head, &[]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert_eq!(ran.out, "temperature [degC],density_15 [kg/m3],factor [1],warnings,error\n");
    let ran = table("volume-correction", "", &[]);
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("needs `density_15`, `temperature`"), "{}", ran.err);
}

#[test]
fn cells_may_hold_ranges_lists_and_days() {
    let text = "refill,overflow,container_sizes [L]\n4..5 L,0 L,1; 4\n4.5 L,\"0,5 L\",1\n4..5 kg,0 L,1\n";
    let ran = table("fluid-to-bring", text, &[]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert!(lines[0].ends_with("container_sizes [L],containers,brought [L],left_over [L],bring,warnings,error"));
    assert!(lines[1].contains("\"size=4 L, count=1; size=1 L, count=1\",5,0..1,"), "{}", lines[1]);
    assert!(lines[2].contains(",\"size=1 L, count=5\",5,0..0.4"), "{}", lines[2]);
    assert!(lines[3].ends_with("unit of mass, but the quantity asked for is volume\""), "{}", lines[3]);
}
