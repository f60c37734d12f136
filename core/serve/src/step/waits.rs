//! What the job waits for, as one person is shown it.

use serde::Serialize;

use super::Refusal;
use super::asked::{Asked, asked};
use crate::devices::{Device, Devices};
use crate::view::{Person, View};
use standpipe_job::{AnswerKind, Pending};

#[derive(Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub(super) enum Waits<'a> {
    Entry(Box<Asked<'a>>),
    Acceptance {
        title: &'a str,
        verdict: &'a str,
        because: &'a str,
        shown: &'a [String],
        may: bool,
        who: Vec<&'a str>,
    },
    Stopped {
        title: &'a str,
        because: &'a str,
        shown: &'a [String],
    },
    Facts {
        title: &'a str,
        facts: &'a [(String, String, String)],
    },
    Fault {
        message: &'a str,
        place: &'a str,
    },
    /// This person is asked to look.
    Look {
        by: &'a str,
        looks: &'a str,
        title: &'a str,
    },
    Nothing,
    Over {
        abandoned: bool,
    },
}

pub(super) fn waits<'a>(
    view: &'a View,
    me: Option<&'a Person>,
    device: &Device,
    devices: &Devices,
    refusal: &Refusal,
) -> Waits<'a> {
    match &view.asked.pending {
        Pending::Entry(prompt) => Waits::Entry(Box::new(asked(view, prompt, me, device, devices, refusal))),
        Pending::Acceptance { title, verdict, because, shown, .. } => {
            let may = |person: &&Person| accepts_here(view, person);
            Waits::Acceptance {
                title,
                verdict: verdict.words(),
                because,
                shown,
                may: me.as_ref().is_some_and(may),
                who: view.people.iter().filter(may).map(|person| person.name.as_str()).collect(),
            }
        }
        Pending::Stopped { title, because, shown, .. } => Waits::Stopped { title, because, shown },
        Pending::Facts { title, .. } => Waits::Facts { title, facts: &view.facts },
        Pending::Fault { message, place, .. } => Waits::Fault { message, place },
        Pending::Nothing { abandoned } => Waits::Over { abandoned: *abandoned },
        Pending::Opening | Pending::Resumption { .. } => Waits::Nothing,
    }
}

pub(super) fn prompt_title(view: &View) -> &str {
    match &view.asked.pending {
        Pending::Entry(prompt) => &prompt.title,
        _ => "",
    }
}

/// Whether a signature is asked that this person may give.
pub(super) fn signs_here(view: &View, me: Option<&Person>) -> bool {
    let Pending::Entry(prompt) = &view.asked.pending else { return false };
    let signature = prompt.fields.iter().find(|field| field.kind == AnswerKind::Signature);
    signature.is_some_and(|field| me.is_none_or(|me| field.options.iter().any(|(id, _)| *id == me.id)))
}

/// Whether a gate waits that this person may go on over.
pub(super) fn accepts_here(view: &View, me: &Person) -> bool {
    match &view.asked.pending {
        Pending::Acceptance { roles, .. } => me.roles.iter().any(|role| roles.contains(role)),
        _ => false,
    }
}
