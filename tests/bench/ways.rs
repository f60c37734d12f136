//! The same sheets by plain Rust, by a program and by the interpreter; and what making a program costs.

use std::hint::black_box;

use standpipe::library::Kind;
use standpipe::script::Way;

use super::counter::Counter;
use super::{Bench, native, time};

const SHEETS: [(&str, &str, &[&str]); 6] = [
    ("viscosity-at-temperature", "", &["kv40=28.2 mm2/s", "kv100=5.7 mm2/s", "temperature=60 degC"]),
    ("volume-at-temperature", "", &["volume=7 L", "at=40 degC", "to=15 degC", "density_15=850 kg/m3"]),
    (
        "level-error-from-temperature",
        "",
        &["volume=7 L", "set_at=50 degC", "reference=40 degC", "density_15=850 kg/m3"],
    ),
    ("gravity-fill", "", HOSE),
    ("gravity-fill", ", falling head", FALLING),
    ("bolt-preload", "", PRELOAD),
];

const HOSE: &[&str] = &["volume=4 L", "head=0.8 m", "hose_length=1.5 m", "hose_bore=10 mm", "viscosity=100 mm2/s"];
const FALLING: &[&str] =
    &["volume=4 L", "head=0.8 m", "head_end=0.4 m", "hose_length=1.5 m", "hose_bore=10 mm", "viscosity=100 mm2/s"];
const PRELOAD: &[&str] = &[
    "torque=8.5 N·m",
    "pitch=1 mm",
    "pitch_diameter=5.35 mm",
    "head_friction_diameter=8.8 mm",
    "thread_friction=0.12",
    "head_friction=0.12",
];

/// One evaluation by each way: plain Rust, a program, the interpreter. The latter two from values to values.
type Ways = [f64; 3];

/// Native code takes the same inputs, works with the same formulas and gives all that the sheet gives; it looks at nothing:
/// no number is checked for being finite, and comparisons are exact.
pub fn compare(bench: &Bench, turns: u32) {
    let counter = Counter::new();
    let scripts = bench.parsed.scripts();
    let (mut times, mut counts) = (Vec::new(), Vec::new());
    for (id, more, given) in SHEETS {
        let sheet = bench.sheet(id);
        let checked = bench.checked(&sheet, given).values;
        let lowered = scripts.lower_call(&sheet.plugin, &sheet.script, &checked).unwrap();
        assert!(lowered.run(&checked).is_some_and(|came| came.is_ok()), "{id}: {:?}", lowered.reasons());
        let native = native::with(&format!("{id}{more}"));
        scripts.set_way(Way::Interpreted);
        let mut program = || drop(black_box(lowered.run(black_box(&checked))));
        let mut interpreter =
            || drop(black_box(scripts.call_for(&sheet.plugin, &sheet.script, checked.clone()).unwrap()));
        times.push([time(turns * 20, native), time(turns, &mut program), time(turns / 10 + 1, &mut interpreter)]);
        counts.extend(counter.as_ref().map(|counter| {
            [counter.count(1000, native), counter.count(1000, &mut program), counter.count(10, &mut interpreter)]
        }));
    }
    print("one evaluation, ns", &times, 1e9);
    match counter {
        Some(_) => print("its instructions", &counts, 1.0),
        None => println!("its instructions: not given here"),
    }
    println!("making it                          compiling us lowering us   both best of five");
    for (id, more, given) in SHEETS {
        let sheet = bench.sheet(id);
        let checked = bench.checked(&sheet, given).values;
        let script = sheet.script.split("::").next().unwrap();
        let text = &bench.parsed.library.document(Kind::Script, script).unwrap().source.text;
        let bare = rhai::Engine::new_raw();
        let compiling = time(turns / 100 + 1, || {
            black_box(bare.compile(text.as_str()).unwrap());
        });
        let lowering = time(turns / 100 + 1, || {
            black_box(scripts.lower_call(&sheet.plugin, &sheet.script, &checked).unwrap());
        });
        println!("  {:<32} {:>12.1} {:>11.1}", format!("{id}{more}"), compiling * 1e6, lowering * 1e6);
    }
    println!();
}

fn print(what: &str, all: &[Ways], scale: f64) {
    println!("{what:<34} {:>7} {:>8} ratio {:>9} by program", "native", "program", "script");
    for ((id, more, _), [native, program, interpreter]) in SHEETS.iter().zip(all) {
        println!(
            "  {:<32} {:>7.1} {:>8.1} {:>5.1} {:>9.0} {:>10.1}",
            format!("{id}{more}"),
            native * scale,
            program * scale,
            program / native,
            interpreter * scale,
            interpreter / program
        );
    }
}
