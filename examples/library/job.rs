//! A job driven from code: a procedure of an invented trade, answered step by step, with its journal in a folder.
//!
//!     cargo run --example job

// It speaks to whoever runs it.
#![allow(clippy::print_stdout)]

use std::error::Error;
use std::path::Path;

use indexmap::IndexMap;
use standpipe::diagnostic::{Problems, human};
use standpipe::job::plan::{Inputs, build};
use standpipe::job::{Entry, Input, Journal, Machine, Origin, Pending, State, What};
use standpipe::library::{File, Files, Layer};
use standpipe::source::Source;

const PLUGIN: &str = "plugin: kilns\nversion: \"1.0.0\"\nplugins: [units]\ninvented: true\n";
const FORM: &str = "form: kiln\nfields: { hottest: { is: temperature } }\njob: { owner: { is: text } }\n";
const FAMILY: &str = "\
family: north
form: kiln
title: North
invented: true
hottest: 1280 degC
sources: [{ covers: all, from: invented }]
";
const PROCEDURE: &str = "\
procedure: firing
title: Fire the kiln
form: kiln
steps:
  - id: warm
    read: { heat: { is: temperature } }
    gate: { must: heat <= spec.hottest, otherwise: wait }
  - { id: close, do: Close the damper. }
";

/// Runs the job in a folder that has none yet. Gives every question that was asked.
pub fn fire(folder: &Path) -> Result<Vec<String>, Box<dyn Error>> {
    let mut files = Files::built_in();
    let texts = [
        ("plugin.yaml", PLUGIN),
        ("forms/kiln.yaml", FORM),
        ("families/north.yaml", FAMILY),
        ("procedures/firing.yaml", PROCEDURE),
    ];
    for (path, text) in texts {
        files.list.push(File::new(Layer::Given(1), "kilns", path, text));
    }
    let job = Source::new("job.yaml", "job: F-1\nfamily: north\nprocedure: firing\nowner: nobody\n");
    let mut problems = Problems::new();
    let mut plan = build(Inputs::new(job, None, files), &mut problems)
        .ok_or_else(|| human(&problems, standpipe::diagnostic::Look { color: false, width: 100, folded: false }))?;

    let mut journal = Journal::create(folder, &mut plan)?;
    let machine = Machine::new(plan);
    let mut state = State::default();
    // The first reading is too hot: the gate waits, and the step is asked again.
    let mut answers = vec![("warm", Some("1290 degC")), ("warm", Some("1240 degC")), ("close", None)].into_iter();
    let mut asked = Vec::new();
    let mut what = What::Open;
    loop {
        let input = Input {
            at: "2026-11-23T08:00:00+01:00".parse()?,
            entered_at: None,
            by: "ann".to_owned(),
            origin: Origin::Answers,
            what,
        };
        // An input becomes events; these are on the disk before they count.
        let records = machine.decide(&state, &input).map_err(|refusal| refusal.message)?;
        journal.append(&records)?;
        for record in &records {
            state.apply(record);
        }
        match machine.pending(&state) {
            Pending::Entry(prompt) => {
                asked.push(prompt.asks.clone());
                let (step, heat) = answers.next().ok_or("more is asked than is answered")?;
                let typed = heat.map(|heat| ("heat".to_owned(), heat.to_owned()));
                let typed: IndexMap<String, String> = typed.into_iter().collect();
                what = What::Enter(Entry { step: step.to_owned(), typed, ..Entry::default() });
            }
            Pending::Nothing { .. } => break,
            other => return Err(format!("it waits for something else: {other:?}").into()),
        }
    }
    println!("asked: {}; seal {}", asked.join(", "), journal.seal());
    Ok(asked)
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir()?;
    fire(folder.path()).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gate_asks_again_and_the_journal_reads_back() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(fire(folder.path()).unwrap(), ["warm", "warm", "close"]);
        let contents = Journal::read(folder.path()).unwrap();
        assert!(contents.problems.is_empty() && contents.records.len() > 5);
    }
}
