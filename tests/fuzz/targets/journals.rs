//! Journals and plans that were forged, with all hashes made anew: one holds only if a machine that begins anew makes the
//! same events of the inputs in it.

use std::cell::RefCell;
use std::fs;

use serde_json::{Map, Value as Json};
use sha2::{Digest, Sha256};
use standpipe::audit::{Asked, Verdict, audit};
use standpipe::job::plan::Kept;
use standpipe::job::replay::{batches, input_of, is_recovery};
use standpipe::job::{Event, Journal, Machine, State};

use super::choices::Choices;
use super::workshop::root;

const JOBS: [&str; 4] = ["amended-kiln", "gannet-forester", "heron-taxi", "heron-van"];

struct Sound {
    folder: tempfile::TempDir,
    lines: Vec<String>,
    plan: String,
}

impl Sound {
    fn new(job: &str) -> Self {
        let (from, folder) = (root().join("tests/journals/1").join(job), tempfile::tempdir().unwrap());
        for entry in fs::read_dir(&from).unwrap().map(Result::unwrap).filter(|entry| entry.path().is_file()) {
            fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
        }
        let evidence = from.join("evidence");
        if evidence.is_dir() {
            fs::create_dir(folder.path().join("evidence")).unwrap();
            for entry in fs::read_dir(evidence).unwrap().map(Result::unwrap) {
                fs::copy(entry.path(), folder.path().join("evidence").join(entry.file_name())).unwrap();
            }
        }
        let text = fs::read_to_string(from.join("journal.jsonl")).unwrap();
        let without_sum = |line: &str| line[..line.rfind(",\"sum\":\"").unwrap()].to_owned();
        let plan = fs::read_to_string(from.join("plan.json")).unwrap();
        Self { folder, lines: text.lines().map(without_sum).collect(), plan }
    }
}

thread_local! {
    static SOUND: Vec<Sound> = JOBS.map(Sound::new).into();
    static PLANS: RefCell<Kept> = RefCell::default();
}

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    SOUND.with(|all| PLANS.with_borrow_mut(|plans| forged(&all[choices.below(JOBS.len())], &mut choices, plans)));
}

fn forged(sound: &Sound, choices: &mut Choices<'_>, plans: &mut Kept) {
    let mut plan = sound.plan.clone();
    if choices.rarely(8) {
        let (from, to) =
            choices.one(&[("\"version\":\"", "\"version\":\"9"), ("8", "9"), ("2026", "2025"), ("true", "false")]);
        plan = plan.replacen(from, to, 1);
        // A plan that is another for each text would fill the memory, and no job.
        *plans = Kept::default();
    }
    let mut lines = sound.lines.clone();
    while !choices.are_spent() && !lines.is_empty() {
        change(&mut lines, choices);
    }
    let folder = sound.folder.path();
    fs::write(folder.join("plan.json"), &plan).unwrap();
    fs::write(folder.join("journal.jsonl"), sealed(&lines, &sound.plan, &plan)).unwrap();
    let audited = audit(folder, &Asked::default(), plans);
    assert!(!audited.defect);
    if audited.verdict == Verdict::DoesNotHold {
        return;
    }
    let contents = Journal::read(folder).unwrap();
    let mut machines = vec![(0, plans.plan(&contents.plan, "plan.json").unwrap())];
    for later in &contents.later {
        machines.push((later.seq, plans.plan(later.text.as_ref().unwrap(), "plan.json").unwrap()));
    }
    let machines: Vec<(u64, Machine)> = machines.into_iter().map(|(from, plan)| (from, Machine::new(plan))).collect();
    // What another version may have worked out or asked otherwise is "not shown", and says so.
    let doubted = audited.verdict == Verdict::NotShown
        && audited.points.iter().any(|point| {
            point.verdict == Verdict::NotShown && (point.point == "decisions" || point.point == "version")
        });
    let mut state = State::default();
    for batch in batches(&contents.records, &contents.ends) {
        if is_recovery(batch) {
            batch.iter().for_each(|record| state.apply(record));
            continue;
        }
        let (_, machine) = machines.iter().rev().find(|(from, _)| *from <= batch[0].seq).unwrap();
        let input = input_of(batch).unwrap_or_else(|| panic!("{:?}: no input leads to {batch:?}", audited.verdict));
        let again = match machine.decide(&state, &input) {
            Ok(again) => again,
            Err(_) if doubted => return,
            Err(why) => panic!("{:?}, though refused: {}", audited.verdict, why.message),
        };
        let same = again.len() == batch.len()
            && again.iter().zip(batch).all(|(one, other)| {
                let told = matches!(one.event, Event::Opened { .. });
                told || near(&serde_json::to_value(one).unwrap(), &serde_json::to_value(other).unwrap())
            });
        assert!(same || doubted, "{:?}: {again:?}\nwhere it says\n{batch:?}", audited.verdict);
        again.iter().for_each(|record| state.apply(record));
    }
}

