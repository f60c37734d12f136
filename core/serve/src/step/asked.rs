//! A step as it is asked: its fields, what they take, and what else an answer to it needs.

use serde::Serialize;

use super::Refusal;
use super::waits::signs_here;
use crate::devices::{Device, Devices};
use crate::view::{Begun, Person, View};
use standpipe_drivers::offer::{ends_of, instruments, words};
use standpipe_job::{AnswerKind, Photo, Prompt, PromptField};
use standpipe_report::Svg;

/// A step as it is asked, for this person.
#[derive(Serialize)]
pub(super) struct Asked<'a> {
    prompt: &'a Prompt,
    fields: Vec<Shown<'a>>,
    /// One value out of a few, and nothing else: each is one tap.
    taps: bool,
    /// A signature that is not this person's to give: whose it is.
    signed_by: Option<Vec<&'a str>>,
    signs: bool,
    witnesses: Vec<(String, String)>,
    awaits: Option<&'a str>,
    needs_photo: bool,
    photos: &'a [String],
    map: &'a Option<Svg>,
    /// Instruments whose scales are known: id, and what a tap takes of one.
    scales: Vec<(&'a str, String)>,
    /// More of this pass are left than the one that is asked.
    rest: bool,
    hold: Option<f64>,
    running: Option<&'a Begun>,
    held_elsewhere: bool,
    /// May wait on the device for a connection.
    plain: bool,
}

#[derive(Serialize)]
struct Shown<'a> {
    field: &'a PromptField,
    options: Vec<(String, String, Option<String>)>,
    units: &'a [(String, String)],
    instruments: Vec<(&'a str, &'a str, Option<&'a str>)>,
    said: &'a [String],
    /// What it takes, where neither its kind nor a unit beside it tells.
    expected: &'a str,
    /// What the keyboard of a phone is to show.
    keys: &'static str,
    value: String,
    /// Why it was not taken.
    faults: Vec<String>,
    today: Option<String>,
}

pub(super) fn asked<'a>(
    view: &'a View,
    prompt: &'a Prompt,
    me: Option<&'a Person>,
    device: &Device,
    devices: &Devices,
    refusal: &Refusal,
) -> Asked<'a> {
    let fields: Vec<Shown<'a>> = prompt
        .fields
        .iter()
        .filter(|field| !is_given_by_the_tap(field))
        .map(|field| shown(view, field, refusal))
        .collect();
    let signature = prompt.fields.iter().find(|field| field.kind == AnswerKind::Signature);
    let signed_by = signature
        .filter(|_| !signs_here(view, me))
        .map(|field| field.options.iter().map(|(id, name)| name.as_deref().unwrap_or(id)).collect());
    let doer = me.map_or(view.actor.as_str(), |me| me.id.as_str());
    let witnesses = match &prompt.witness {
        None => Vec::new(),
        Some(_) => {
            view.people.iter().filter(|person| person.id != doer).flat_map(|person| ways(person, devices)).collect()
        }
    };
    let photos = view.photos.get(&device.id).map_or(&[][..], Vec::as_slice);
    let running = view.begun.as_ref();
    Asked {
        taps: matches!(fields.as_slice(), [only] if !only.options.is_empty()),
        signed_by,
        signs: signature.is_some(),
        witnesses,
        awaits: view.awaits.as_ref().map(|awaits| {
            view.people.iter().find(|person| person.id == awaits.who).map_or(awaits.who.as_str(), |it| it.name.as_str())
        }),
        needs_photo: prompt.evidence == Some(Photo::Required) && photos.is_empty(),
        photos,
        map: &view.map,
        scales: instruments(prompt).into_iter().map(|id| (id, scale(view, prompt, id))).collect(),
        rest: prompt.may_take_the_rest(),
        hold: prompt.hold,
        running: running.filter(|begun| begun.device == device.id),
        held_elsewhere: running.is_some_and(|begun| begun.device != device.id),
        plain: fields.is_empty() && prompt.witness.is_none() && prompt.evidence != Some(Photo::Required),
        fields,
        prompt,
    }
}

fn scale(view: &View, prompt: &Prompt, id: &str) -> String {
    let name = view.instruments.get(id).map_or(id, |(name, _)| name.as_str());
    format!("{name}: {}", words(&ends_of(prompt, id)))
}

/// How a person can be the second to look: on their own phone, if they have one, or here, where only their name is said.
fn ways(person: &Person, devices: &Devices) -> Vec<(String, String)> {
    let mut ways = Vec::new();
    if devices.has(&person.id) {
        ways.push((format!("{}@own", person.id), format!("{}, asked on their own phone", person.name)));
    }
    ways.push((format!("{}@here", person.id), format!("{} looks here", person.name)));
    ways
}

fn shown<'a>(view: &'a View, field: &'a PromptField, refusal: &Refusal) -> Shown<'a> {
    let people = field.kind.is_of_people();
    let options = field.options.iter().map(|(id, meaning)| match meaning {
        Some(name) if people => (id.clone(), name.clone(), None),
        meaning => (id.clone(), id.clone(), meaning.clone()),
    });
    let sent = refusal.fields.iter().find(|(name, _)| name.strip_prefix("f.") == Some(&field.name));
    let instrument = |id: &'a String| match view.instruments.get(id) {
        Some((name, range)) => (id.as_str(), name.as_str(), range.as_deref()),
        None => (id.as_str(), id.as_str(), None),
    };
    Shown {
        options: options.collect(),
        expected: match field.kind {
            AnswerKind::Text | AnswerKind::Quantity | AnswerKind::Date => "",
            _ => &field.expected,
        },
        units: view.units.get(&field.name).map_or(&[][..], Vec::as_slice),
        instruments: field.instruments.iter().map(instrument).collect(),
        said: view.said.get(&field.name).map_or(&[][..], Vec::as_slice),
        keys: match field.kind {
            AnswerKind::Quantity | AnswerKind::Held => "decimal",
            AnswerKind::Count => "numeric",
            _ => "text",
        },
        value: sent.map(|(_, value)| value.clone()).unwrap_or_default(),
        faults: if refusal.field.as_deref() == Some(&field.name) { refusal.words.clone() } else { Vec::new() },
        today: (field.kind == AnswerKind::Date).then(|| standpipe_job::Moment::now().date().to_string()),
        field,
    }
}

/// Nothing is entered for it: who taps has done it, or signs.
fn is_given_by_the_tap(field: &PromptField) -> bool {
    matches!(field.kind, AnswerKind::Done | AnswerKind::Signature)
}
