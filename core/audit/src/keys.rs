//! Who did what, as far as keys show it: signatures beside the journal, and the list of who may sign.

use std::collections::BTreeMap;
use std::io;

use indexmap::IndexSet;

use super::point::{Point, Verdict};
use standpipe_job::journal::Contents;
use standpipe_job::plan::Plan;
use standpipe_sign::{Beside, Entered, FOLDER, Signed, Signers, Standing, Trust, deeds, signed};

/// Nothing where nothing is signed and nobody wants it.
pub(super) fn point(
    plan: &Plan,
    contents: &Contents,
    beside: &io::Result<Vec<Beside>>,
    signers: Option<&Signers>,
    entered: &Entered,
    file: &str,
) -> Option<(Point, Vec<Signed>)> {
    let mut point = Point::new("keys", file);
    let beside = match beside {
        Ok(beside) => beside.as_slice(),
        Err(fault) => {
            point.find(Verdict::NotShown, None, format!("the signatures can't be read: {fault}"));
            &[]
        }
    };
    if beside.is_empty() && plan.shop.by_key.is_empty() && signers.is_none() && point.findings.is_empty() {
        return None;
    }
    let deeds = deeds(plan, &contents.records, 0);
    let (acts, strays) = signed(&plan.job.id, &deeds, &contents.heads, beside, signers, entered);
    point.looked_at = acts.len() as u64;
    // Whether it is more than a want of whoever asks: then nothing of the record stands as shown over it.
    let mut weighs = false;
    for act in &acts {
        let wanted = plan.shop.by_key.contains(&act.act);
        if let Some((verdict, message)) = told(act, wanted, signers.is_some()) {
            point.find(verdict, Some(act.line), message);
            weighs |= wanted || verdict == Verdict::DoesNotHold;
        }
    }
    unchecked(&mut point, &acts);
    weighs |= timed(&mut point, &acts);
    weighs |= shared(&mut point, &acts);
    for stray in strays {
        weighs |= strayed(&mut point, stray, signers);
    }
    point.of_work = !weighs;
    Some((point, acts))
}

fn told(signed: &Signed, wanted: bool, listed: bool) -> Option<(Verdict, String)> {
    let Signed { act, by, standing, key, .. } = signed;
    let of = format!("`{}` by {by}", act.word());
    let key = key.as_deref().unwrap_or_default();
    Some(match standing {
        Standing::Signed => return None,
        Standing::Unchecked if wanted => {
            (Verdict::NotShown, format!("{of} is signed, and nobody checked whose key that is"))
        }
        Standing::Unchecked => return None,
        Standing::Unsigned if wanted => (Verdict::NotShown, format!("{of} is not signed by key, which the shop wants")),
        Standing::Unsigned if listed => (Verdict::NotShown, format!("{of} is not signed by key")),
        Standing::Unsigned => return None,
        Standing::UnknownPerson => {
            (Verdict::NotShown, format!("{of} is signed by {key}, and the list has no key of {by}"))
        }
        Standing::OtherKey(why) => (Verdict::DoesNotHold, format!("{of} is signed by {key}: {why}")),
        Standing::OtherTime(why) => (Verdict::NotShown, format!("{of} is signed by {key}: {why}")),
        Standing::Outlived(why) => (Verdict::DoesNotHold, format!("{of} is signed by {key}: {why}")),
        Standing::PerhapsOutlived(why) => (Verdict::NotShown, format!("{of} is signed by {key}: {why}")),
        Standing::Broken(why) => (Verdict::DoesNotHold, format!("the signature of {of} does not hold: {why}")),
    })
}

/// Signatures that fit, and nobody has said whose keys they are by.
fn unchecked(point: &mut Point, acts: &[Signed]) {
    let unchecked = || acts.iter().filter(|act| act.standing == Standing::Unchecked);
    let Some(first) = unchecked().next() else { return };
    let keys: IndexSet<&str> = unchecked().filter_map(|act| act.key.as_deref()).collect();
    let are =
        if unchecked().count() == 1 { "1 act is".to_owned() } else { format!("{} acts are", unchecked().count()) };
    let keys = if keys.len() == 1 { "a key".to_owned() } else { format!("{} keys", keys.len()) };
    let message = format!("{are} signed by {keys}, unchecked: whose a key is, the list says that `--signers` names");
    point.unshown(first.line, message);
}

/// The book has another time than the signature. Where it was entered late that is no wonder: then once for all, and it weighs nothing.
fn timed(point: &mut Point, acts: &[Signed]) -> bool {
    let apart = || acts.iter().filter_map(|act| Some((act, act.in_book.as_ref()?, act.apart()?)));
    let mut found = false;
    for (act, _, (signed, entered)) in apart().filter(|(_, book, _)| !book.late) {
        found = true;
        let message = format!(
            "`{}` by {} is signed at {signed} by its own word, and was entered in the book at {entered}",
            act.act.word(),
            act.by
        );
        point.unshown(act.line, message);
    }
    let late: Vec<&Signed> = apart().filter(|(_, book, _)| book.late).map(|(act, _, _)| act).collect();
    if let Some(first) = late.first() {
        let are =
            if late.len() == 1 { "1 signature was".to_owned() } else { format!("{} signatures were", late.len()) };
        point.unshown(first.line, format!("{are} entered in the book late: that the time in it is true is not shown"));
    }
    found
}

/// Two people who sign by one key can't be told apart, whatever the list says.
fn shared(point: &mut Point, acts: &[Signed]) -> bool {
    let mut by_key: BTreeMap<&str, Vec<&Signed>> = BTreeMap::new();
    for act in acts.iter().filter(|act| matches!(act.standing, Standing::Signed | Standing::Unchecked)) {
        by_key.entry(act.key.as_deref().unwrap_or_default()).or_default().push(act);
    }
    let mut found = false;
    for (key, acts) in by_key {
        if let Some(other) = acts.iter().find(|act| act.by != acts[0].by) {
            found = true;
            point.unshown(other.line, format!("{} and {} both signed by {key}", acts[0].by, other.by));
        }
    }
    found
}

/// A signature of a line that is not here. By a key of the list it can't have been put there by just anybody.
fn strayed(point: &mut Point, beside: &Beside, signers: Option<&Signers>) -> bool {
    let name = format!("{FOLDER}/{}", beside.name);
    let stray = beside.stray();
    let trusted = |stray: &standpipe_sign::Stray| {
        signers.is_none_or(|signers| signers.judge(&stray.by, stray.key, stray.at) == Trust::Valid)
    };
    match stray {
        Some(stray) if trusted(&stray) => {
            let message = format!(
                "{} signed a line {} at {} that is not here: the journal was cut off, changed or replaced (`{name}`)",
                stray.by, stray.line, stray.at
            );
            point.find(Verdict::DoesNotHold, None, message);
            true
        }
        _ => {
            point.find(Verdict::NotShown, None, format!("`{name}` is not a signature of anything here"));
            false
        }
    }
}
