//! A job as pages show it: everything that anybody may be shown of it, made once after each change, on the job's own thread.

use std::path::PathBuf;

use indexmap::IndexMap;
use serde::Serialize;

use crate::followed::Placed;
use crate::happened::{Happened, happened};
use crate::shelf::Listed;
use standpipe_drivers::setting::{Entered, Setting};
use standpipe_job::{Asked, Moment, OpenJob, Pending, Phase, Prompt};
use standpipe_report::{Svg, map};
use standpipe_sign::{Deed, deeds};

/// Who writes to the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hold {
    /// Nobody here: it is only looked at, whether another process writes or not.
    Looked,
    /// This server.
    Ours,
}

#[derive(Clone, Debug, Serialize)]
pub struct View {
    /// Another for each view that is made of this job.
    pub version: u64,
    /// As the list has it.
    pub listed: Listed,
    pub id: String,
    pub job: String,
    pub subject: String,
    pub invented: bool,
    /// A model began it: nothing that is entered makes it a real job.
    pub simulated: bool,
    /// The procedure that was called, or runs for a pause.
    pub beside: Option<String>,
    pub phase: &'static str,
    pub open: bool,
    pub paused: bool,
    pub hold: Hold,
    pub asked: Asked,
    /// Number of the last event.
    pub seq: u64,
    pub at: Option<Moment>,
    pub actor: String,
    /// Who would have to look and resume it before they enter anything.
    pub to_resume: Vec<String>,
    pub people: Vec<Person>,
    /// Instruments by their ids: what they are called, and what they reach.
    pub instruments: IndexMap<String, (String, Option<String>)>,
    /// What counts and can be corrected, the newest first.
    pub entries: Vec<Entry>,
    pub reachable: Vec<(String, String)>,
    pub can_take_back: bool,
    /// What is asked may be left out, with a reason.
    pub can_skip: bool,
    pub sections: Vec<String>,
    pub section: Option<usize>,
    /// What follows, as a rule.
    pub next: Option<String>,
    pub map: Option<Svg>,
    /// What was said before for the values that are asked, the newest first.
    pub said: IndexMap<String, Vec<String>>,
    /// Units that a number can be given in, the shop's first: name and sign.
    pub units: IndexMap<String, Vec<(String, String)>>,
    /// Facts that nobody has entered: path, question, what is expected.
    pub facts: Vec<(String, String, String)>,
    pub tag: Vec<String>,
    pub happened: Vec<Happened>,
    /// Who is asked to look, and at what.
    pub awaits: Option<Awaits>,
    /// When the hold that is asked was begun, and by which device.
    pub begun: Option<Begun>,
    /// Names of photos that are kept for the entry under way, by the device that sent them.
    pub photos: IndexMap<String, Vec<String>>,
    /// Where the reader is, if there is one.
    pub reader: Option<Placed>,
    /// Where the job lies, and what of it the shop wants signed by key: for whoever asks for it, and on no page.
    #[serde(skip)]
    pub folder: PathBuf,
    #[serde(skip)]
    pub by_key: Vec<Deed>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Person {
    pub id: String,
    pub name: String,
    pub roles: Vec<String>,
}

/// A value that was entered and can be corrected.
#[derive(Clone, Debug, Serialize)]
pub struct Entry {
    pub seq: u64,
    pub name: String,
    pub title: String,
    pub shown: String,
    pub expected: String,
    /// Id and name of each, where it is one of a few.
    pub options: Vec<(String, String)>,
    pub at: Moment,
}

/// An entry that waits for its witness. It is not written yet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Awaits {
    /// Who entered it.
    pub by: String,
    /// Who is to look.
    pub who: String,
    pub looks: String,
    pub asks: String,
}

/// A hold that is being held.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Begun {
    pub device: String,
    pub asks: String,
    /// Seconds since it was begun, as this view was made.
    pub seconds: f64,
}

/// What only the keeper knows.
#[derive(Clone, Debug)]
pub struct Aside {
    pub version: u64,
    pub hold: Hold,
    pub awaits: Option<Awaits>,
    pub begun: Option<Begun>,
    pub photos: IndexMap<String, Vec<String>>,
    /// Where the reader is, if there is one.
    pub reader: Option<Placed>,
}

