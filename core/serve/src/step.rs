//! The page of one job, for one person at one device: of all that the job shows, what they may see and do.

use serde::Serialize;

use crate::devices::{Device, Devices};
use crate::followed::{Placed, Reading};
use crate::happened::Happened;
use crate::random;
use crate::said::Fields;
use crate::view::{Begun, Entry, Hold, Person, View};
use standpipe_job::{AnswerKind, Pending, Photo, Prompt, PromptField};
use standpipe_report::Svg;

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
#[serde(tag = "is", rename_all = "kebab-case")]
enum Waits<'a> {
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

/// A step as it is asked, for this person.
#[derive(Serialize)]
struct Asked<'a> {
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
    device: &'a Device,
    devices: &Devices,
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

/// Nothing is entered for it: who taps has done it, or signs.
fn is_given_by_the_tap(field: &PromptField) -> bool {
    matches!(field.kind, AnswerKind::Done | AnswerKind::Signature)
}

fn prompt_title(view: &View) -> &str {
    match &view.asked.pending {
        Pending::Entry(prompt) => &prompt.title,
        _ => "",
    }
}

/// Whether a signature is asked that this person may give.
fn signs_here(view: &View, me: Option<&Person>) -> bool {
    let Pending::Entry(prompt) = &view.asked.pending else { return false };
    let signature = prompt.fields.iter().find(|field| field.kind == AnswerKind::Signature);
    signature.is_some_and(|field| me.is_none_or(|me| field.options.iter().any(|(id, _)| *id == me.id)))
}

/// Whether a gate waits that this person may go on over.
fn accepts_here(view: &View, me: &Person) -> bool {
    match &view.asked.pending {
        Pending::Acceptance { roles, .. } => me.roles.iter().any(|role| roles.contains(role)),
        _ => false,
    }
}

fn waits<'a>(
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

fn asked<'a>(
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
        rest: prompt.item.is_some() && prompt.fields.iter().all(|field| field.kind == AnswerKind::Done),
        hold: prompt.hold,
        running: running.filter(|begun| begun.device == device.id),
        held_elsewhere: running.is_some_and(|begun| begun.device != device.id),
        plain: fields.is_empty() && prompt.witness.is_none() && prompt.evidence != Some(Photo::Required),
        fields,
        prompt,
    }
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
