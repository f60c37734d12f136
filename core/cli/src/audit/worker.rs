//! `audit --files-from -`: one journal a line in, one line a journal out, for engines that hand work to many processes.
//!
//! A line says nothing of where the journal lay, so the same job comes to the same line wherever it was audited: equal ones merge,
//! unequal ones are a finding. Whoever gets no end line knows that the worker is gone, however well it all looks.

use std::io::{BufRead, Write};
use std::path::PathBuf;

use indexmap::IndexSet;
use serde::Deserialize;
use serde_json::{Value as Json, json};

use standpipe_audit::{Asked, Audited, audit};
use standpipe_job::plan::Kept;

use crate::Exit;
use crate::defect::one_of_many;

/// No path is longer.
const LONGEST: usize = 64 << 10;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wanted {
    /// Whatever the engine knows it by.
    key: Json,
    folder: PathBuf,
}

/// Ends well when all that was asked was answered: how it came out stands in the lines. `known`: takes the instruments of all jobs,
/// where one is asked of.
pub fn run(input: &mut dyn BufRead, out: &mut dyn Write, asked: &Asked, known: &mut IndexSet<String>) -> Exit {
    let mut plans = Kept::default();
    let (mut asked_for, mut answered, mut knew) = (0_u64, 0_u64, 0_u64);
    let mut line = Vec::new();
    loop {
        line.clear();
        match std::io::Read::take(&mut *input, LONGEST as u64 + 1).read_until(b'\n', &mut line) {
            Ok(0) => break,
            Ok(_) if line.trim_ascii().is_empty() => continue,
            Ok(_) => {}
            Err(_) => return Exit::Usage,
        }
        asked_for += 1;
        let answer = match serde_json::from_slice::<Wanted>(&line) {
            Ok(wanted) if line.len() <= LONGEST => {
                let audited = one_of_many(|| audit(&wanted.folder, asked, &mut plans));
                if audited.is_none() {
                    // What was built meanwhile may be half done.
                    plans = Kept::default();
                }
                audited.map_or_else(
                    || json!({ "key": wanted.key, "verdict": "not shown", "failed": "a defect of this program" }),
                    |mut audited| {
                        let asked_of = asked.recall.as_ref().map(|recall| &recall.instrument);
                        knew += u64::from(asked_of.is_some_and(|id| audited.instruments.contains(id)));
                        known.extend(std::mem::take(&mut audited.instruments));
                        told(&wanted.key, &audited)
                    },
                )
            }
            Ok(_) => json!({ "failed": "the line is too long" }),
            Err(fault) => json!({ "failed": format!("no key and folder: {fault}") }),
        };
        answered += u64::from(answer.get("failed").is_none());
        if writeln!(out, "{answer}").and_then(|()| out.flush()).is_err() {
            return Exit::Usage;
        }
    }
    let mut end = json!({ "end": true, "asked": asked_for, "answered": answered, "tool": env!("CARGO_PKG_VERSION") });
    if asked.recall.is_some() {
        // Of one worker's jobs none may know it; where the sum of all is nothing, it is misspelt.
        end["knew_instrument"] = json!(knew);
    }
    match writeln!(out, "{end}").and_then(|()| out.flush()) {
        Ok(()) if answered == asked_for => Exit::Well,
        _ => Exit::Usage,
    }
}

fn told(key: &Json, audited: &Audited) -> Json {
    let here = |text: &str| text.replace(&format!("{}/", audited.folder), "").replace(&audited.folder, ".");
    let mut findings = Vec::new();
    for point in &audited.points {
        for finding in &point.findings {
            findings.push(json!({
                "point": point.point, "verdict": finding.verdict, "file": here(&finding.place.file),
                "line": finding.place.line, "message": here(&finding.message),
            }));
        }
    }
    json!({
        "key": key, "job": audited.job, "journal": audited.hash, "seal": audited.seal, "state": audited.state,
        "simulated": audited.simulated, "events": audited.events, "verdict": audited.verdict, "findings": findings,
        "recheck": audited.recheck, "tool": env!("CARGO_PKG_VERSION"),
    })
}
