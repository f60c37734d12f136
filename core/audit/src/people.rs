//! Who signed, who looked on, who let a step be skipped or a gate be passed over.

use indexmap::IndexMap;

use super::point::Point;
use super::seen::{Look, Seen};
use standpipe_job::{Address, Event, Witness};
use standpipe_procedure::{FieldKind, Otherwise, Step};
use standpipe_quantity::value::Value;

pub struct People {
    signatures: Point,
    witnesses: Point,
    exceptions: Point,
}

impl People {
    pub fn new(file: &str) -> Self {
        Self {
            signatures: Point::new("signatures", file),
            witnesses: Point::new("witnesses", file),
            exceptions: Point::new("exceptions", file),
        }
    }

    fn signatures(&mut self, seen: &Seen<'_>, step: &Step, values: &IndexMap<String, Value>) {
        for field in step.kind.fields() {
            let Some(Value::Text(person)) = values.get(field.name.as_str()) else { continue };
            let role = match &field.kind {
                FieldKind::Signature(role) => Some(role),
                FieldKind::Person => None,
                _ => continue,
            };
            self.signatures.looked_at += 1;
            let line = seen.line();
            let by = &seen.record.by;
            match (seen.known(person), role) {
                (Some(false), _) => {
                    self.signatures.fails(line, format!("the shop file names nobody called `{person}`"))
                }
                (None, Some(role)) => {
                    let message = format!("nobody says who is {role}: the job was run without a shop");
                    self.signatures.unshown(line, message);
                }
                (Some(true), Some(role)) if !seen.plan.shop.has_role(person, role) => {
                    self.signatures.fails(line, format!("{person} signed as {role} and has no such role"));
                }
                _ => {}
            }
            if role.is_some() && person != by {
                self.signatures.fails(line, format!("{by} signed for {person}"));
            }
            let Some(other) = &field.other_than else { continue };
            let same = match other.as_str() {
                "doer" => seen.before.doers.contains(person),
                name => {
                    let earlier = seen.before.latest(name).map(|reading| &reading.value);
                    values.get(name).or(earlier) == Some(&Value::Text(person.clone()))
                }
            };
            if same {
                let who = if other.as_str() == "doer" { "did the work too" } else { other.as_str() };
                self.signatures.fails(line, format!("{person} has to be somebody other than who {who}"));
            }
        }
    }

    fn witness(&mut self, seen: &Seen<'_>, step: &Step, witness: Option<&Witness>) {
        if step.witness.is_none() {
            return;
        }
        self.witnesses.looked_at += 1;
        let line = seen.line();
        match witness {
            None => self.witnesses.fails(line, format!("nobody witnessed `{}`", step.id.value)),
            Some(Witness::Alone) => {
                self.witnesses.unshown(line, format!("nobody witnessed `{}`: a one-person shop", step.id.value));
            }
            Some(Witness::By(person)) if *person == seen.record.by => {
                self.witnesses.fails(line, format!("{person} witnessed their own work"));
            }
            Some(Witness::By(person)) if seen.known(person) == Some(false) => {
                self.witnesses.fails(line, format!("the shop file names nobody called `{person}`"));
            }
            Some(Witness::By(_)) => {}
        }
    }

    fn skipped(&mut self, seen: &Seen<'_>, address: &Address, because: &str) {
        self.exceptions.looked_at += 1;
        let line = seen.line();
        self.reason(seen, "skipped", address, because);
        let Some(step) = seen.step_at(address) else { return };
        if step.keep || step.gate.is_some() {
            let why = if step.keep { "it is marked `keep`" } else { "it has a gate" };
            self.exceptions.fails(line, format!("`{address}` was skipped and may not be: {why}"));
        }
    }

    fn accepted(&mut self, seen: &Seen<'_>, address: &Address, because: &str) {
        self.exceptions.looked_at += 1;
        let line = seen.line();
        let by = &seen.record.by;
        self.reason(seen, "accepted", address, because);
        let Some(step) = seen.step_at(address) else { return };
        if step.keep {
            self.exceptions.fails(line, format!("`{address}` was accepted and is marked `keep`"));
        }
        let roles = roles(seen, step);
        if seen.known(by).is_none() {
            self.exceptions.unshown(line, format!("nobody says what {by} may accept: the job was run without a shop"));
        } else if !roles.iter().any(|role| seen.plan.shop.has_role(by, role)) {
            let allowed = if roles.is_empty() { "nobody".to_owned() } else { roles.join(" or ") };
            self.exceptions.fails(line, format!("{by} accepted `{address}`, which {allowed} may"));
        }
    }

    fn reason(&mut self, seen: &Seen<'_>, what: &str, address: &Address, because: &str) {
        if because.trim().is_empty() {
            self.exceptions.fails(seen.line(), format!("`{address}` was {what} without a reason"));
        }
        if seen.known(&seen.record.by) == Some(false) {
            let message = format!("`{address}` was {what} by `{}`, whom the shop does not know", seen.record.by);
            self.exceptions.fails(seen.line(), message);
        }
    }
}

/// Everyone who could have been allowed; whether they were at that moment is decided again elsewhere.
fn roles(seen: &Seen<'_>, step: &Step) -> Vec<String> {
    let mut roles: Vec<String> = seen.plan.main().may_accept.iter().map(|role| role.value.clone()).collect();
    if let Some(Otherwise::Ask(asked)) = step.gate.as_ref().map(|gate| &gate.otherwise) {
        roles.extend(asked.iter().cloned());
    }
    if let standpipe_procedure::Next::Rounds { otherwise: Otherwise::Ask(asked), .. } =
        step.kind.next(&Default::default())
    {
        roles.extend(asked.iter().cloned());
    }
    roles
}

impl Look for People {
    fn see(&mut self, seen: &Seen<'_>) {
        match &seen.record.event {
            Event::Entered { values, witness, .. } => {
                let Some(step) = seen.step() else { return };
                self.signatures(seen, step, values);
                self.witness(seen, step, witness.as_ref());
            }
            Event::Skipped { address, because } => self.skipped(seen, address, because),
            Event::Accepted { address, because } => self.accepted(seen, address, because),
            _ => {}
        }
    }

    fn points(self: Box<Self>) -> Vec<Point> {
        vec![self.signatures, self.witnesses, self.exceptions]
    }
}
