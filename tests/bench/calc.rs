//! Calculations beside the same work in plain Rust, in one run: `cargo bench`.
//!
//! The ratios say something, the times little: they are the machine's. A second program for comparison, the same work in
//! Python with a general units library, is `tests/bench/with_units_library.py`; `side_by_side.py` there has both do one table.
//! Rows of the table can be set, as in `cargo bench -- --rows 1000000`. Without `--bench`, as `cargo test` calls it,
//! everything is run once and small.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::hint::black_box;
use std::io::{BufReader, Read};
use std::num::NonZero;
use std::thread::available_parallelism;
use std::time::Instant;

use indexmap::IndexMap;
use standpipe::library::{Files, Kind};
use standpipe::plan::Parsed;
use standpipe::script::Way;
use standpipe::sheet::table::{Opened, Table, Uncertain, compute};
use standpipe::sheet::uncertainty::{Plan, Spread, propagate, read};
use standpipe::sheet::{Checked, Places, Shape, Sheet};
use standpipe::source::{Place, Source};
use standpipe::value::Value;

mod counter;
mod native;
mod ways;

/// Sheets and inputs for one calculation each; together, a job.
const JOB: [(&str, &[&str]); 10] = [
    ("viscosity-at-temperature", &["kv40=28.2 mm2/s", "kv100=5.7 mm2/s", "temperature=60 degC"]),
    ("volume-correction", &["temperature=40 degC", "density_15=850 kg/m3"]),
    ("volume-at-temperature", &["volume=7 L", "at=40 degC", "to=15 degC", "density_15=850 kg/m3"]),
    ("volume-from-mass", &["mass=5.23 kg", "temperature=20 degC", "density_15=850 kg/m3"]),
    ("level-error-from-temperature", &["volume=7 L", "set_at=50 degC", "reference=40 degC", "density_15=850 kg/m3"]),
    ("drip-at-level", &["volume=7 L", "density_15=850 kg/m3", "warming_rate=1 degC/min"]),
    (
        "first-fill",
        &["removed=4.2 L", "removed_at=35 degC", "fill_at=20 degC", "density_15=850 kg/m3", "service=4..5 L"],
    ),
    ("tightening-order", &["count=12", "pattern=cross", "torque=8.5 N·m"]),
    ("wrench-setting", &["torque=8.5 N·m", "wrench_length=300 mm", "offset=50 mm", "angle=0 deg"]),
    ("wrench-suits", &["torque=8.5 N·m", "wrench_min=2 N·m", "wrench_max=25 N·m", "class=A"]),
];

struct Bench {
    parsed: Parsed,
}

impl Bench {
    fn sheet(&self, id: &str) -> Sheet {
        let mut problems = Vec::new();
        let document = self.parsed.library.document(Kind::Sheet, id).unwrap();
        Sheet::read(&document.source, &document.plugin, &self.parsed.units, &mut problems).unwrap()
    }

    /// Inputs as on a command line, with the uncertainties that are written.
    fn inputs(&self, sheet: &Sheet, given: &[&str]) -> (IndexMap<String, Value>, IndexMap<String, Spread>) {
        let units = &self.parsed.units;
        let (mut values, mut spreads) = (IndexMap::new(), IndexMap::new());
        for text in given {
            let (name, text) = text.split_once('=').unwrap();
            let place = Place::whole(&Source::new("<bench>", text));
            let input = &sheet.inputs[name];
            let uncertain = match &input.shape {
                Shape::Quantity(of) => read(text, of, None, units, &place).unwrap(),
                _ => None,
            };
            let value = match uncertain {
                Some((value, spread)) => {
                    spreads.insert(name.to_owned(), spread);
                    value
                }
                None => input.read_text(text, None, units, &place).unwrap(),
            };
            values.insert(name.to_owned(), value);
        }
        (values, spreads)
    }

    fn checked(&self, sheet: &Sheet, given: &[&str]) -> Checked {
        let (values, _) = self.inputs(sheet, given);
        sheet.check_inputs(values, &self.parsed.units, &Places::default()).unwrap()
    }
}

