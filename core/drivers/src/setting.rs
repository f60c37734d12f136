//! What a screen or a page needs to know of the plan. All that is asked of it stands here.

use standpipe_diagnostic::Code;
use standpipe_job::names::JobNames;
use standpipe_job::state::Reading;
use standpipe_job::{Address, AnswerKind, Machine, Phase, PromptField, Refusal, State};
use standpipe_procedure::{FieldKind, Step};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;

/// What stands above everything that is asked of a job.
#[derive(Clone, Debug, Default)]
pub struct Header {
    pub job: String,
    pub subject: String,
    pub invented: bool,
    /// A model began it: nothing that is entered makes it a real job.
    pub simulated: bool,
    /// The procedure that was called, or runs for a pause; it stands where the number of the step would.
    pub beside: Option<String>,
}

/// One option: what it is called, and what it means.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    pub name: String,
    pub meaning: Option<String>,
}

/// A value that was entered and can be corrected.
#[derive(Clone, Debug)]
pub struct Entered {
    /// Number of the entry.
    pub seq: u64,
    pub name: String,
    pub shown: String,
    /// What a new value has to be.
    pub expected: String,
    /// Options with their explanations, if it is one of a few.
    pub field: PromptField,
    /// Unit of a bare number: that of the instrument it was read with.
    pub unit: Option<String>,
    pub address: Address,
    /// Title of its step, and the round.
    pub title: String,
    pub at: standpipe_job::Moment,
}

/// A unit as people write it.
pub fn symbol(units: &Units, unit: &str) -> String {
    match units.read(&format!("1 {unit}"), None, None) {
        Ok(Value::Quantity(one)) => one.written.map_or_else(|| unit.to_owned(), |written| written.unit.to_string()),
        _ => unit.to_owned(),
    }
}

pub struct Setting<'a> {
    pub machine: &'a Machine,
}

