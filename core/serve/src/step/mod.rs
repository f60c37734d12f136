//! The page of one job, for one person at one device: of all that the job shows, what they may see and do.

mod asked;
mod waits;

use serde::Serialize;

use crate::devices::{Device, Devices};
use crate::followed::{Placed, Reading};
use crate::happened::Happened;
use crate::random;
use crate::said::Fields;
use crate::view::{Entry, Hold, Person, View};
use standpipe_job::{AnswerKind, Pending};
use waits::{Waits, accepts_here, prompt_title, signs_here, waits};

/// Lines of what was done before that stand above what is asked.
const BEFORE: usize = 3;

#[derive(Serialize)]
pub struct StepPage<'a> {
    title: String,
    live: String,
    version_of: u64,
    id: &'a str,
    job: &'a str,
    subject: &'a str,
    invented: bool,
    simulated: bool,
    beside: &'a Option<String>,
    phase: &'a str,
    open: bool,
    since: u64,
    asks: &'a str,
    /// The same when it is sent again, another on every page.
    form: String,
    /// Of this device.
    me: Option<&'a Person>,
    /// Who may be said to do it, where the device is nobody's own.
    said_by: Vec<&'a Person>,
    actor: &'a str,
    /// In whose hands the work is, where that is somebody else.
    hands: Option<&'a str>,
    people: &'a [Person],
    kept: Option<&'a Happened>,
    before: &'a [Happened],
    sections: &'a [String],
    section: Option<usize>,
    next: &'a Option<String>,
    /// What stands in the way of entering anything.
    bar: Bar<'a>,
    waits: Waits<'a>,
    beside_it: BesideIt<'a>,
    refusal: Refusal,
    late: Vec<&'a Happened>,
    /// How many acts the shop wants signed that wait for the key of whose device it is.
    to_sign: usize,
    /// Where the reader is, and how it stands there.
    reader: &'a Option<Placed>,
    reading: Option<&'a Reading>,
    /// What was sent too late, to be kept as a note.
    mine: Option<String>,
}

/// What somebody has to do before they can enter anything.
#[derive(Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
enum Bar<'a> {
    None,
    /// The job is taken, begun or resumed with one tap: what that says.
    Take {
        says: &'static str,
        tag: &'a [String],
        from: Option<&'a str>,
    },
}

#[derive(Serialize)]
struct BesideIt<'a> {
    reachable: &'a [(String, String)],
    can_take_back: bool,
    can_skip: bool,
    entries: &'a [Entry],
    /// Somebody may enter things here.
    under_way: bool,
}

/// Why the last thing that was said was not taken.
#[derive(Clone, Default, Serialize)]
pub struct Refusal {
    pub words: Vec<String>,
    pub field: Option<String>,
    /// What was sent.
    #[serde(skip)]
    pub fields: Fields,
    /// It was made on this event, and more happened since.
    #[serde(skip)]
    pub late: Option<u64>,
}

pub fn page<'a>(
    view: &'a View,
    reading: Option<&'a Reading>,
    (device, devices): (&'a Device, &Devices),
    to_sign: usize,
    refusal: Refusal,
) -> StepPage<'a> {
    let me = device.person.as_deref().and_then(|id| view.people.iter().find(|person| person.id == id));
    let name =
        |id: &'a str| view.people.iter().find(|person| person.id == id).map_or(id, |person| person.name.as_str());
    let ours = view.hold == Hold::Ours;
    let resume = match me {
        Some(me) => view.to_resume.contains(&me.id),
        None => view.people.iter().all(|person| view.to_resume.contains(&person.id)),
    };
    let before = &view.happened[view.happened.len().saturating_sub(BEFORE)..];
    let look = view.awaits.as_ref().filter(|awaits| me.is_some_and(|me| me.id == awaits.who));
    let signs = signs_here(view, me);
    let accepts = me.is_some_and(|me| accepts_here(view, me));
    let bar = match &view.hold {
        _ if !view.open => Bar::None,
        // Who is only asked for their word need not take the work over.
        Hold::Ours if look.is_some() || signs || accepts || !resume => Bar::None,
        _ => Bar::Take {
            says: if view.paused || ours {
                "Look at the work, then go on with it"
            } else if view.seq > 0 {
                "It was left under way. Look what has changed, then go on"
            } else {
                "Take the job on this server"
            },
            tag: if view.paused { &view.tag } else { &[] },
            from: (view.actor != me.map_or("", |me| me.id.as_str()) && !view.actor.is_empty())
                .then(|| name(&view.actor)),
        },
    };
    let asks = view.asked.on.as_ref().map(|on| on.asks.as_str()).unwrap_or_default();
    let title = match &view.asked.pending {
        Pending::Entry(prompt) => prompt.title.clone(),
        Pending::Acceptance { title, .. } | Pending::Stopped { title, .. } | Pending::Facts { title, .. } => {
            title.clone()
        }
        _ => String::new(),
    };
    let late = refusal.late.map(|since| view.happened.iter().filter(|it| it.seq > since).collect()).unwrap_or_default();
    let mine = refusal.late.map(|_| as_note(&refusal.fields)).filter(|note| !note.is_empty());
    let waits = match look {
        Some(awaits) => Waits::Look { by: name(&awaits.by), looks: &awaits.looks, title: prompt_title(view) },
        None => waits(view, me, device, devices, &refusal),
    };
    StepPage {
        title: format!("{title} - {}", view.job),
        live: format!("/job/{}/live", view.id),
        version_of: view.version,
        id: &view.id,
        job: &view.job,
        subject: &view.subject,
        invented: view.invented,
        simulated: view.simulated,
        beside: &view.beside,
        phase: view.phase,
        open: view.open,
        since: view.asked.on.as_ref().map_or(0, |on| on.since),
        asks,
        form: format!("{:032x}", random::number()),
        me,
        said_by: if me.is_none() { may_say(view) } else { Vec::new() },
        actor: &view.actor,
        hands: (view.actor != me.map_or("", |me| me.id.as_str()) && !view.actor.is_empty()).then(|| name(&view.actor)),
        people: &view.people,
        kept: view.happened.last(),
        before,
        sections: &view.sections,
        section: view.section,
        next: &view.next,
        beside_it: BesideIt {
            reachable: &view.reachable,
            can_take_back: view.can_take_back,
            can_skip: view.can_skip,
            entries: &view.entries,
            under_way: ours && !resume,
        },
        bar,
        waits,
        refusal,
        reader: &view.reader,
        reading,
        late,
        to_sign,
        mine,
    }
}

/// Who may be said to do it: for a signature those who may sign.
fn may_say(view: &View) -> Vec<&Person> {
    let signature = match &view.asked.pending {
        Pending::Entry(prompt) => prompt.fields.iter().find(|field| field.kind == AnswerKind::Signature),
        _ => None,
    };
    let may = |person: &&Person| signature.is_none_or(|field| field.options.iter().any(|(id, _)| *id == person.id));
    view.people.iter().filter(may).collect()
}

/// What was sent, in words.
fn as_note(fields: &Fields) -> String {
    let get = |wanted: &str| fields.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str());
    let values: Vec<String> = fields
        .iter()
        .filter_map(|(name, value)| Some((name.strip_prefix("f.")?, value)))
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{} {value}", name.replace('_', " ")))
        .collect();
    match (get("what"), get("asks")) {
        (Some("enter"), Some(asks)) if values.is_empty() => format!("Came too late for {asks}: done"),
        (Some("enter"), Some(asks)) => format!("Came too late for {asks}: {}", values.join(", ")),
        _ => String::new(),
    }
}
