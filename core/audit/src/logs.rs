//! Logs of readings that a job kept: do their checks still come to what was written down, and do they agree with what was
//! entered beside them?

use std::path::Path;

use super::point::Point;
use standpipe_diagnostic::Problems;
use standpipe_job::State;
use standpipe_job::event::{Event, KeptLog, Record};
use standpipe_job::journal::evidence;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_log::Contradiction;

pub(super) fn point(plan: &Plan, records: &[Record], folder: &Path, file: &str) -> Point {
    let mut point = Point::new("logs", file);
    let kept: Vec<(usize, &KeptLog)> = records
        .iter()
        .enumerate()
        .filter_map(|(index, record)| match &record.event {
            Event::LogKept(kept) => Some((index, &**kept)),
            _ => None,
        })
        .collect();
    if kept.is_empty() {
        return point;
    }
    let mut quiet = Problems::new();
    let parsed = Parsed::new(plan.snapshot.files.clone(), &mut quiet);
    // What was entered after a log was kept is held against it as well.
    let after = standpipe_job::replay::replay(records);
    for (index, kept) in kept {
        point.looked_at += 1;
        let seq = records[index].seq;
        match again(plan, &parsed, (&records[..index], &after), kept, folder) {
            Err(why) => point.unshown(seq, format!("`{}` can't be judged again: {why}", kept.evidence.name)),
            Ok(differences) => {
                for difference in differences {
                    point.fails(seq, format!("`{}`: {difference}", kept.evidence.name));
                }
            }
        }
    }
    point
}

/// What comes out otherwise than it was written down, or was entered otherwise than it was logged.
fn again(
    plan: &Plan,
    parsed: &Parsed,
    (before, after): (&[Record], &State),
    kept: &KeptLog,
    folder: &Path,
) -> Result<Vec<String>, String> {
    let description = standpipe_log::kept::described(kept, parsed, folder)?;
    let log = standpipe_log::kept::rows(kept, evidence::open(folder, &kept.evidence)?, &description, parsed)?;
    let around = standpipe_log::kept::around(kept, plan, before);
    let judged = description.judge(&log, &around, &parsed.units, &parsed.scripts());
    let mut differences = Vec::new();
    for check in &judged {
        let mut written = kept.verdicts.iter().filter(|one| one.check == check.id);
        match written.next() {
            Some(_) if written.next().is_some() => differences.push(format!("\"{}\" appears twice", check.title)),
            Some(one) if one.title != check.title => {
                differences.push(format!("\"{}\" was written down as \"{}\"", check.title, one.title));
            }
            Some(one) if one.verdict == check.verdict => {}
            Some(one) => differences.push(format!(
                "\"{}\" was written down as {} and comes to {}",
                check.title,
                one.verdict.words(),
                check.verdict.words()
            )),
            None => differences.push(format!("\"{}\" was left out", check.title)),
        }
    }
    let known = |id: &str| judged.iter().any(|check| check.id == id);
    let strange = kept.verdicts.iter().filter(|one| !known(&one.check));
    differences.extend(strange.map(|one| format!("there is no check `{}`", one.check)));
    let zero = standpipe_log::kept::zero(kept, before);
    let contradicted = zero.map(|zero| description.contradictions(&log, zero, &after.readings)).unwrap_or_default();
    differences.extend(contradicted.iter().map(|one| {
        let Contradiction { reading, low, high } = one;
        let shown = parsed.units.show_range(low, high, &plan.shop.style);
        format!(
            "`{}` was entered as {} at {} (event {}), and within a minute of that it shows {shown}",
            reading.name,
            plan.show(&reading.value),
            reading.at,
            reading.seq
        )
    }));
    Ok(differences)
}