impl Setting<'_> {
    pub fn header(&self, state: &State) -> Header {
        let plan = &self.machine.plan;
        Header {
            job: plan.job.id.clone(),
            subject: plan.subject(&state.supplied),
            invented: plan.invented,
            simulated: plan.simulated().is_some(),
            beside: self.beside(state),
        }
    }

    /// Title of the procedure that runs beside the job itself.
    fn beside(&self, state: &State) -> Option<String> {
        let main = self.machine.plan.main();
        let id = match state.phase {
            Phase::Pausing => main.on_pause.as_ref().map(|id| id.as_str()),
            Phase::Resuming => main.on_resume.as_ref().map(|id| id.as_str()),
            _ => state.calls.last().map(|call| call.procedure.as_str()),
        };
        self.machine.plan.procedure(id?).map(|procedure| procedure.title.clone())
    }

    /// Whether resuming begins with a procedure of its own.
    pub fn looks_first(&self) -> bool {
        self.machine.plan.main().on_resume.is_some()
    }

    /// The person of this id or of this name.
    pub fn person(&self, named: &str) -> Option<String> {
        let people = &self.machine.plan.shop.people;
        let same = |name: &str| name.eq_ignore_ascii_case(named.trim());
        people.iter().find(|(id, known)| same(id) || same(&known.name)).map(|(id, _)| id.clone())
    }

    /// The question that a form asks for a fact, its name in words where it asks none; and what is expected.
    pub fn question_of(&self, fact: &str) -> (String, String) {
        let form = &self.machine.plan.form;
        let field = match fact.split_once('.') {
            Some(("spec", rest)) => form.field(rest),
            Some(("job", rest)) => form.job_field(rest),
            _ => None,
        };
        let words = || format!("{}?", fact.trim_start_matches("spec.").replace(['.', '_'], " "));
        let question = field.and_then(|field| field.ask.clone()).unwrap_or_else(words);
        (question, field.map_or_else(|| "a value".to_owned(), |field| field.expected()))
    }

    /// Ids and names.
    pub fn people(&self) -> Vec<(String, String)> {
        self.machine.plan.shop.people.iter().map(|(id, person)| (id.clone(), person.name.clone())).collect()
    }

    pub fn people_in(&self, roles: &[String]) -> Vec<(String, String)> {
        let shop = &self.machine.plan.shop;
        self.people().into_iter().filter(|(id, _)| roles.iter().any(|role| shop.has_role(id, role))).collect()
    }

    pub fn name_of(&self, person: &str) -> String {
        self.machine.plan.shop.people.get(person).map_or_else(|| person.to_owned(), |known| known.name.clone())
    }

    /// Procedures that can be called at any step: id and title.
    pub fn reachable(&self) -> Vec<(String, String)> {
        let plan = &self.machine.plan;
        let titled = |id: &str| plan.procedure(id).map_or_else(|| id.to_owned(), |found| found.title.clone());
        plan.main().reachable.iter().map(|id| (id.value.clone(), titled(id.as_str()))).collect()
    }

    pub fn unit_of(&self, instrument: &str) -> Option<String> {
        self.machine.plan.shop.unit_of(instrument)
    }

    /// An instrument by its title, else its id in words; and what it reaches.
    pub fn instrument(&self, id: &str) -> Choice {
        let plan = &self.machine.plan;
        let known = plan.shop.instruments.get(id);
        let title = known.and_then(|known| known.title.clone());
        let range = known.and_then(|known| known.range.clone());
        Choice {
            name: title.unwrap_or_else(|| id.replace('-', " ")),
            meaning: range.map(|(low, high)| plan.show(&Value::Range(low, high))),
        }
    }

    /// A unit as it is shown: `°C` for `degC`.
    pub fn symbol(&self, unit: &str) -> String {
        symbol(&self.machine.plan.units, unit)
    }

    /// Whether what was typed for a name can be read at all, so that it is refused at once and in place.
    pub fn check(&self, step: &str, name: &str, typed: &str, unit: Option<&str>) -> Result<(), Refusal> {
        let plan = &self.machine.plan;
        let field =
            plan.step(step).and_then(|step| step.kind.fields().iter().find(|field| field.name.as_str() == name));
        let Some(field) = field else { return Ok(()) };
        field.read(typed, &plan.units, unit).map(|_| ()).map_err(|misread| {
            // Either what was typed, in quotes, or a message about it.
            let bare = misread.found.starts_with('`') && misread.found.ends_with('`');
            let message = if bare { format!("found {}", misread.found) } else { misread.found };
            let mut refusal = Refusal::new(Code::UnfitAnswer, message).expected(misread.expected);
            refusal.help = misread.help;
            refusal
        })
    }

    /// Title of the step of an address, with its item and its round.
    pub fn title_at(&self, state: &State, address: &Address) -> String {
        let step = self.machine.plan.step(&address.step);
        step.map_or_else(|| address.step.clone(), |step| self.title(step, state, address))
    }

    fn title(&self, step: &Step, state: &State, address: &Address) -> String {
        let names = JobNames::new(&self.machine.plan, state, state.at.unwrap_or_default(), address.round());
        let title = self.machine.title(step, &names);
        let item = if address.item.is_empty() { String::new() } else { format!(", {}", address.item) };
        match self.machine.plan.most_rounds(&step.id) {
            Some(_) => format!("{title}{item}, round {}", address.round()),
            None => format!("{title}{item}"),
        }
    }

    /// The last few different texts that were entered under the name of a field, the newest first.
    pub fn said_before(&self, state: &State, field: &PromptField) -> Vec<String> {
        const MOST: usize = 4;
        let mut found: Vec<String> = Vec::new();
        let named = |reading: &&Reading| reading.name == field.name;
        for reading in state.readings.iter().rev().filter(named).filter(|_| field.kind == AnswerKind::Text) {
            if let Value::Text(text) = &reading.value
                && !found.contains(text)
            {
                found.push(text.clone());
            }
            if found.len() == MOST {
                break;
            }
        }
        found
    }

    /// The entries that count, the newest first; computed values are left out, they follow.
    pub fn entries(&self, state: &State) -> Vec<Entered> {
        let plan = &self.machine.plan;
        let mut found: Vec<Entered> = Vec::new();
        let counts = |reading: &&Reading| !reading.computed && !reading.rejected && !reading.ended;
        for reading in state.readings.iter().rev().filter(counts) {
            // A value that was read again and again until it did is one entry, the last.
            if found.iter().any(|entered| entered.name == reading.name && entered.address == reading.address) {
                continue;
            }
            let Some(step) = plan.step(&reading.address.step) else { continue };
            let Some(field) = step.kind.fields().iter().find(|field| field.name.as_str() == reading.name) else {
                continue;
            };
            found.push(Entered {
                seq: reading.seq,
                name: reading.name.clone(),
                shown: match (&field.kind, &reading.value) {
                    (FieldKind::Person | FieldKind::Signature(_), Value::Text(id)) => self.name_of(id),
                    _ => plan.show(&reading.value),
                },
                expected: field.expected(),
                field: self.machine.field(field),
                title: self.title(step, state, &reading.address),
                unit: reading.with.as_ref().and_then(|id| plan.shop.unit_of(id)),
                address: reading.address.clone(),
                at: reading.at,
            });
        }
        found
    }
}