pub fn view(id: &str, job: &OpenJob, aside: Aside) -> View {
    let (plan, state) = (job.plan(), job.state());
    let setting = Setting { machine: job.machine() };
    let header = setting.header(state);
    let asked = job.asked();
    let prompt = match &asked.pending {
        Pending::Entry(prompt) => Some(&**prompt),
        _ => None,
    };
    let step = asked.pending.step().map(str::to_owned);
    let names = job.machine().names_now(state);
    let title = |step: &standpipe_procedure::Step| job.machine().title(step, &names);
    let missing = match &asked.pending {
        Pending::Facts { missing, .. } => &missing[..],
        _ => &[],
    };
    let facts = missing.iter().map(|path| {
        let (question, expected) = setting.question_of(path);
        (path.clone(), question, expected)
    });
    View {
        version: aside.version,
        listed: Listed::of(id.to_owned(), job),
        id: id.to_owned(),
        job: header.job,
        subject: header.subject,
        invented: header.invented,
        simulated: header.simulated,
        beside: header.beside,
        phase: if state.is_open() && asked.pending.is_held() { "stopped" } else { state.phase.words() },
        open: state.is_open(),
        paused: state.phase == Phase::Paused,
        seq: state.seq,
        at: state.at,
        actor: state.actor.clone().unwrap_or_default(),
        to_resume: plan.shop.people.keys().filter(|id| job.is_to_be_resumed_by(id)).cloned().collect(),
        people: plan.shop.people.iter().map(person).collect(),
        instruments: plan
            .shop
            .instruments
            .keys()
            .map(|id| {
                let choice = setting.instrument(id);
                (id.clone(), (choice.name, choice.meaning))
            })
            .collect(),
        entries: setting.entries(state).into_iter().map(entry).collect(),
        reachable: setting.reachable(),
        can_take_back: job.machine().can_take_back(state),
        can_skip: may_be_skipped(job, &asked.pending),
        sections: plan.sections().iter().map(title).collect(),
        section: step.as_deref().and_then(|step| plan.section_of(step)),
        next: step.and_then(|step| plan.step_after(&step)).map(title),
        map: prompt.and_then(|prompt| map(job.machine(), state, job.records(), prompt)),
        said: prompt.map(|prompt| said(job, prompt, &setting)).unwrap_or_default(),
        units: prompt.map(|prompt| units(job, prompt, &setting)).unwrap_or_default(),
        facts: facts.collect(),
        tag: state.tag.clone(),
        happened: happened(job, &setting),
        awaits: aside.awaits,
        begun: aside.begun,
        photos: aside.photos,
        reader: aside.reader,
        folder: job.dir().to_owned(),
        by_key: by_key(job),
        hold: aside.hold,
        asked,
    }
}

fn by_key(job: &OpenJob) -> Vec<Deed> {
    let wanted = &job.plan().shop.by_key;
    match wanted.is_empty() {
        true => Vec::new(),
        false => deeds(job.plan(), job.records(), 0).into_iter().filter(|deed| wanted.contains(&deed.act)).collect(),
    }
}

fn may_be_skipped(job: &OpenJob, pending: &Pending) -> bool {
    let step = match pending {
        Pending::Entry(_) | Pending::Facts { .. } => pending.step().and_then(|step| job.plan().step(step)),
        _ => None,
    };
    step.is_some_and(|step| step.has_to_stand().is_none())
}

fn person((id, person): (&String, &standpipe_library::Person)) -> Person {
    Person { id: id.clone(), name: person.name.clone(), roles: person.roles.clone() }
}

fn entry(entered: Entered) -> Entry {
    let people = entered.field.kind.is_of_people();
    let named = |(id, meaning): (String, Option<String>)| match meaning {
        Some(name) if people => (id, name),
        _ => (id.clone(), id),
    };
    Entry {
        seq: entered.seq,
        name: entered.name,
        title: entered.title,
        shown: entered.shown,
        expected: entered.expected,
        options: entered.field.options.into_iter().map(named).collect(),
        at: entered.at,
    }
}

/// What was said before for what is asked.
fn said(job: &OpenJob, prompt: &Prompt, setting: &Setting<'_>) -> IndexMap<String, Vec<String>> {
    let all = prompt.fields.iter().map(|field| (field.name.clone(), setting.said_before(job.state(), field)));
    all.filter(|(_, texts)| !texts.is_empty()).collect()
}

/// That of the instrument or the step comes first, then those in which the shop sees the quantity.
fn units(job: &OpenJob, prompt: &Prompt, setting: &Setting<'_>) -> IndexMap<String, Vec<(String, String)>> {
    let plan = job.plan();
    let mut all = IndexMap::new();
    for field in &prompt.fields {
        let Some(quantity) = &field.quantity else { continue };
        let mut names: Vec<String> = field.unit.iter().cloned().collect();
        names.extend(field.instruments.iter().filter_map(|id| plan.shop.unit_of(id)));
        names.extend(plan.units.shown_units(quantity, &plan.shop.style).iter().map(ToString::to_string));
        let mut units: Vec<(String, String)> = Vec::new();
        for name in names {
            let sign = setting.symbol(&name);
            if !units.iter().any(|(_, known)| *known == sign) {
                units.push((name, sign));
            }
        }
        all.insert(field.name.clone(), units);
    }
    all
}
