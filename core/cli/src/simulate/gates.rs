//! `--gates`: what each gate and each witness is worth.

use std::sync::atomic::{AtomicBool, Ordering};

use super::Simulate;
use standpipe_diagnostic::Problems;
use standpipe_job::plan::typed;
use standpipe_simulate::report::Worth;
use standpipe_simulate::without::without;
use standpipe_simulate::worth::differs;
use standpipe_simulate::{Bench, Outcome, Settings, Stand, parts_of};

/// Left out in turn, on the same draws.
pub fn gates(
    args: &Simulate,
    stand: &Stand,
    settings: &Settings,
    bench: &Bench<'_>,
    problems: &mut Problems,
    stop: &AtomicBool,
) -> Option<Vec<Worth>> {
    let runs = args.runs.clone().unwrap_or(0..args.jobs);
    let mut outcomes = |bench: &Bench<'_>| match settings.outcomes(bench, runs.clone(), stop) {
        Ok(outcomes) => Some(outcomes),
        Err(failed) => {
            problems.push(failed.told(settings));
            None
        }
    };
    let with: Vec<Outcome> = outcomes(bench)?;
    let mut all = Vec::new();
    for (step, part) in parts_of(bench.plan()) {
        if stop.load(Ordering::Relaxed) {
            break;
        }
        let mut faults = Problems::new();
        let rest = without(&stand.files, &typed("--gates", &step), part).ok();
        let rest = rest.and_then(|files| stand.bench(&files, &mut faults));
        let mut worth = Worth { step, part, needed: None, harmed: Default::default(), seconds: 0, entries: 0 };
        match rest {
            Some(rest) => {
                let found = differs(&with, &outcomes(&rest)?);
                (worth.harmed, worth.seconds, worth.entries) = (found.harmed, found.seconds, found.entries);
            }
            None => worth.needed = Some(faults.first().map_or_else(String::new, |fault| fault.message.clone())),
        }
        all.push(worth);
    }
    Some(all)
}
