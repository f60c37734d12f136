//! From what a device says to an input of the job. What may be entered is the machine's to say; here it is only put together.

use std::time::Duration;

use indexmap::IndexMap;
use indexmap::map::Entry as Slot;

use crate::said::{Answer, Wanted, Witness, with_unit};
use standpipe_diagnostic::Code;
use standpipe_drivers::offer::ends_of;
use standpipe_job::{AnswerKind, Asked, Entry, EvidenceRef, OpenJob, Pending, Prompt, Refusal, What};

pub enum Composed {
    Now(What),
    /// Somebody looks first, on a device of their own.
    Asks {
        what: What,
        who: String,
        looks: String,
    },
}

/// `held`: how long the hold that is asked has been held. `photos`: those kept for the entry under way.
///
/// Errors: it fits nothing that is asked.
pub fn compose(
    job: &OpenJob,
    asked: &Asked,
    wanted: Wanted,
    held: Option<Duration>,
    photos: Vec<EvidenceRef>,
) -> Result<Composed, Refusal> {
    let what = match wanted {
        Wanted::Enter(answer) => return enter(prompt(asked)?, answer, photos),
        Wanted::Held { whole } => {
            let prompt = prompt(asked)?;
            let (Some(seconds), Some(held)) = (prompt.hold, held) else {
                return Err(Refusal::new(Code::UnfitAnswer, "the clock of this hold was not started here")
                    .help("start it once everybody is clear"));
            };
            let typed = held_text(seconds, held.as_secs_f64(), whole)?;
            let fields = prompt.fields.iter().filter(|field| field.kind == AnswerKind::Held);
            let typed = fields.map(|field| (field.name.clone(), typed.clone())).collect();
            let answer = Answer { typed, ..Answer::default() };
            return enter(prompt, answer, photos);
        }
        Wanted::Accept { because } => What::Accept { because },
        Wanted::Correct { entry, name, value, because } => {
            What::Correct { entry: Some(entry), values: IndexMap::from([(name, value)]), because }
        }
        Wanted::Supply { path, value, source } => {
            job.plan()
                .read_fact(&path, &value)
                .map_err(|unfit| Refusal::new(Code::UnfitAnswer, unfit.message.clone()).of(&path))?;
            What::Supply { path, typed: value, source }
        }
        Wanted::Skip { because } => What::Skip { because },
        Wanted::Call { procedure } => What::Call { procedure },
        Wanted::TakeBack => What::TakeBack,
        Wanted::Pause => What::Pause,
        Wanted::Note(text) => What::Note(text),
        Wanted::Abandon { because } => What::Abandon { because },
        Wanted::Take | Wanted::Connect | Wanted::Begin | Wanted::Looked { .. } | Wanted::Withdraw => What::Tick,
    };
    Ok(Composed::Now(what))
}

fn prompt(asked: &Asked) -> Result<&Prompt, Refusal> {
    match &asked.pending {
        Pending::Entry(prompt) => Ok(prompt),
        _ => {
            Err(Refusal::new(Code::UnfitAnswer, "nothing is to be entered now").help("see what the job is waiting for"))
        }
    }
}

fn enter(prompt: &Prompt, answer: Answer, photos: Vec<EvidenceRef>) -> Result<Composed, Refusal> {
    let mut typed = IndexMap::new();
    for field in prompt.fields.iter().filter(|field| !matches!(field.kind, AnswerKind::Done | AnswerKind::Signature)) {
        let Some(said) = answer.typed.get(&field.name) else { continue };
        let unit = answer.units.get(&field.name).filter(|_| field.quantity.is_some());
        typed.insert(field.name.clone(), with_unit(said, unit.map(String::as_str)));
    }
    // An instrument that was chosen for one value of its kind serves for all of them; one alone is not asked for.
    let mut with = IndexMap::new();
    for field in prompt.fields.iter().filter(|field| typed.contains_key(&field.name)) {
        let Some(kind) = &field.with else { continue };
        let alike = prompt.fields.iter().filter(|other| other.with.as_ref() == Some(kind));
        let chosen =
            answer.with.get(&field.name).or_else(|| alike.into_iter().find_map(|it| answer.with.get(&it.name)));
        if let Some(chosen) = chosen {
            with.insert(field.name.clone(), chosen.clone());
        }
    }
    for it in answer.scale.iter().flat_map(|id| ends_of(prompt, id)) {
        if let Slot::Vacant(empty) = typed.entry(it.name.clone()) {
            empty.insert(it.typed);
            with.extend(it.of.map(|of| (it.name, of)));
        }
    }
    let (witness, asks) = match answer.witness {
        Witness::None => (None, None),
        Witness::Here(who) => (Some(who), None),
        Witness::Asked(who) => (None, Some(who)),
    };
    let what = What::Enter(Entry {
        step: prompt.address.step.clone(),
        item: prompt.item.clone().filter(|_| !answer.rest),
        typed,
        with,
        witness,
        evidence: photos,
        read: None,
    });
    match (asks, &prompt.witness) {
        (Some(who), Some(looks)) => Ok(Composed::Asks { what, who, looks: looks.clone() }),
        _ => Ok(Composed::Now(what)),
    }
}

/// What is entered for a time that was held. A part is rounded down, so that it never passes for the whole.
fn held_text(seconds: f64, passed: f64, whole: bool) -> Result<String, Refusal> {
    if passed >= seconds {
        return Ok(format!("{seconds} s"));
    }
    if whole {
        let left = (seconds - passed).ceil();
        return Err(Refusal::new(Code::UnfitAnswer, format!("{left} s of {seconds} s are still to go"))
            .help("hold it to the end, or say that it was cut short"));
    }
    Ok(format!("{} s", (passed * 10.0).floor() / 10.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_of_a_hold_runs_here_and_no_part_passes_for_the_whole() {
        let text = |passed, whole| held_text(4.0, passed, whole).map_err(|refusal| refusal.message);
        assert_eq!(text(3.99, true), Err("1 s of 4 s are still to go".to_owned()));
        assert_eq!(text(3.99, false), Ok("3.9 s".to_owned()));
        assert_eq!(text(4.0, true), Ok("4 s".to_owned()));
        assert_eq!(text(90.0, false), Ok("4 s".to_owned()));
    }
}