/// Seconds of one turn: the best of several rounds, since everything that disturbs only makes it longer.
pub fn time(turns: u32, mut run: impl FnMut()) -> f64 {
    (0..5)
        .map(|_| {
            let start = Instant::now();
            for _ in 0..turns {
                run();
            }
            start.elapsed().as_secs_f64() / f64::from(turns)
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let whole = arguments.iter().any(|one| one == "--bench");
    let rows = arguments.iter().position(|one| one == "--rows").and_then(|at| arguments.get(at + 1)?.parse().ok());
    let rows: u64 = rows.unwrap_or(if whole { 200_000 } else { 2_000 });
    let mut problems = Vec::new();
    let bench = Bench { parsed: Parsed::new(Files::built_in(), &mut problems) };
    assert!(problems.is_empty(), "{problems:?}");
    ways::compare(&bench, if whole { 20_000 } else { 2 });
    single(&bench, if whole { 2_000 } else { 2 });
    table(&bench, rows);
    trials(&bench, if whole { 100_000 } else { 4_000 });
}

fn single(bench: &Bench, turns: u32) {
    println!("one sheet at a time, inputs at hand                 us      native us   ratio");
    let scripts = bench.parsed.scripts();
    let mut together = 0.0;
    for (id, given) in JOB {
        let sheet = bench.sheet(id);
        let (values, _) = bench.inputs(&sheet, given);
        let own = time(turns, || {
            black_box(sheet.run(&scripts, black_box(values.clone())).unwrap());
        });
        together += own;
        match native::of(id) {
            Some(run) => {
                let native = time(turns * 1000, || {
                    black_box(run());
                });
                println!("  {id:<44} {:>8.2} {:>14.4} {:>7.0}", own * 1e6, native * 1e6, own / native);
            }
            None => println!("  {id:<44} {:>8.2}", own * 1e6),
        }
    }
    println!("  {:<44} {:>8.2}", "all ten, one after the other", together * 1e6);
    let sheet = bench.sheet(JOB[2].0);
    let checked = bench.checked(&sheet, JOB[2].1);
    let only = time(turns, || {
        black_box(sheet.run_checked(&scripts, black_box(checked.clone())).unwrap());
    });
    println!("  {:<44} {:>8.2}", "volume-at-temperature, inputs checked before", only * 1e6);
    let start = time(1, || {
        black_box(sheet.run_checked(&bench.parsed.scripts(), checked.clone()).unwrap());
    });
    println!("  {:<44} {:>8.0}", "a new interpreter and its first calculation", start * 1e6);
}

/// A table that is made while it is read: no length of it lies in memory.
struct Rows {
    left: u64,
    text: Vec<u8>,
    at: usize,
}

impl Rows {
    fn new(count: u64) -> Self {
        Self { left: count, text: b"kv40 [mm2/s],kv100 [mm2/s],temperature [degC]\n".to_vec(), at: 0 }
    }
}

impl Read for Rows {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        if self.at == self.text.len() {
            if self.left == 0 {
                return Ok(0);
            }
            let n = self.left;
            self.left -= 1;
            self.text = format!("{}.{},5.{},{}.{}\n", 28 + n % 9, n % 10, n % 7, 40 + n % 60, n % 10).into_bytes();
            self.at = 0;
        }
        let count = to.len().min(self.text.len() - self.at);
        to[..count].copy_from_slice(&self.text[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

fn table(bench: &Bench, rows: u64) {
    println!("\na table of {rows} rows of viscosity-at-temperature");
    let sheet = bench.sheet("viscosity-at-temperature");
    let run = |rows: u64, threads: usize| {
        let opened = Opened::open(BufReader::new(Rows::new(rows))).unwrap();
        let line = Place::whole(&Source::new("<bench>", ""));
        let (fixed, places) = (IndexMap::new(), Places::default());
        let mut problems = Vec::new();
        let units = &bench.parsed.units;
        let table = Table::new(
            &sheet,
            units,
            (&opened.names, opened.separator),
            (fixed, &places),
            Uncertain::default(),
            &line,
            &mut problems,
        )
        .unwrap();
        let (mut bytes, mut faulty) = (0, 0);
        let start = Instant::now();
        compute(&table, opened, threads, &|| bench.parsed.scripts(), |batch| {
            bytes += batch.text.len();
            faulty += batch.faulty;
            true
        })
        .unwrap();
        assert_eq!(faulty, 0);
        (start.elapsed().as_secs_f64(), bytes)
    };
    // Its memory is that of the next run as well.
    run(rows / 10, 1);
    let before = peak();
    let (one, bytes) = run(rows, 1);
    let after = peak();
    let start = Instant::now();
    let native = native::table(Rows::new(rows), rows);
    let plain = start.elapsed().as_secs_f64();
    println!("  one thread      {:>8.2} us a row, {bytes} bytes of CSV", one / rows as f64 * 1e6);
    println!(
        "  native          {:>8.2} us a row, {native} bytes of CSV, ratio {:.0}",
        plain / rows as f64 * 1e6,
        one / plain
    );
    let threads = available_parallelism().map_or(1, NonZero::get);
    if threads > 1 {
        let (all, _) = run(rows, threads);
        println!("  {threads} threads       {:>8.2} us a row, {:.2} times one", all / rows as f64 * 1e6, one / all);
    }
    if let (Some(before), Some(after)) = (before, after) {
        println!("  largest memory  {before} kB after {} rows, {after} kB after {rows}", rows / 10);
    }
}

/// Most memory that the process ever had, where the system tells.
fn peak() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.trim().trim_end_matches(" kB").parse().ok()
}

fn trials(bench: &Bench, trials: u64) {
    level(bench, trials);
    println!("\n{trials} trials of volume-at-temperature with three uncertain inputs");
    let sheet = bench.sheet("volume-at-temperature");
    let given = ["volume=7 ± 0.05 L", "at=40(1) degC", "to=15 degC", "density_15=850(5) kg/m3"];
    let (inputs, spreads) = bench.inputs(&sheet, &given);
    let run = |threads: usize| {
        let plan =
            Plan { threads, least: trials, most: trials, ..Plan::new(&sheet, &bench.parsed.units, &inputs, &spreads) };
        let start = Instant::now();
        black_box(propagate(&plan, &|| bench.parsed.scripts(), &mut |_| ()).unwrap());
        start.elapsed().as_secs_f64()
    };
    let one = run(1);
    let start = Instant::now();
    let standard = native::trials(trials);
    let plain = start.elapsed().as_secs_f64();
    println!("  one thread      {:>8.2} us a trial", one / trials as f64 * 1e6);
    println!(
        "  native          {:>8.3} us a trial (u = {standard:.4} L), ratio {:.0}",
        plain / trials as f64 * 1e6,
        one / plain
    );
    let threads = available_parallelism().map_or(1, NonZero::get);
    if threads > 1 {
        let all = run(threads);
        println!("  {threads} threads       {:>8.2} us a trial, {:.2} times one", all / trials as f64 * 1e6, one / all);
    }
}

fn level(bench: &Bench, trials: u64) {
    println!("\n{trials} trials of level-error-from-temperature with three uncertain inputs");
    let sheet = bench.sheet("level-error-from-temperature");
    let given = ["volume=7 ± 0.05 L", "set_at=50(1) degC", "reference=40 degC", "density_15=850(5) kg/m3"];
    let (inputs, spreads) = bench.inputs(&sheet, &given);
    let plan = Plan { least: trials, most: trials, ..Plan::new(&sheet, &bench.parsed.units, &inputs, &spreads) };
    let run = |way: Way| {
        let scripts = || {
            let scripts = bench.parsed.scripts();
            scripts.set_way(way);
            scripts
        };
        let start = Instant::now();
        black_box(propagate(&plan, &scripts, &mut |_| ()).unwrap());
        start.elapsed().as_secs_f64()
    };
    let (program, interpreter) = (run(Way::Lowered), run(Way::Interpreted));
    println!("  programs        {:>8.1} ms in all, one thread", program * 1e3);
    println!("  interpreter     {:>8.1} ms in all, {:.0} times as long", interpreter * 1e3, interpreter / program);
}
