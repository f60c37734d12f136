//! Taking an entry: does it fit what is asked, and what follows from it?

use indexmap::{IndexMap, IndexSet};

use super::{Change, Changed, Decision};
use crate::address::Address;
use crate::event::{Event, Origin, Verdict, Witness};
use crate::input::{Entry, Refusal, Unfit};
use crate::plan::Plan;
use crate::said::{Contradiction, Remark, RoundEnd};
use crate::state::Blocker;
use crate::walk::{NextWork, walk};
use standpipe_diagnostic::{Code, nearest};
use standpipe_form::Recognised;
use standpipe_procedure::{Ask, Field, FieldKind, Next, Progress, ScaleEnd, Step, Weighed};
use standpipe_quantity::value::Value;

/// What was read from an entry for one ask.
#[derive(Default)]
struct Taken {
    values: IndexMap<String, Value>,
    typed: IndexMap<String, String>,
    with: IndexMap<String, String>,
    fresh_for: IndexMap<String, f64>,
    remarks: Vec<Remark>,
}

impl Decision<'_> {
    pub(super) fn enter(&mut self, entry: &Entry) -> Result<(), Refusal> {
        let plan = self.plan;
        let mut pass: Option<String> = None;
        loop {
            if let Some(blocker) = &self.state.blocker {
                return Err(blocked(plan, blocker));
            }
            let NextWork::Ask { step, address, ask } = walk(plan, &self.state) else {
                return if pass.is_some() { Ok(()) } else { Err(self.nothing_asked(entry)) };
            };
            if step.id.as_str() != entry.step {
                return if pass.is_some() { Ok(()) } else { Err(not_asked(entry, step, &address, &ask)) };
            }
            // An entry without an item stands for what is left of this pass, and no more.
            let this_pass = ask.item.rsplit_once('/').map_or("", |(pass, _)| pass).to_owned();
            match &entry.item {
                Some(item) if *item != ask.item => return Err(not_asked(entry, step, &address, &ask)),
                Some(_) => {}
                None if pass.as_ref().is_some_and(|pass| *pass != this_pass) => return Ok(()),
                None => {}
            }
            let goes_on = self.enter_one(entry, step, &address, &ask)?;
            if entry.item.is_some() || ask.item.is_empty() || !goes_on {
                return Ok(());
            }
            pass = Some(this_pass);
        }
    }

    /// Records the entry for one ask; says whether the step goes on to its next item.
    fn enter_one(&mut self, entry: &Entry, step: &Step, address: &Address, ask: &Ask<'_>) -> Result<bool, Refusal> {
        let signs = step.kind.fields().iter().any(|field| matches!(field.kind, FieldKind::Signature(_)));
        if !signs {
            self.in_hand()?;
        }
        let taken = self.read_fields(entry, step, ask)?;
        let witness = self.witness(entry, step)?;
        if step.evidence.is_some_and(|kind| kind.required()) && entry.evidence.is_empty() {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{}` needs a photo", step.id.value))
                .unfit(Unfit::Evidence)
                .help("attach one: `evidence: FILE` in answers, `a` in the terminal"));
        }
        let known = self.state.step(address);
        let progress = Progress {
            settled: known.map(|known| known.progress.settled.clone()).unwrap_or_default(),
            done: match known {
                Some(known) if known.ended.is_none() => known.progress.done.clone(),
                _ => Default::default(),
            },
        };
        let weighed = step.kind.weigh(&progress, &taken.values);
        let done = weighed == Weighed::Done;
        let mut remarks = taken.remarks;
        let given: IndexSet<String> = taken.values.keys().cloned().collect();
        let place = address.with_item(&ask.item);
        let anew = self.state.readings.iter().any(|reading| !reading.rejected && reading.address == place);
        match entry.read.as_deref().filter(|read| !read.values.is_empty()) {
            Some(read) if read.log => remarks.push(Remark::FromLog(read.rows.name.clone())),
            Some(_) => remarks.push(Remark::FromReader),
            None if self.input.origin == Origin::Log => remarks.push(Remark::FromReader),
            None => {}
        }
        if let Weighed::Again(miss) | Weighed::NextRound(miss) = weighed {
            remarks.push(Remark::Missed(miss));
        }
        self.emit(Event::Entered {
            address: address.with_item(&ask.item),
            values: taken.values,
            typed: taken.typed,
            with: taken.with,
            fresh_for: taken.fresh_for,
            witness,
            evidence: entry.evidence.clone(),
            read: entry.read.clone(),
            remarks,
            done,
        });
        if matches!(weighed, Weighed::NextRound(_)) {
            self.end_round(address, RoundEnd::GonePast);
        }
        if done && anew {
            self.reopen(&Change::Anew(address, &given));
        } else if done {
            self.follow_late(address, given);
        }
        if done {
            let complete =
                self.state.step(address).is_some_and(|known| matches!(step.kind.next(&known.progress), Next::Done));
            if complete {
                for event in &step.raises {
                    self.raise(event);
                }
                self.undo(&step.undoes, &[], &step.id);
            }
            if step.kind.fields().iter().any(|field| matches!(field.kind, FieldKind::Sign(_))) {
                self.recognise(address);
            }
            return Ok(!complete);
        }
        Ok(false)
    }

    /// An entry that a correction has made due comes after steps that it belongs before: these are judged again with it.
    fn follow_late(&mut self, address: &Address, given: IndexSet<String>) {
        let plan = self.plan;
        let later = plan.after(address);
        let passed = self.state.verdicts.iter().any(|passed| !passed.superseded && later(&passed.address));
        if passed || self.state.steps.iter().any(|(other, known)| !known.settlements.is_empty() && later(other)) {
            self.follow(Changed::names(given), |place, _| later(place));
        }
    }

    fn read_fields(&self, entry: &Entry, step: &Step, ask: &Ask<'_>) -> Result<Taken, Refusal> {
        let names: Vec<&str> = ask.fields.iter().map(|field| field.name.as_str()).collect();
        for name in entry.typed.keys() {
            if !names.contains(&name.as_str()) {
                let mut refusal =
                    Refusal::new(Code::UnfitAnswer, format!("`{}` does not ask for `{name}`", step.id.value))
                        .unfit(Unfit::Value)
                        .of(name)
                        .expected(names.join(", "));
                if let Some(near) = nearest(name, names.iter().copied()) {
                    refusal = refusal.help(format!("did you mean `{near}`?"));
                }
                return Err(refusal);
            }
        }
        let mut taken = Taken::default();
        for field in &ask.fields {
            let name = field.name.value.clone();
            let mut typed = entry.typed.get(&name).cloned().unwrap_or_default();
            if typed.is_empty() && matches!(field.kind, FieldKind::Signature(_)) {
                typed.clone_from(&self.input.by);
            }
            let of_field = |refusal: Refusal| refusal.of(&name);
            let instrument = match &field.end {
                Some(end) => self.whose_end(entry, field, end, &typed),
                None => self.instrument(entry, field, &typed),
            };
            let instrument = instrument.map_err(of_field)?;
            let unit = instrument.as_ref().and_then(|(_, unit)| unit.as_deref());
            let value =
                field.read(&typed, &self.plan.units, unit).map_err(|misread| Refusal::misread(&name, misread))?;
            if let Value::Text(person) = &value {
                self.person(field, person, &taken.values).map_err(of_field)?;
            }
            if !matches!(field.kind, FieldKind::Done) {
                taken.typed.insert(name.clone(), typed);
            }
            if let Some((id, _)) = instrument {
                match &field.end {
                    Some(end) => self.ends_there(&id, end, &value).map_err(of_field)?,
                    None => taken.remarks.extend(self.fits(&id, &value).map_err(of_field)?),
                }
                taken.with.insert(name.clone(), id);
            }
            if let Some(age) = field.age.as_ref().or(step.stale.age.as_ref()) {
                taken.fresh_for.insert(name.clone(), age.0.si);
            }
            if !matches!(field.kind, FieldKind::Done) {
                taken.values.insert(name, value);
            }
        }
        Ok(taken)
    }

    /// The instrument that a field must be read with, and its unit.
    fn instrument(
        &self,
        entry: &Entry,
        field: &Field,
        typed: &str,
    ) -> Result<Option<(String, Option<String>)>, Refusal> {
        let Some(kind) = &field.instrument else { return Ok(None) };
        if typed.is_empty() && field.optional {
            return Ok(None);
        }
        let shop = &self.plan.shop;
        let of_kind = shop.instruments_of(kind);
        let id = match entry.with.get(field.name.as_str()) {
            Some(id) => id.clone(),
            None if of_kind.len() == 1 => of_kind[0].to_owned(),
            None => {
                return Err(Refusal::new(
                    Code::UnfitInstrument,
                    format!("with which {} was `{}` read?", kind.value, field.name.value),
                )
                .expected(if of_kind.is_empty() {
                    format!("an instrument of the kind {}; the shop has none", kind.value)
                } else {
                    format!("one of: {}", of_kind.join(", "))
                })
                .help("name it: `instruments: { name: id }` in answers"));
            }
        };
        self.of_kind(&id, kind)?;
        Ok(Some((id.clone(), shop.unit_of(&id))))
    }

    fn of_kind(&self, id: &str, kind: &str) -> Result<(), Refusal> {
        let shop = &self.plan.shop;
        let of_kind = shop.instruments_of(kind);
        if of_kind.contains(&id) {
            return Ok(());
        }
        let message = match shop.instruments.get(id) {
            Some(other) => format!("`{id}` is of the kind {}, not {kind}", other.kind),
            None => format!("the shop has no instrument `{id}`"),
        };
        Err(Refusal::new(Code::UnfitInstrument, message)
            .expected(if of_kind.is_empty() {
                format!("an instrument of the kind {kind}; the shop has none")
            } else {
                format!("one of: {}", of_kind.join(", "))
            })
            .help("read it again with an instrument that fits"))
    }

    /// The instrument that an end is said to be that of; none where it was read off one that nobody names.
    fn whose_end(
        &self,
        entry: &Entry,
        field: &Field,
        end: &ScaleEnd,
        typed: &str,
    ) -> Result<Option<(String, Option<String>)>, Refusal> {
        let Some(id) = entry.with.get(field.name.as_str()).filter(|_| !typed.is_empty()) else { return Ok(None) };
        self.of_kind(id, &end.of)?;
        Ok(Some((id.clone(), self.plan.shop.unit_of(id))))
    }

    /// Who names the instrument says what the shop file says of it: anything else was read off another one.
    fn ends_there(&self, id: &str, end: &ScaleEnd, value: &Value) -> Result<(), Refusal> {
        if self.plan.is_end_of(id, end, value) {
            return Ok(());
        }
        let known = self.plan.shop.instruments.get(id).and_then(|instrument| instrument.end(end.highest));
        let which = if end.highest { "highest" } else { "lowest" };
        let refusal =
            Refusal::new(Code::UnfitInstrument, format!("{} is not the {which} mark of `{id}`", self.plan.show(value)));
        Err(match known {
            Some(known) => refusal.expected(self.plan.show(&Value::Quantity(known.clone()))),
            None => refusal.expected("an instrument with a `range:` in the shop file"),
        }
        .help("leave the instrument out if it was read off another one"))
    }

    /// Whether an instrument could read this value; a remark if its calibration has run out.
    fn fits(&self, id: &str, value: &Value) -> Result<Option<Remark>, Refusal> {
        let Some(instrument) = self.plan.shop.instruments.get(id) else { return Ok(None) };
        if !instrument.reaches(value) {
            let range = instrument.range.clone().map(|(low, high)| self.plan.show(&Value::Range(low, high)));
            return Err(Refusal::new(
                Code::UnfitInstrument,
                format!("{} lies outside the range of `{id}`", self.plan.show(value)),
            )
            .expected(format!("a value within {}", range.unwrap_or_default()))
            .help("look at the unit, or read it with another instrument"));
        }
        let overdue = instrument.due.filter(|due| *due < self.now().date());
        Ok(overdue.map(|due| Remark::CalibrationOver { instrument: id.to_owned(), due }))
    }

    /// Whether somebody may be named here; `taken` are the values entered together with it.
    pub(super) fn person(&self, field: &Field, person: &str, taken: &IndexMap<String, Value>) -> Result<(), Refusal> {
        let shop = &self.plan.shop;
        let role = match &field.kind {
            FieldKind::Person => None,
            FieldKind::Signature(role) => Some(role),
            _ => return Ok(()),
        };
        if !shop.people.is_empty() && !shop.people.contains_key(person) {
            let mut refusal =
                Refusal::new(Code::UnknownPerson, format!("the shop file names nobody called `{person}`"))
                    .expected(format!("one of: {}", shop.people.keys().cloned().collect::<Vec<_>>().join(", ")));
            if let Some(near) = nearest(person, shop.people.keys().map(String::as_str)) {
                refusal = refusal.help(format!("did you mean `{near}`?"));
            }
            return Err(refusal);
        }
        if let Some(role) = role {
            if person != self.input.by {
                return Err(Refusal::new(Code::UnknownPerson, format!("{} can't sign for {person}", self.input.by))
                    .help("everyone signs for themselves"));
            }
            if !shop.has_role(person, role) {
                return Err(Refusal::new(Code::UnknownPerson, format!("{person} may not sign as {role}")));
            }
        }
        if let Some(other) = &field.other_than {
            let clash = match other.as_str() {
                "doer" => self.state.doers.contains(person),
                name => {
                    let earlier = taken.get(name).cloned();
                    let earlier = earlier.or_else(|| self.state.latest(name).map(|reading| reading.value.clone()));
                    earlier == Some(Value::Text(person.to_owned()))
                }
            };
            if clash {
                let what =
                    if other.as_str() == "doer" { "who did the work".to_owned() } else { format!("`{}`", other.value) };
                return Err(Refusal::new(Code::UnknownPerson, format!("{person} is the same person as {what}"))
                    .expected("another person"));
            }
        }
        Ok(())
    }

    fn witness(&self, entry: &Entry, step: &Step) -> Result<Option<Witness>, Refusal> {
        if step.witness.is_none() {
            return Ok(None);
        }
        let shop = &self.plan.shop;
        match &entry.witness {
            Some(name) if *name == self.input.by => {
                Err(Refusal::new(Code::UnknownPerson, "nobody can witness their own work").expected("another person"))
            }
            Some(name) if !shop.people.is_empty() && !shop.people.contains_key(name) => {
                Err(Refusal::new(Code::UnknownPerson, format!("the shop file names nobody called `{name}`")))
            }
            Some(name) => Ok(Some(Witness::By(name.clone()))),
            None if shop.people.len() == 1 => Ok(Some(Witness::Alone)),
            None => Err(Refusal::new(
                Code::UnknownPerson,
                format!("a second person has to look at `{}` now", step.id.value),
            )
            .expected("`witness: NAME`")),
        }
    }

    /// Compares the signs seen so far with the variants of the family.
    pub(super) fn recognise(&mut self, address: &Address) {
        let signs: IndexMap<String, Value> = self
            .plan
            .sign_names()
            .into_iter()
            .filter_map(|(name, sign)| Some((sign, self.state.latest(&name)?.value.clone())))
            .filter(|(_, value)| !value.is_unknown() && *value != Value::Text("unknown".to_owned()))
            .collect();
        if signs.is_empty() {
            return;
        }
        match self.plan.recognise(&signs) {
            Recognised::One(variant) => match &self.state.variant {
                Some(known) if *known != variant => {
                    let what = Contradiction::OtherVariant { seen: variant, known: known.clone() };
                    self.emit(Event::Contradicted { address: address.clone(), what });
                }
                Some(_) => {}
                None => {
                    self.emit(Event::Recognised { variant, signs });
                }
            },
            Recognised::Several(_) => {}
            Recognised::None(_) => {
                self.emit(Event::Contradicted { address: address.clone(), what: Contradiction::NoVariant(signs) });
            }
        }
    }

    fn nothing_asked(&self, entry: &Entry) -> Refusal {
        let refusal = Refusal::new(Code::UnfitAnswer, format!("nothing is asked for `{}` now", entry.step));
        match walk(self.plan, &self.state) {
            NextWork::Held { step, verdict, .. } => refusal.help(format!(
                "the gate of `{}` is {}: correct the entry, or have it accepted where that is allowed",
                step.id.value,
                verdict.words()
            )),
            NextWork::Exhausted { step, .. } => refusal.help(format!("all rounds of `{}` are used up", step.id.value)),
            NextWork::Unaccepted { address, verdict } => {
                refusal.help(format!("`{address}` turned {} after a correction", Verdict::words(verdict)))
            }
            _ => refusal,
        }
    }
}

fn not_asked(entry: &Entry, step: &Step, address: &Address, ask: &Ask<'_>) -> Refusal {
    let asked = address.with_item(&ask.item);
    let answered = match &entry.item {
        Some(item) => format!("`{}`, item `{item}`", entry.step),
        None => format!("`{}`", entry.step),
    };
    let names: Vec<&str> = ask.fields.iter().map(|field| field.name.as_str()).collect();
    Refusal::new(Code::UnfitAnswer, format!("this answers {answered}, but `{asked}` is asked")).expected(format!(
        "an answer for step `{}` ({}: {})",
        step.id.value,
        step.kind.word(),
        names.join(", ")
    ))
}

fn blocked(plan: &Plan, blocker: &Blocker) -> Refusal {
    match blocker {
        Blocker::Missing { missing, .. } => {
            Refusal::new(Code::UnfitAnswer, format!("nobody has entered {}", missing.join(", ")))
                .help("supply it with its source, or leave the step out with a reason")
        }
        Blocker::Fault { fault, .. } => Refusal::new(Code::UnfitAnswer, format!("the plan has a fault: {fault}")),
        Blocker::Contradiction { what, .. } => {
            Refusal::new(Code::UnfitAnswer, what.words(plan)).help("correct what was entered, or abandon the job")
        }
    }
}
