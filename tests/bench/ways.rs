//! The same sheets three ways: plain Rust, a program, the interpreter; and what making a program costs.

use std::hint::black_box;

use standpipe::library::Kind;
use standpipe::script::Way;

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

pub fn compare(bench: &Bench, turns: u32) {
    println!("one evaluation, by three ways               native ns   program ns  ratio   interpreter ns  ratio");
    let scripts = bench.parsed.scripts();
    for (id, more, given) in SHEETS {
        let sheet = bench.sheet(id);
        let checked = bench.checked(&sheet, given).values;
        let lowered = scripts.lower_call(&sheet.plugin, &sheet.script, &checked).unwrap();
        let mut room = lowered.room_with(&checked).unwrap();
        assert!(lowered.go(&mut room).is_some(), "{id}: {:?}", lowered.reasons());
        let run = native::with(&format!("{id}{more}"));
        let native = time(turns * 20, || {
            black_box(run());
        });
        let program = time(turns * 20, || {
            black_box(lowered.go(black_box(&mut room)));
        });
        scripts.set_way(Way::Interpreted);
        let interpreter = time(turns / 10 + 1, || {
            black_box(scripts.call_for(&sheet.plugin, &sheet.script, checked.clone()).unwrap());
        });
        println!(
            "  {:<42} {:>8.1} {:>12.1} {:>6.1} {:>16.0} {:>6.0}",
            format!("{id}{more}"),
            native * 1e9,
            program * 1e9,
            program / native,
            interpreter * 1e9,
            interpreter / program
        );
    }
    println!("making it                                  compiling us  lowering us   both best of five");
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
        println!("  {:<42} {:>8.1} {:>12.1}", format!("{id}{more}"), compiling * 1e6, lowering * 1e6);
    }
    println!();
}
