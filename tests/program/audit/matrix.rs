//! Some thousand forgeries with hashes that fit, and what an audit makes of each, as a table that is kept beside this file.
//!
//! Every field of every event is left out, changed or given to another; lines and batches are left out, doubled and moved. What
//! holds all the same has to have a reason here why that is no harm, or is beyond what a record without signatures can show.
//! A plain run tries every sixth and holds it against the table; `STANDPIPE_FORGERIES=all` tries all and compares the table,
//! `UPDATE_EXPECTED=1` with it writes the table anew: read the difference.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::{Map, Value as Json};
use standpipe::audit::{Asked, Verdict, audit};
use standpipe::job::plan::Kept;
use tempfile::TempDir;

use crate::audit::bench::{example, forge_all, root};

/// A short job that is stopped, one with computations and rounds, and one with a reader and a log.
const JOBS: &[(&str, usize)] =
    &[("heron-taxi", 1), ("gannet-forester", 1), ("ruff-roadster", 2), ("plover-pickup", 11)];

/// What holds although it was forged, by the beginning of its row, and why.
const HOLDS: &[(&str, &str)] = &[
    ("entered      evidence       another text", "what a file was called; it is known by its hash"),
    ("entered      read said      left out", "how rows were read, said less fully; read again they give the same"),
    ("entered      typed          another, with its value", "a reading made up as a whole, on which nothing turns"),
    ("lines        -              a batch doubled", "an entry that could have been made twice"),
    (
        "lines        -              a batch left out",
        "an attempt that did not count, or the end of a job that is not closed",
    ),
    ("lines        -              cut off behind a batch", "the point `closed` says that the end may be missing"),
    ("stream       by             another person", "what a reader shows is the same whoever stands beside it"),
];

/// A forged journal: the row of the table that it belongs to, and its lines.
type Forgery = (String, Vec<String>);

fn fields(lines: &[String], every: usize) -> Vec<Forgery> {
    let mut forgeries = Vec::new();
    let mut number = 0;
    for at in 0..lines.len() {
        let event = parsed(&lines[at]);
        let kind = event["event"].as_str().unwrap().to_owned();
        for path in leaves(&Json::Object(event.clone()), Vec::new()) {
            let top = path[0].as_str();
            if matches!(top, "prev" | "seq" | "event") {
                continue;
            }
            for (how, changed) in changes(&event, &path) {
                number += 1;
                if number % every != 0 {
                    continue;
                }
                let mut forged = lines.to_vec();
                forged[at] = written(&changed);
                // How rows were read has parts that mean different things.
                let part = if top == "read" { format!(" {}", path[1]) } else { String::new() };
                forgeries.push((format!("{kind:12} {:14} {how}", format!("{top}{part}")), forged));
            }
        }
        if event.contains_key("typed") {
            for changed in both(&event) {
                let mut forged = lines.to_vec();
                forged[at] = written(&changed);
                forgeries.push((format!("{kind:12} {:14} another, with its value", "typed"), forged));
            }
        }
    }
    forgeries
}

/// Of whole lines and batches.
fn moves(lines: &[String]) -> Vec<Forgery> {
    let mut forgeries = Vec::new();
    let mut put = |how: &str, lines: Vec<String>| forgeries.push((format!("{:12} {:14} {how}", "lines", "-"), lines));
    let ends: Vec<usize> = (0..lines.len()).filter(|at| lines[*at].contains("\"end\":true")).collect();
    for at in 0..lines.len() {
        put("one left out", [&lines[..at], &lines[at + 1..]].concat());
        put("one doubled", [&lines[..=at], &lines[at..]].concat());
    }
    for pair in ends.windows(2) {
        let (from, to) = (pair[0] + 1, pair[1] + 1);
        put("a batch left out", [&lines[..from], &lines[to..]].concat());
        put("a batch doubled", [&lines[..to], &lines[from..]].concat());
        put("cut off behind a batch", lines[..from].to_vec());
        let closed = lines.last().unwrap();
        if closed.contains("\"event\":\"finished\"") && to < lines.len() {
            put("cut off behind a batch and closed", [&lines[..from], std::slice::from_ref(closed)].concat());
        }
    }
    for three in ends.windows(3) {
        let (a, b, c) = (three[0] + 1, three[1] + 1, three[2] + 1);
        put("two batches exchanged", [&lines[..a], &lines[b..c], &lines[a..b], &lines[c..]].concat());
    }
    forgeries
}

