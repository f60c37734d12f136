//! What a job waits for, ready to be shown: every placeholder filled, every number in the shop's units.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use super::address::Address;
use super::decide::Machine;
use super::ending::ended_by;
use super::event::Verdict;
use super::judge::{condition, percent};
use super::limits::limits;
use super::names::JobNames;
use super::state::{Blocker, Phase, State};
use super::walk::{NextWork, walk};
use standpipe_procedure::{Ask, Field, FieldKind, Gate, Otherwise, Step};
use standpipe_quantity::value::Value;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "waits", rename_all = "kebab-case")]
pub enum Pending {
    /// For an entry.
    Entry(Box<Prompt>),
    /// For someone allowed to accept a verdict, with a reason; or for a correction.
    Acceptance {
        address: Address,
        title: String,
        verdict: Verdict,
        because: String,
        /// What the step shows, and what was entered.
        shown: Vec<String>,
        roles: Vec<String>,
    },
    /// For a correction, a call or an end: nobody may go on over this.
    Stopped {
        address: Address,
        title: String,
        because: String,
        shown: Vec<String>,
    },
    /// For facts that nobody has entered; `skippable` steps may be left out with a reason instead.
    Facts {
        address: Address,
        title: String,
        missing: Vec<String>,
    },
    /// The plan itself has a fault at this step.
    Fault {
        address: Address,
        message: String,
        place: String,
    },
    Opening,
    Resumption {
        tag: Vec<String>,
    },
    Nothing {
        abandoned: bool,
    },
}

impl Pending {
    /// Whether nothing that is entered as an answer could let the job go on.
    pub fn is_held(&self) -> bool {
        matches!(self, Self::Acceptance { .. } | Self::Stopped { .. } | Self::Facts { .. } | Self::Fault { .. })
    }

    /// Id of the step at which the job stands.
    pub fn step(&self) -> Option<&str> {
        match self {
            Self::Entry(prompt) => Some(&prompt.address.step),
            Self::Acceptance { address, .. }
            | Self::Stopped { address, .. }
            | Self::Facts { address, .. }
            | Self::Fault { address, .. } => Some(&address.step),
            Self::Opening | Self::Resumption { .. } | Self::Nothing { .. } => None,
        }
    }
}

/// One thing to ask, at most a dozen lines on a screen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Prompt {
    pub address: Address,
    /// Address with item, as answers name it.
    pub asks: String,
    pub title: String,
    /// What to do, if that is more than the title.
    pub text: Option<String>,
    /// The word of its kind of step.
    pub kind: String,
    /// Name of the item of an `each`.
    pub item: Option<String>,
    pub label: Option<String>,
    /// Number of the item and of all items.
    pub count: Option<(usize, usize)>,
    pub fields: Vec<PromptField>,
    pub cautions: Vec<String>,
    pub why: Option<String>,
    pub show: Vec<String>,
    /// Round and most rounds of the enclosing repeat.
    pub round: Option<(u32, u32)>,
    /// Number of the step among all, and how many there are.
    pub position: (usize, usize),
    /// Seconds to hold.
    pub hold: Option<f64>,
    pub within: Option<String>,
    /// Between which limits the gate of the step lets an entry pass, a line for each.
    #[serde(default)]
    pub limits: Vec<String>,
    /// A photo that is wanted or may be added, or nothing.
    pub evidence: Option<Photo>,
    pub witness: Option<String>,
    pub at_stake: Option<String>,
    /// How often this was tried without success.
    pub attempts: u32,
    /// What was entered when it was tried last.
    pub last: Option<String>,
    /// What ended its last answer, in words: something that happened, or a step that undid it.
    pub again: Option<String>,
    /// It was called for when it was come to, and is not as things stand now, such as after a correction. It may be left out.
    #[serde(default)]
    pub spared: bool,
    /// Gates that let the job go on and do not hold any more, a line each: it can't end so.
    #[serde(default)]
    pub turned: Vec<String>,
}

impl Prompt {
    /// An item of a pass that takes nothing but that it is done: one answer may stand for all that are left of it.
    pub fn may_take_the_rest(&self) -> bool {
        self.item.is_some() && self.fields.iter().all(|field| field.kind == AnswerKind::Done)
    }
}

/// Whether a photo belongs to an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Photo {
    #[serde(rename = "photo")]
    Required,
    #[serde(rename = "photo optional")]
    Optional,
}

