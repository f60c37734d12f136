//! What of a job's words goes into the archive: people by a keyed hash, and nobody's own words unless they are asked for.
//!
//! Which fields hold people, procedures and forms say. Somebody's id or name in another place is hidden as well, and what was
//! computed of words goes with them.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use standpipe_apart::Opening;
use standpipe_job::journal::Contents;
use standpipe_job::plan::Plan;
use standpipe_job::{Event, Record, Witness};
use standpipe_procedure::{FieldKind, Procedure};
use standpipe_quantity::Kind;
use standpipe_quantity::value::Value;

use crate::key::Key;

#[derive(Debug, PartialEq)]
pub enum Said {
    Kept(String),
    /// A keyed hash.
    Person(String),
    LeftOut,
}

/// What a field of text holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Holds {
    /// One of some words that the plugin gives.
    Choice,
    Words,
    Person,
}

pub struct Hide<'a> {
    key: &'a Key,
    shop: String,
    /// Fields of steps by their name, facts of the job as `job.path`.
    fields: HashMap<String, Holds>,
    /// Ids and names of everybody who is known.
    people: HashSet<String>,
    /// What was written in words of one's own.
    words: HashSet<String>,
    /// Texts that are not there: what stands for them is no name, and the same in every job.
    apart: Arc<Opening>,
    /// These were asked for.
    pub with_words: bool,
}

/// A word so short stands in any text by chance.
const SHORT: usize = 3;

impl<'a> Hide<'a> {
    pub fn new(plan: &Plan, contents: &Contents, key: &'a Key, with_words: bool) -> Self {
        let records = &contents.records;
        let mut hide = Self {
            key,
            shop: plan.shop.id.clone(),
            fields: fields(plan),
            people: plan.shop.people.iter().flat_map(|(id, person)| [id.clone(), person.name.clone()]).collect(),
            words: HashSet::new(),
            apart: contents.apart.clone(),
            with_words,
        };
        hide.hear_facts("job", &plan.job.facts);
        records.iter().for_each(|record| hide.hear(record));
        hide.people.remove("");
        hide.words.remove("");
        hide
    }

    fn hear(&mut self, record: &Record) {
        self.people.insert(record.by.clone());
        match &record.event {
            Event::Entered { values, witness, .. } => {
                if let Some(Witness::By(person)) = witness {
                    self.people.insert(person.clone());
                }
                values.iter().for_each(|(name, value)| self.hear_facts(name, value));
            }
            Event::Corrected { values, .. } => values.iter().for_each(|(name, value)| self.hear_facts(name, value)),
            Event::Supplied { path, value, .. } => self.hear_facts(path, value),
            _ => {}
        }
    }

    fn hear_facts(&mut self, name: &str, value: &Value) {
        match value {
            Value::Text(text) => match self.holds(name) {
                Some(Holds::Person) => {
                    self.people.insert(text.clone());
                }
                Some(Holds::Words) => {
                    self.words.insert(text.clone());
                }
                _ => {}
            },
            Value::List(list) => list.iter().for_each(|value| self.hear_facts(name, value)),
            Value::Record(record) => {
                record.iter().for_each(|(key, value)| self.hear_facts(&format!("{name}.{key}"), value));
            }
            _ => {}
        }
    }

    /// By the name of a field, or of a part of a list or record in one.
    fn holds(&self, name: &str) -> Option<Holds> {
        let mut name = name;
        loop {
            if let Some(holds) = self.fields.get(name) {
                return Some(*holds);
            }
            name = name.rsplit_once('.')?.0;
        }
    }

    pub fn person(&self, id: &str) -> String {
        self.key.name(&self.shop, "person", id)
    }

    /// What the work is done on: a number plate says who somebody is.
    pub fn subject(&self, subject: &str) -> Option<String> {
        let is_there = !subject.is_empty() && !self.apart.lacks(subject);
        is_there.then(|| self.key.name(&self.shop, "subject", subject))
    }

    /// A text that has a name: that of a reading, of a fact by its path, of a result.
    pub fn text(&self, name: &str, text: &str) -> Said {
        if self.apart.lacks(text) {
            return Said::LeftOut;
        }
        let holds = self.holds(name);
        if holds == Some(Holds::Person) || self.people.contains(text) {
            return Said::Person(self.person(text));
        }
        let kept = match holds {
            _ if self.with_words || name.starts_with("spec.") => true,
            Some(Holds::Choice) => true,
            Some(_) => false,
            None if name.starts_with("job.") || name.starts_with("shop.") => false,
            None => !self.repeats(text),
        };
        if kept { Said::Kept(text.to_owned()) } else { Said::LeftOut }
    }

    /// The name of an item, which may be made of anything.
    pub fn item(&self, item: &str) -> String {
        match self.text("", item) {
            Said::Kept(item) => item,
            Said::Person(hash) => hash,
            Said::LeftOut => self.key.name(&self.shop, "item", item),
        }
    }

    /// Whether somebody's name or words stand in what was made of them.
    fn repeats(&self, text: &str) -> bool {
        let within = |part: &String| text == part || part.len() > SHORT && text.contains(part.as_str());
        self.words.iter().chain(&self.people).any(within)
    }
}

/// Where a name stands for several fields, the one that hides most.
fn fields(plan: &Plan) -> HashMap<String, Holds> {
    let mut all: HashMap<String, Holds> = HashMap::new();
    let mut add = |name: &str, holds: Holds| {
        let known = all.entry(name.to_owned()).or_insert(holds);
        *known = holds.max(*known);
    };
    for step in plan.procedures.values().flat_map(Procedure::all_steps) {
        for field in step.kind.fields() {
            let holds = match &field.kind {
                FieldKind::Person | FieldKind::Signature(_) => Holds::Person,
                FieldKind::Text => Holds::Words,
                FieldKind::Choice(_) | FieldKind::Sign(_) | FieldKind::Date => Holds::Choice,
                FieldKind::Done | FieldKind::Quantity(_) | FieldKind::Count | FieldKind::Held => continue,
            };
            add(&field.name, holds);
        }
    }
    for (path, field) in &plan.form.job {
        add(&format!("job.{path}"), of_kind(&field.kind));
    }
    all
}

fn of_kind(kind: &Kind) -> Holds {
    match kind {
        Kind::Person => Holds::Person,
        Kind::List(inner) => of_kind(inner),
        Kind::OneOf(_) | Kind::Date | Kind::Table => Holds::Choice,
        // A record's own fields may be anything.
        _ => Holds::Words,
    }
}