fn parsed(line: &str) -> Map<String, Json> {
    serde_json::from_str(&format!("{line}}}")).unwrap()
}

fn written(event: &Map<String, Json>) -> String {
    let mut text = serde_json::to_string(event).unwrap();
    text.pop();
    text
}

/// Where values lie that hold no others.
fn leaves(value: &Json, path: Vec<String>) -> Vec<Vec<String>> {
    let below = |key: String, value: &Json| leaves(value, [path.clone(), vec![key]].concat());
    match value {
        Json::Object(fields) => fields.iter().flat_map(|(key, value)| below(key.clone(), value)).collect(),
        Json::Array(list) => list.iter().enumerate().flat_map(|(at, value)| below(at.to_string(), value)).collect(),
        _ => vec![path],
    }
}

fn at<'a>(event: &'a mut Map<String, Json>, path: &[String]) -> &'a mut Json {
    let (first, rest) = path.split_first().unwrap();
    rest.iter().fold(event.get_mut(first).unwrap(), |value, key| match value {
        Json::Array(list) => &mut list[key.parse::<usize>().unwrap()],
        other => other.get_mut(key.as_str()).unwrap(),
    })
}

fn changes(event: &Map<String, Json>, path: &[String]) -> Vec<(&'static str, Map<String, Json>)> {
    let with = |change: &dyn Fn(&mut Json)| {
        let mut event = event.clone();
        change(at(&mut event, path));
        event
    };
    let mut all = match at(&mut event.clone(), path).clone() {
        Json::Bool(truth) => vec![("the other way", with(&|value| *value = (!truth).into()))],
        Json::Number(number) if number.is_f64() => {
            let number = number.as_f64().unwrap();
            vec![
                ("a tenth more", with(&|value| *value = (number * 1.1 + 0.1).into())),
                ("less than nothing", with(&|value| *value = (-1.0 - number.abs()).into())),
            ]
        }
        Json::Number(number) => {
            let number = number.as_u64().unwrap_or_default();
            vec![("one more", with(&|value| *value = (number + 1).into()))]
        }
        Json::String(text) => {
            let mut all = vec![("another text", with(&|value| *value = format!("{text}x").into()))];
            let hour =
                text.get(10..13).filter(|hour| hour.starts_with('T')).and_then(|hour| hour[1..].parse::<u32>().ok());
            if let Some(hour) = hour {
                let other = format!("{}{:02}{}", &text[..11], (hour + 1) % 24, &text[13..]);
                all.push(("an hour later", with(&|value| *value = other.clone().into())));
            }
            if path[0] == "verdict" {
                let other = if text == "met" { "not met" } else { "met" };
                all.push(("another verdict", with(&|value| *value = other.into())));
            }
            if path[0] == "by" || path.contains(&"witness".to_owned()) {
                let other = if text == "rita" { "jo" } else { "rita" };
                all.push(("another person", with(&|value| *value = other.into())));
            }
            if path[0] == "origin" {
                let other = if text == "log" { "typed" } else { "log" };
                all.push(("another origin", with(&|value| *value = other.into())));
            }
            all
        }
        _ => Vec::new(),
    };
    let mut without = event.clone();
    match path {
        [only] => {
            without.shift_remove(only);
        }
        [.., key] => match at(&mut without, &path[..path.len() - 1]) {
            Json::Array(list) => {
                list.remove(key.parse().unwrap());
            }
            Json::Object(fields) => {
                fields.shift_remove(key.as_str());
            }
            _ => {}
        },
        [] => {}
    }
    all.push(("left out", without));
    all
}

/// A reading that was made up as a whole: what was typed, and the value that follows from it.
fn both(event: &Map<String, Json>) -> Vec<Map<String, Json>> {
    let typed = event["typed"].as_object().unwrap();
    let one = |name: &String| {
        let value = event.get("values")?.get(name)?.get("quantity")?;
        let (number, si) = (value["written"]["value"].as_f64()?, value["si"].as_f64()?);
        // Only where the number is proportional to the value in base units.
        let text = typed[name].as_str()?;
        let rest = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ',');
        if number == 0.0 || (si / number).abs() == 0.0 || value.get("point").is_some_and(|point| point == true) {
            return None;
        }
        let mut event = event.clone();
        event["typed"][name] = format!("{}{rest}", number * 2.0).into();
        event["values"][name]["quantity"]["written"]["value"] = (number * 2.0).into();
        event["values"][name]["quantity"]["si"] = (si * 2.0).into();
        Some(event)
    };
    typed.keys().filter_map(one).collect()
}