/// Numbers within the allowance that an audit makes for another machine's arithmetic.
fn near(one: &Json, other: &Json) -> bool {
    match (one, other) {
        (Json::Number(a), Json::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
        }
        (Json::Array(a), Json::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(a, b)),
        (Json::Object(a), Json::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(key, value)| b.get(key).is_some_and(|other| near(value, other)))
        }
        _ => one == other,
    }
}

/// One change of a line, a field or their order.
fn change(lines: &mut Vec<String>, choices: &mut Choices<'_>) {
    let at = (usize::from(choices.byte()) << 8 | usize::from(choices.byte())) % lines.len();
    match choices.below(10) {
        0 => drop(lines.remove(at)),
        1 => lines.insert(at, lines[at].clone()),
        2 => {
            let other = choices.below(lines.len());
            lines.swap(at, other);
        }
        3 => lines.truncate(at + 1),
        _ => {
            let Ok(Json::Object(mut event)) = serde_json::from_str(&format!("{}}}", lines[at])) else { return };
            let mut path = Vec::new();
            pick(&mut event, choices, &mut path);
            let mut text = serde_json::to_string(&event).unwrap();
            text.pop();
            lines[at] = text;
        }
    }
}

/// Goes down into a field by choices, and changes what lies there.
fn pick(fields: &mut Map<String, Json>, choices: &mut Choices<'_>, path: &mut Vec<String>) {
    let Some(key) = fields.keys().nth(choices.below(fields.len())).cloned() else { return };
    if path.is_empty() && matches!(key.as_str(), "prev" | "seq") {
        return;
    }
    path.push(key.clone());
    if choices.rarely(6) {
        fields.shift_remove(&key);
        return;
    }
    let mut value = &mut fields[&key];
    while let Json::Array(list) = value {
        if list.is_empty() || choices.rarely(8) {
            list.pop();
            return;
        }
        let at = choices.below(list.len());
        value = &mut list[at];
    }
    match value {
        Json::Object(inner) => pick(inner, choices, path),
        Json::Bool(truth) => *truth = !*truth,
        Json::Number(number) => {
            let by = choices.one(&[1.0, -1.0, 0.5, 1e-7, 1000.0]);
            *value = match number.as_u64() {
                Some(whole) => whole.wrapping_add_signed(by as i64).into(),
                None => (number.as_f64().unwrap_or_default() + by).into(),
            };
        }
        Json::String(text) => {
            let other = ["met", "not met", "not shown", "rita", "jo", "marek", "log", "typed", "page", "", "x"];
            match choices.below(3) {
                0 => *text = choices.one(&other).to_owned(),
                1 => text.push_str(&choices.text(3)),
                _ => {
                    // One digit of a time, a hash or a number.
                    let at = choices.below(text.len().max(1));
                    if text.is_char_boundary(at) && text.is_char_boundary(at + 1) && at < text.len() {
                        text.replace_range(at..=at, choices.one(&["0", "1", "5", "9", "a"]));
                    }
                }
            }
        }
        Json::Null | Json::Array(_) => *value = Json::Bool(true),
    }
}

/// Lines with numbers and hashes that fit, as someone would write them who knows how.
fn sealed(lines: &[String], was: &str, plan: &str) -> String {
    let hash = |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let named = |plan: &str| format!("\"plan\":\"{}\"", hash(plan.as_bytes()));
    let (was, is, mut prev) = (named(was), named(plan), hash(plan.as_bytes()));
    let (mut out, mut seq) = (String::new(), 0);
    for body in lines {
        let Ok(Json::Object(mut event)) = serde_json::from_str::<Json>(&format!("{body}}}")) else { continue };
        seq += 1;
        event.insert("prev".to_owned(), prev.into());
        event.insert("seq".to_owned(), seq.into());
        let mut body = serde_json::to_string(&event).unwrap().replace(&was, &is);
        body.pop();
        let line = format!("{body},\"sum\":\"{}\"}}", hash(body.as_bytes()));
        prev = hash(line.as_bytes());
        out.push_str(&line);
        out.push('\n');
    }
    out
}