/// What kind of answer a field wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AnswerKind {
    /// Confirmed, nothing to enter.
    Done,
    Quantity,
    Text,
    Count,
    Date,
    Person,
    Signature,
    Choice,
    /// A sign by which a variant is recognised.
    Sign,
    /// How long something was held.
    Held,
}

impl AnswerKind {
    fn of(kind: &FieldKind) -> Self {
        match kind {
            FieldKind::Done => Self::Done,
            FieldKind::Quantity(_) => Self::Quantity,
            FieldKind::Text => Self::Text,
            FieldKind::Count => Self::Count,
            FieldKind::Date => Self::Date,
            FieldKind::Person => Self::Person,
            FieldKind::Signature(_) => Self::Signature,
            FieldKind::Choice(_) => Self::Choice,
            FieldKind::Sign(_) => Self::Sign,
            FieldKind::Held => Self::Held,
        }
    }

    /// Options are people, shown by name.
    pub fn is_of_people(self) -> bool {
        matches!(self, Self::Person | Self::Signature)
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PromptField {
    pub name: String,
    pub ask: String,
    pub kind: AnswerKind,
    pub quantity: Option<String>,
    pub unit: Option<String>,
    /// Options with their explanations.
    pub options: Vec<(String, Option<String>)>,
    /// Kind of instrument, and the instruments of that kind.
    pub with: Option<String>,
    pub instruments: Vec<String>,
    /// Kind of instrument that it is an end of the scale of, and what to type for each that the shop knows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_of: Option<String>,
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub ends: IndexMap<String, String>,
    pub optional: bool,
    pub expected: String,
}

impl Machine {
    /// What the job waits for. Runs no script.
    pub fn pending(&self, state: &State) -> Pending {
        match state.phase {
            Phase::New => return Pending::Opening,
            Phase::Paused => return Pending::Resumption { tag: state.tag.clone() },
            Phase::Abandoned => return Pending::Nothing { abandoned: true },
            Phase::Finished => return Pending::Nothing { abandoned: false },
            Phase::Running | Phase::Pausing | Phase::Resuming => {}
        }
        let names = self.names(state, 1);
        if let Some(blocker) = &state.blocker {
            return self.blocked(blocker, &names);
        }
        match walk(&self.plan, state) {
            NextWork::Ask { step, address, ask } => Pending::Entry(Box::new(self.prompt(state, step, address, &ask))),
            NextWork::Held { step, address, gate, verdict } => self.held(state, step, address, gate, verdict),
            NextWork::Exhausted { step, address, otherwise, rounds } => {
                let title = self.title(step, &names);
                let because = format!("{rounds} rounds are used up");
                match otherwise {
                    Otherwise::Ask(roles) => Pending::Acceptance {
                        address,
                        title,
                        verdict: Verdict::NotMet,
                        because,
                        shown: Vec::new(),
                        roles: roles.clone(),
                    },
                    _ => Pending::Stopped { address, title, because, shown: Vec::new() },
                }
            }
            NextWork::Unaccepted { address, verdict } => {
                let title = self.plan.step(&address.step).map_or_else(String::new, |step| self.title(step, &names));
                let because = format!("{} after a correction", verdict.words());
                let shown = self.plan.step(&address.step).map(|step| self.shown(state, step, &address));
                let shown = shown.unwrap_or_default();
                if self.plan.step(&address.step).is_some_and(|step| step.keep) {
                    return Pending::Stopped { address, title, because, shown };
                }
                let roles = self.plan.main().may_accept.iter().map(|role| role.value.clone()).collect();
                Pending::Acceptance { address, title, verdict, because, shown, roles }
            }
            _ => Pending::Opening,
        }
    }

    /// The step that is asked, without the words around it; none where the job waits for something else.
    pub fn asks(&self, state: &State) -> Option<(&Step, Address, Ask<'_>)> {
        let under_way = matches!(state.phase, Phase::Running | Phase::Pausing | Phase::Resuming);
        if !under_way || state.blocker.is_some() {
            return None;
        }
        match walk(&self.plan, state) {
            NextWork::Ask { step, address, ask } => Some((step, address, ask)),
            _ => None,
        }
    }

    fn names<'a>(&'a self, state: &'a State, round: u32) -> JobNames<'a> {
        JobNames::new(&self.plan, state, state.at.unwrap_or_default(), round)
    }

    /// What texts see as a job stands.
    pub fn names_now<'a>(&'a self, state: &'a State) -> JobNames<'a> {
        self.names(state, 1)
    }

    pub fn title(&self, step: &Step, names: &JobNames<'_>) -> String {
        step.title.fill(|path| names.show(path))
    }

    fn blocked(&self, blocker: &Blocker, names: &JobNames<'_>) -> Pending {
        let title = |address: &Address| {
            self.plan.step(&address.step).map_or_else(|| address.step.clone(), |step| self.title(step, names))
        };
        match blocker {
            Blocker::Missing { address, missing } => {
                Pending::Facts { address: address.clone(), title: title(address), missing: missing.clone() }
            }
            Blocker::Fault { address, fault, place } => {
                Pending::Fault { address: address.clone(), message: fault.to_string(), place: place.clone() }
            }
            Blocker::Contradiction { address, what } => {
                let because = what.words(&self.plan);
                Pending::Stopped { address: address.clone(), title: title(address), because, shown: Vec::new() }
            }
        }
    }

    fn held(&self, state: &State, step: &Step, address: Address, gate: &Gate, verdict: Verdict) -> Pending {
        let names = self.names(state, address.round());
        let title = self.title(step, &names);
        let because = match &gate.at_stake {
            Some(text) => format!("{}: {}", verdict.words(), text.fill(|path| names.show(path))),
            None => format!("{}: {}", verdict.words(), gate.words()),
        };
        let shown = self.shown(state, step, &address);
        match &gate.otherwise {
            Otherwise::Ask(roles) if !step.keep => {
                Pending::Acceptance { address, title, verdict, because, shown, roles: roles.clone() }
            }
            _ => Pending::Stopped { address, title, because, shown },
        }
    }

    /// What somebody has to see who decides on a step: what it shows, and what was entered.
    fn shown(&self, state: &State, step: &Step, address: &Address) -> Vec<String> {
        let names = self.names(state, address.round());
        let mut shown: Vec<String> = step.show.iter().map(|text| text.fill(|path| names.show(path))).collect();
        shown.extend(self.entered(state, step, address).map(|entered| format!("Entered: {entered}.")));
        shown
    }

    /// What was entered last at a step.
    fn entered(&self, state: &State, step: &Step, address: &Address) -> Option<String> {
        let fields = step.kind.fields();
        let entered: Vec<String> = fields
            .iter()
            .filter(|field| !matches!(field.kind, FieldKind::Done))
            .filter_map(|field| {
                let reading = state.readings.iter().rev().find(|reading| {
                    reading.name == field.name.as_str() && reading.address.whole() == address.whole()
                })?;
                let value = match (&field.kind, &reading.value) {
                    (FieldKind::Person | FieldKind::Signature(_), Value::Text(id)) => {
                        self.plan.shop.people.get(id).map_or_else(|| id.clone(), |person| person.name.clone())
                    }
                    (_, value) => self.plan.show(value),
                };
                Some(format!("{} {value}", field.name.value.replace('_', " ")))
            })
            .collect();
        (!entered.is_empty()).then(|| entered.join(", "))
    }

    /// What was tried last, and how sure it was where that was not enough.
    fn tried(&self, state: &State, step: &Step, address: &Address) -> Option<String> {
        let entered = self.entered(state, step, address)?;
        let last = state.verdicts.iter().rev().find(|passed| passed.address == *address);
        let unsure = last.filter(|passed| passed.verdict == Verdict::NotShown).and_then(|passed| passed.likely);
        Some(match unsure {
            Some(share) => format!("{entered}, sure to {} only,", percent(share)),
            None => entered,
        })
    }

    /// What ended an answer at this address, in words.
    fn ended(&self, state: &State, by: &str, address: &Address) -> String {
        let Some(step) = self.plan.step(by) else { return ended_by(by) };
        let names = self.names(state, address.round());
        let title = self.title(step, &names);
        match self.tried(state, step, &Address::step(by, &address.rounds)) {
            Some(last) if step.gate.is_some() => format!("\"{title}\": {last} did not count"),
            _ => format!("\"{title}\""),
        }
    }

    fn prompt(&self, state: &State, step: &Step, address: Address, ask: &Ask<'_>) -> Prompt {
        let plan = &self.plan;
        let names = self.names(state, address.round());
        let fill = |text: &standpipe_procedure::Template| text.fill(|path| names.show(path));
        let known = state.step(&address);
        Prompt {
            asks: address.with_item(&ask.item).to_string(),
            title: fill(&step.title),
            text: ask.text.map(&fill),
            kind: step.kind.word().to_owned(),
            item: (!ask.item.is_empty()).then(|| ask.item.clone()),
            label: (!ask.label.is_empty()).then(|| ask.label.clone()),
            count: ask.count,
            fields: ask.fields.iter().map(|field| self.field_of(state, field, ask)).collect(),
            cautions: step.caution.iter().filter_map(|id| plan.caution(id)).collect(),
            why: step.why.as_ref().map(&fill),
            show: step.show.iter().map(&fill).collect(),
            round: plan.most_rounds(&step.id).map(|most| (address.round(), most)),
            position: plan.position(&step.id),
            hold: ask.hold.as_ref().map(|time| time.si),
            within: ask.within.as_ref().map(|(low, high)| plan.show(&Value::Range(low.clone(), high.clone()))),
            limits: step.gate.as_ref().map(|gate| limits(plan, gate, ask, &names)).unwrap_or_default(),
            evidence: step.evidence.map(|kind| if kind.required() { Photo::Required } else { Photo::Optional }),
            witness: step.witness.as_ref().map(&fill),
            at_stake: step.gate.as_ref().and_then(|gate| gate.at_stake.as_ref()).map(&fill),
            attempts: known.map_or(0, |known| known.tries),
            last: known.filter(|known| known.tries > 0).and_then(|_| self.tried(state, step, &address)),
            again: known.and_then(|known| known.again.as_deref()).map(|by| self.ended(state, by, &address)),
            spared: step.has_to_stand().is_none()
                && step.when.as_ref().is_some_and(|when| condition(plan, when, &names).verdict == Verdict::NotMet),
            turned: self.turned(state),
            address,
        }
    }

    /// A field as it is asked now: nobody is offered who would be refused.
    fn field_of(&self, state: &State, field: &Field, ask: &Ask<'_>) -> PromptField {
        let mut shown = self.field(field);
        if let Some(other) = &field.other_than {
            let barred = |id: &str| match other.as_str() {
                "doer" => state.doers.contains(id),
                // It is answered together with this one.
                name if ask.fields.iter().any(|field| field.name.as_str() == name) => false,
                name => state.latest(name).is_some_and(|reading| reading.value == Value::Text(id.to_owned())),
            };
            shown.options.retain(|(id, _)| !barred(id));
        }
        shown
    }

    pub fn field(&self, field: &Field) -> PromptField {
        let shop = &self.plan.shop;
        let mut options = match &field.kind {
            FieldKind::Choice(options) => options.clone(),
            FieldKind::Person => {
                shop.people.iter().map(|(id, person)| (id.clone(), Some(person.name.clone()))).collect()
            }
            FieldKind::Signature(role) => shop
                .people
                .iter()
                .filter(|(id, _)| shop.has_role(id, role))
                .map(|(id, person)| (id.clone(), Some(person.name.clone())))
                .collect(),
            _ => Vec::new(),
        };
        let mut ask = field.ask.clone().unwrap_or_else(|| field.name.value.replace('_', " "));
        if let FieldKind::Sign(sign) = &field.kind {
            if let Some(question) = self.plan.sign_question(sign)
                && field.ask.is_none()
            {
                ask = question;
            }
            options = self.plan.sign_options(sign).into_iter().map(|option| (option, None)).collect();
        }
        let instruments: Vec<String> = field
            .instrument
            .as_ref()
            .map(|kind| shop.instruments_of(kind).into_iter().map(str::to_owned).collect())
            .unwrap_or_default();
        let unit = field.unit.as_ref().map(|unit| unit.value.clone());
        PromptField {
            name: field.name.value.clone(),
            ask,
            kind: AnswerKind::of(&field.kind),
            quantity: match &field.kind {
                FieldKind::Quantity(quantity) => Some(quantity.clone()),
                _ => None,
            },
            unit: unit.or_else(|| match instruments.as_slice() {
                [only] => shop.unit_of(only),
                _ => None,
            }),
            options,
            with: field.instrument.as_ref().map(|kind| kind.value.clone()),
            instruments,
            end_of: field.end.as_ref().map(|end| end.of.value.clone()),
            ends: self.plan.ends(field),
            optional: field.optional,
            expected: field.expected(),
        }
    }
}