#[derive(Clone, Copy, Default)]
struct Row {
    all: u32,
    found: u32,
    not_shown: u32,
    holds: u32,
}

/// What an audit makes of it, and how much it has to say.
fn tried(folder: &Path, forgery: &[String], plans: &mut Kept) -> (Verdict, usize) {
    forge_all(folder, |_| forgery.to_vec());
    let audited = audit(folder, &Asked::default(), plans);
    (audited.verdict, audited.points.iter().map(|point| point.findings.len()).sum())
}

#[test]
fn the_table_of_forgeries_is_as_it_was_and_what_holds_has_a_reason() {
    let whole = std::env::var_os("STANDPIPE_FORGERIES").is_some();
    let every = if whole { 1 } else { 6 };
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    let mut examples: BTreeMap<String, String> = BTreeMap::new();
    for (job, often) in JOBS {
        let folder = TempDir::new().unwrap();
        example(job, folder.path());
        let mut lines = Vec::new();
        forge_all(folder.path(), |sound| {
            lines.clone_from(&sound);
            sound
        });
        let mut plans = Kept::default();
        let sound = tried(folder.path(), &lines, &mut plans);
        let moved = if *often == 1 { moves(&lines) } else { Vec::new() };
        let all = fields(&lines, *often).into_iter().chain(moved);
        for (row, forgery) in all.step_by(every) {
            let found = tried(folder.path(), &forgery, &mut plans);
            let counted = rows.entry(row.clone()).or_default();
            counted.all += 1;
            match found {
                (Verdict::DoesNotHold, _) => counted.found += 1,
                // Of a job that is not closed something is not shown anyhow.
                found if found == sound => {
                    counted.holds += 1;
                    let differing = forgery.iter().zip(&lines).find(|(a, b)| a != b).map(|(a, _)| a.clone());
                    examples.entry(row).or_insert(format!("{job}: {}", differing.unwrap_or_default()));
                }
                _ => counted.not_shown += 1,
            }
        }
        fs::remove_file(folder.path().join("journal.jsonl")).unwrap();
    }
    let reason = |row: &str| HOLDS.iter().find(|(begins, _)| row.starts_with(begins)).map(|(_, why)| *why);
    let all: u32 = rows.values().map(|row| row.all).sum();
    let mut table =
        format!("{all} forgeries\n\n{:54} {:>6} {:>6} {:>10} {:>6}\n", "", "all", "found", "not shown", "holds");
    let mut without = Vec::new();
    for (name, Row { all, found, not_shown, holds }) in &rows {
        let why = if *holds > 0 { reason(name).unwrap_or("") } else { "" };
        table.push_str(format!("{name:54} {all:>6} {found:>6} {not_shown:>10} {holds:>6}  {why}").trim_end());
        table.push('\n');
        if *holds > 0 && why.is_empty() {
            without.push(format!("{name}: {holds} of {all}, such as {}", examples[name]));
        }
    }
    let kept = root().join("tests/program/audit/forgeries.txt");
    if whole && std::env::var_os("UPDATE_EXPECTED").is_some() {
        fs::write(&kept, &table).unwrap();
    }
    assert!(without.is_empty(), "these hold, and nothing says why that is no harm:\n{}", without.join("\n"));
    let expected = fs::read_to_string(&kept).unwrap_or_default();
    if whole {
        assert_eq!(expected, table, "the table has changed");
        return;
    }
    for (name, row) in &rows {
        let known = expected.lines().find_map(|line| line.strip_prefix(name.as_str())).unwrap_or_default();
        let known: Vec<u32> = known.split_whitespace().take(4).filter_map(|number| number.parse().ok()).collect();
        let found = [row.all, row.found, row.not_shown, row.holds];
        assert!(
            known.len() == 4 && known.iter().zip(found).all(|(known, found)| found <= *known),
            "{name}: {found:?}, and the table has {known:?}"
        );
    }
}
