//! What stands out in a job, in a line each.

use super::{Acts, LogMark, RecordView};
use crate::shown::{minute, words};
use standpipe_job::Verdict;

/// Each kind of what stands out, and a line for each time.
pub(crate) fn mark_lines(record: &RecordView) -> Vec<(&'static str, Vec<String>)> {
    let mut all = Vec::new();
    let mut put = |name: &'static str, lines: Vec<String>| all.push((name, lines));
    let rounds = record.rounds.iter().filter(|round| round.rounds > 1 || !round.ended.is_empty());
    put("Rounds", rounds.map(|it| format!("{}: {}{}", it.title, it.rounds, because(&it.ended))).collect());
    let corrections = record.corrections.iter().map(|it| {
        format!(
            "{} {}: {} {} -> {}, because {}",
            minute(it.at),
            it.by,
            words(&it.name),
            it.before,
            it.after,
            it.because
        )
    });
    put("Corrections", corrections.collect());
    let accepted = record
        .accepted
        .iter()
        .map(|it| format!("{} {} accepted \"{}\", {}: {}", minute(it.at), it.by, it.title, it.verdict, it.because));
    put("Accepted", accepted.collect());
    let skipped = record.skipped.iter().map(|it| format!("{} {}: {}: {}", minute(it.at), it.by, it.title, it.because));
    put("Left out", skipped.collect());
    let supplied = record
        .supplied
        .iter()
        .map(|it| format!("{} {}: {} = {}, from {}", minute(it.at), it.by, words(&it.path), it.shown, it.source));
    put("Supplied", supplied.collect());
    let amended = record
        .amended
        .iter()
        .map(|it| format!("{} {}: {}, because {}", minute(it.at), it.by, it.changed.join(", "), it.because));
    put("Data corrected", amended.collect());
    let calls = record.calls.iter().map(|it| {
        let back = it.returned.map_or_else(|| "not ended".to_owned(), |at| format!("ended {}", minute(at)));
        format!("{} {}: {}, {back}", minute(it.at), it.by, it.title)
    });
    put("Called", calls.collect());
    let pauses = record.pauses.iter().map(|it| {
        let left = match it.by.as_str() {
            "" if it.unannounced => "left without a pause".to_owned(),
            "" => "handed over".to_owned(),
            by => format!("{} paused by {by}", minute(it.at)),
        };
        let on = match (&it.resumed, &it.resumed_by) {
            (Some(at), Some(by)) if it.taken_over => format!("; {} taken over by {by}", minute(*at)),
            (Some(at), Some(by)) => format!("; {} gone on with by {by}", minute(*at)),
            _ => String::new(),
        };
        let tag = if it.tag.is_empty() { String::new() } else { format!(" [{}]", it.tag.join(" / ")) };
        format!("{left}{tag}{on}")
    });
    put("Pauses", pauses.collect());
    put("Notes", record.notes.iter().map(|it| format!("{} {}: {}", minute(it.at), it.by, it.text)).collect());
    let photos = record.photos.iter().map(|it| format!("{} {} {}", minute(it.at), it.name, short(&it.sha256)));
    put("Photos", photos.collect());
    put("Logs", record.logs.iter().flat_map(log_lines).collect());
    let instruments = record.instruments.iter().map(|it| {
        let accuracy = it.accuracy.as_ref().map(|text| format!(", ± {text}")).unwrap_or_default();
        let due = it.due.map(|due| format!(", calibration good until {due}")).unwrap_or_default();
        format!("{} ({}){accuracy}{due}, {} read", it.id, words(&it.kind), it.readings)
    });
    put("Instruments", instruments.collect());
    put("Who did what, by key or by word", record.acts.iter().flat_map(Acts::lines).collect());
    all
}

fn because(reasons: &[String]) -> String {
    if reasons.is_empty() { String::new() } else { format!("; {}", reasons.join("; ")) }
}

/// Enough of a hash to tell it from another by eye; the whole one is in the JSON.
fn short(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}

/// What a log shows, and each check that is not met or not shown.
fn log_lines(mark: &LogMark) -> Vec<String> {
    let (met, not, open) = (mark.count(Verdict::Met), mark.count(Verdict::NotMet), mark.count(Verdict::NotShown));
    let evidence = &mark.kept.evidence;
    let head = format!(
        "{} {} {}: {met} met, {not} not met, {open} not shown",
        minute(mark.at),
        evidence.name,
        short(&evidence.sha256)
    );
    let bad = mark.kept.verdicts.iter().filter(|one| one.verdict != Verdict::Met).map(|one| {
        let missing = if one.missing.is_empty() { String::new() } else { format!(" ({})", one.missing.join("; ")) };
        format!("{}: {}{missing}", one.verdict.words(), one.title)
    });
    std::iter::once(head).chain(bad).collect()
}
