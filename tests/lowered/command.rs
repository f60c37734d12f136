//! The command line with `--scripts`: byte for byte the same both ways.

use std::fmt::Write;

use assert_cmd::Command;

fn said(way: &str, arguments: &[&str], input: &str) -> (Option<i32>, String, String) {
    let mut command = Command::cargo_bin("standpipe").unwrap();
    let output = command.args(["--scripts", way]).args(arguments).write_stdin(input).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn both(arguments: &[&str], input: &str) -> String {
    let program = said("lowered", arguments, input);
    assert_eq!(program, said("rhai", arguments, input), "{arguments:?}");
    program.1
}

#[test]
fn a_table_comes_out_the_same_whatever_its_rows_hold() {
    let mut table = "note,kv40 [mm2/s],kv100 [mm2/s],temperature [degC]\n".to_owned();
    for n in 0..600 {
        let _ = writeln!(table, "\"row, {n}\",{}.{},5.{},{}.{}", 20 + n % 30, n % 10, n % 7, 40 + n % 60, n % 10);
    }
    // Outside the range, at its ends, swapped, empty, unknown, in words, with another unit, too few cells, below a limit.
    table.push_str(
        "a,30,5,20\nb,30,5,40\nc,30,5,100\nd,5,30,50\ne,,5,50\nf,unknown,5,50\ng,thick,5,50\nh,30 cSt,5,50\n",
    );
    table.push_str("i,30\nj,1.5,1.2,50\nk,30,5,39.99999999999999\nl,3e1,5.0,050\nm,30,5,-273.15\nn,30,5,-0\n");
    // Around a number: spaces, the end of a line, a tab; and what has to come out in quotes.
    table.push_str("o, 30 ,5,50\np,\"30\n\",5,50\nq,\t30,5,50\nr,\"30\",5,50\n\"s \"\"t\"\"\",30,5,50\n");
    let out = both(&["calc", "viscosity-at-temperature", "--table", "-"], &table);
    assert_eq!(out.lines().count(), 621, "{out}");
    let volumes = "volume [L],at [degF],to [degC]\n7,104,15\n7,104.5,15\n0,104,15\n-1,104,15\n7,300,15\n7.5 L,104,15\n";
    both(&["calc", "volume-at-temperature", "density_15=850 kg/m3", "--table", "-"], volumes);
    let cases = "torque [N·m],size,property_class,thread_friction,head_friction\n10,M6,8.8,0.12,0.12\n8.5,M6,8.8,0.1,0.12\n\
                 11,M8,8.8,0.12,0.12\n40,M6,8.8,0.12,0.12\n10,M99,8.8,0.12,0.12\n10,M6,,0.12,0.12\n10,M6,8.8,0.12,0.5\n";
    both(&["calc", "bolt-preload", "--table", "-"], cases);
    let tilt = "tilt [deg],lever [mm],free_area [cm2]\n1,100,30\n-1,100,30\n0,100,30\n1,100,\n2,200,40\n";
    both(&["calc", "level-error-from-tilt", "--table", "-"], tilt);
}

#[test]
fn rows_whose_ways_part_come_out_in_their_places() {
    // Laminar and turbulent, with a zero that is solved for in some rows only, and refused ones between them.
    let mut table = "volume [L],head [m],head_end [m],hose_bore [mm],viscosity [mm2/s]\n".to_owned();
    for n in 0..200 {
        let end = if n % 5 == 0 { "0.9" } else { "0.4" };
        let _ = writeln!(table, "{},0.8,{end},{},{}", n % 7, 6 + n % 23, [0.8, 20.0, 300.0][n % 3] + n as f64 / 10.0);
    }
    let out = both(&["calc", "gravity-fill", "hose_length=1.5 m", "--table", "-"], &table);
    assert_eq!(out.lines().count(), 201, "{out}");
    // The zero is found in most of them.
    let numbers = out.lines().skip(1).filter(|line| !line.split(',').nth(5).unwrap_or_default().is_empty());
    assert!((100..200).contains(&numbers.count()), "{out}");
    let still = table.replace("head_end [m]", "note");
    let out = both(&["calc", "gravity-fill", "hose_length=1.5 m", "--table", "-"], &still);
    assert!(out.contains("gravity") || out.contains("pump"), "{out}");
}

#[test]
fn trials_come_to_the_same_intervals() {
    let one = ["calc", "level-error-from-temperature", "volume=7 ± 0.05 L", "set_at=50(1) degC", "reference=40 degC"];
    let out = both(&[&one[..], &["density_15=850(5) kg/m3", "--format", "json"]].concat(), "");
    assert!(out.contains("standard"), "{out}");
    // Some trials lie outside the range in which the formula holds.
    both(&["calc", "viscosity-at-temperature", "kv40=28.2(3) mm2/s", "kv100=5.7 mm2/s", "temperature=98(2) degC"], "");
}

#[test]
fn a_sheet_says_how_its_script_runs() {
    let show = |arguments: &[&str]| {
        let output = Command::cargo_bin("standpipe").unwrap().args(["show", "sheet"]).args(arguments).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let text = show(&["volume-at-temperature", "--lowered"]);
    assert!(text.contains("its script runs as a program over numbers\n"), "{text}");
    assert!(text.contains("r0 = volume, m³") && text.contains("= exp(r"), "{text}");
    let text = show(&["quote"]);
    assert!(text.contains("scripts/money.rhai:") && text.contains("`decimal`"), "{text}");
    let json: serde_json::Value = serde_json::from_str(&show(&["viscosity-index", "--format", "json"])).unwrap();
    assert_eq!(json["runs"]["as_program"], true, "{json}");
}
