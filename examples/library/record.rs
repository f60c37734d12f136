//! A record read from code: what a journal says, and whether it holds.
//!
//!     cargo run --example record -- FOLDER
//!
//! where FOLDER is that of a job, as `standpipe run` makes it.

// It speaks to whoever runs it.
#![allow(clippy::print_stdout)]

use std::error::Error;
use std::path::Path;

use standpipe::job::plan::kept;
use standpipe::job::{Event, Journal, Machine, Verdict, replay};

/// Counts the gates that a journal says were met, after looking whether its events follow from its inputs.
fn met(folder: &Path) -> Result<usize, Box<dyn Error>> {
    let contents = Journal::read(folder)?;
    for problem in &contents.problems {
        println!("{problem}");
    }
    // The plan stands beside the journal, with every text that the job used.
    let plan = kept(&contents.plan, "plan.json").map_err(|problems| format!("{problems:?}"))?;
    let machine = Machine::new(plan);
    let differences = replay::verify(&machine, &contents.records, &contents.ends);
    let mut met = 0;
    for record in &contents.records {
        if let Event::Judged { address, verdict, .. } = &record.event {
            println!("{} {address}: {}", record.at, verdict.words());
            met += usize::from(*verdict == Verdict::Met);
        }
    }
    println!("job {}, {} events, seal {}", machine.plan.job.id, contents.records.len(), contents.seal);
    match differences.len() {
        0 => Ok(met),
        count => Err(format!("{count} inputs are decided otherwise than the journal says").into()),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args_os().nth(1).ok_or("name the folder of a job")?;
    met(Path::new(&folder)).map(|_| ())
}

// A job to read.
#[cfg(test)]
#[allow(dead_code)]
#[path = "job.rs"]
mod job;

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn what_the_journal_says_follows_and_a_changed_line_is_found() {
        let folder = tempfile::tempdir().unwrap();
        job::fire(folder.path()).unwrap();
        // Of two readings at one gate the second met it.
        assert_eq!(met(folder.path()).unwrap(), 1);

        let journal = folder.path().join("journal.jsonl");
        let text = fs::read_to_string(&journal).unwrap();
        fs::write(&journal, text.replacen("\"verdict\":\"met\"", "\"verdict\":\"not met\"", 1)).unwrap();
        assert!(!Journal::read(folder.path()).unwrap().problems.is_empty());
    }
}
