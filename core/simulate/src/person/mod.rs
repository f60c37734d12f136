//! Somebody at work on one unit: does what is asked, or not, reads what is true, or not, and enters it.

mod instrument;
mod number;
mod value;

use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap, HashSet};

use indexmap::IndexMap;
use jiff::ToSpan;
use jiff::civil::date;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::plan::sha256;
use standpipe_job::{Address, Entry, Event, EvidenceRef, Moment, Pending, Phase, Record, Refusal, What};
use standpipe_procedure::{Field, FieldKind, Next, Otherwise, Step};
use standpipe_quantity::value::Value;

use crate::at_hand::{AtHand, Told};
use crate::bench::Bench;
use crate::cause::Slipped;
use crate::draw::Draws;
use crate::hidden::Hidden;
use crate::model::{AGAIN, DONE, ITEM, NIGHT, ONCE_MORE};
use crate::outcome::{Claim, Noted, Outcome};
use crate::people::Slip;
use crate::spread_of::{ENTRIES, OfJob, ROUNDS, TIME, told};

/// What stands in every simulated photo.
pub const PHOTO: &str = "simulated: there is nothing to see\n";
/// What a simulated photo is called.
pub const PHOTO_NAME: &str = "simulated.txt";

/// More tries than this at one thing, and somebody gives up.
const PATIENCE: u32 = 40;
/// More looks than this at a reading that is awaited.
const LOOKS: u32 = 240;
/// After so many tries at a gate that waits, the work is laid down for a longer time; so many times in a job.
const TRIES_BEFORE_A_BREAK: u32 = 2;
const BREAKS: u32 = 6;
/// More entries than this, and a job goes round in circles.
const MOST_ENTRIES: u64 = 5_000;
/// Seconds that something takes of which the model says nothing.
const A_MINUTE: f64 = 60.0;
/// Seconds that it takes to tick something without doing it.
const A_TICK: f64 = 5.0;

pub struct Person<'b, 'a> {
    bench: &'b Bench<'a>,
    draws: Draws,
    hidden: Hidden<'b>,
    /// Standard deviations by which this one is less careful than the median.
    care: f64,
    faults: Vec<usize>,
    begun: Moment,
    /// Seconds since then.
    clock: f64,
    doer: String,
    /// How often each thing was tried, and how often that was refused.
    tries: HashMap<String, u32>,
    refused: u32,
    /// What an instrument showed first that is stuck, in base units.
    stuck: HashMap<String, f64>,
    /// Items really done and all, of an `each` that is under way.
    items: HashMap<Address, (usize, usize)>,
    called: Vec<String>,
    /// What was asked, and at which try, when the work was laid down: the same draw must not do it again.
    paused_at: HashSet<String>,
    noted: Noted,
    outcome: Outcome,
    /// The highest round in which something was asked, by the step that repeats it.
    rounds: BTreeMap<&'b str, u32>,
    /// The step that is asked.
    step: &'b str,
    /// A slip that does not happen, though it was drawn.
    spared: Option<Slipped>,
}

/// What is asked, found again in the plan of the bench.
struct Asked<'b> {
    step: &'b Step,
    address: Address,
    item: String,
    /// Number of the item and of all, and how many are left of this pass.
    count: Option<(usize, usize, usize)>,
    fields: Vec<Cow<'b, Field>>,
    hold: Option<f64>,
    /// Names its draws: the address, and which try it is.
    name: String,
    tries: u32,
}

impl<'b, 'a> Person<'b, 'a> {
    /// A unit with these faults, and somebody who works on it.
    pub fn new(bench: &'b Bench<'a>, draws: Draws, faults: &[usize]) -> Result<Self, Box<Diagnostic>> {
        Self::on_unit(bench, draws, faults, |_| draws)
    }

    /// The same, on a unit of which each quantity comes from the draws that are named for it.
    pub fn on_unit(
        bench: &'b Bench<'a>,
        draws: Draws,
        faults: &[usize],
        of: impl Fn(&str) -> Draws,
    ) -> Result<Self, Box<Diagnostic>> {
        let unit = draws.one_of(bench.units.len().max(1), "unit", "variant");
        let mut drawn = bench.units.get(unit).map(|(_, known)| known.clone()).unwrap_or_default();
        for (name, spread) in &bench.model.draws {
            let changed = faults.iter().rev().find_map(|index| bench.model.faults[*index].draws.get(name));
            drawn.insert(name.clone(), changed.unwrap_or(spread).draw(&of(name), name));
        }
        for (index, id) in bench.model.faults.keys().enumerate() {
            drawn.insert(id.replace('-', "_"), Value::Truth(faults.contains(&index)));
        }
        let hidden = Hidden::new(bench.model, &bench.scripts, drawn, bench.watched.as_ref())?;
        let people = &bench.plan().shop.people;
        let doer = people.iter().find(|(id, _)| bench.plan().shop.has_role(id, "doer")).or_else(|| people.first());
        let outcome = Outcome {
            run: draws.run,
            claim: Claim::Stopped,
            harms: Vec::new(),
            matters: None,
            faults: faults.to_vec(),
            unmet: Vec::new(),
            reached: Vec::new(),
            stopped_at: None,
            seconds: 0.0,
            entries: 0,
            events: 0,
            numbers: Vec::new(),
            slips: Vec::new(),
        };
        Ok(Self {
            care: draws.normal("person", "care"),
            begun: Moment::new(date(2026, 1, 5).at(8, 0, 0, 0), 0),
            clock: 0.0,
            doer: doer.map_or_else(|| "somebody".to_owned(), |(id, _)| id.clone()),
            tries: HashMap::new(),
            refused: 0,
            stuck: HashMap::new(),
            items: HashMap::new(),
            called: Vec::new(),
            paused_at: HashSet::new(),
            noted: Noted::default(),
            faults: faults.to_vec(),
            bench,
            draws,
            hidden,
            outcome,
            rounds: BTreeMap::new(),
            step: "",
            spared: None,
        })
    }

    /// The same, but for one slip that does not happen.
    pub fn spared(self, slip: Option<Slipped>) -> Self {
        Self { spared: slip, ..self }
    }

    /// Works until the job ends or nobody knows how to go on.
    pub fn work(mut self, job: &mut dyn AtHand) -> Result<Outcome, Box<Diagnostic>> {
        self.open(job)?;
        while self.outcome.entries < MOST_ENTRIES && self.one(job)? {}
        self.outcome.claim = self.noted.claim(job.state());
        if self.outcome.claim == Claim::Stopped {
            self.outcome.stopped_at = job.machine().pending(job.state()).step().map(str::to_owned);
        }
        for harm in self.bench.model.harms.values() {
            let harmed = self.hidden.holds(&harm.is)?;
            self.outcome.harms.push(harmed);
        }
        if let Some(matters) = &self.bench.model.matters {
            self.outcome.matters = Some(self.hidden.number(matters)?);
        }
        self.outcome.seconds = self.clock;
        if self.outcome.finished() {
            self.outcome.numbers = self.numbers(job);
        }
        Ok(self.outcome)
    }

    fn numbers(&self, job: &dyn AtHand) -> Vec<OfJob> {
        let of = |name: &str, unit: &str, value: f64| OfJob { name: name.to_owned(), unit: unit.to_owned(), value };
        let mut all = vec![of(TIME, "min", self.clock / 60.0), of(ENTRIES, "", self.outcome.entries as f64)];
        all.extend(self.rounds.iter().map(|(step, rounds)| of(&format!("{ROUNDS}{step}"), "", f64::from(*rounds))));
        let matters = self.bench.model.matters.as_ref().map(|function| function.value.as_str());
        all.extend(told(self.bench.plan(), job.state(), matters.zip(self.outcome.matters.as_ref())));
        all
    }

    fn open(&mut self, job: &mut dyn AtHand) -> Result<(), Box<Diagnostic>> {
        match self.give(job, self.doer.clone(), What::Open, None) {
            Ok(_) => Ok(()),
            Err(refusal) => Err(self.untaken("the job", refusal)),
        }
    }

    /// One thing that is asked; false where the work ends.
    fn one(&mut self, job: &mut dyn AtHand) -> Result<bool, Box<Diagnostic>> {
        if let Some(asked) = self.asked(job) {
            self.step = &asked.step.id.value;
            if let Some(repeat) = self.bench.repeats.get(asked.step.id.as_str()) {
                let rounds = self.rounds.entry(repeat).or_default();
                *rounds = asked.address.round().max(*rounds);
            }
            if asked.tries > 0 && self.call_if_need_be(job)? {
                return Ok(true);
            }
            let awaits = asked.step.kind.word() == "await";
            if asked.tries >= if awaits { LOOKS } else { PATIENCE } {
                return Ok(false);
            }
            if !awaits && self.lays_down(job, &asked) {
                return Ok(true);
            }
            if self.breaks_off(job, &asked) {
                return Ok(true);
            }
            return self.answer(job, &asked);
        }
        match job.machine().pending(job.state()) {
            Pending::Nothing { .. } | Pending::Opening | Pending::Entry(_) => Ok(false),
            Pending::Resumption { .. } => {
                let name = format!("pause {}", self.outcome.entries);
                let share = 0.2 + 1.6 * self.draws.uniform(&name, "how long");
                self.pass(self.time(NIGHT) * share)?;
                let given = self.give(job, self.doer.clone(), What::Resume, None);
                given.map(|_| true).map_err(|refusal| self.untaken("a pause", refusal))
            }
            Pending::Acceptance { address, roles, .. } => {
                if self.call_if_need_be(job)? {
                    return Ok(true);
                }
                let name = address.to_string();
                let shop = &self.bench.plan().shop;
                let who = shop.people.keys().find(|id| roles.iter().any(|role| shop.has_role(id, role))).cloned();
                let Some(who) = who.filter(|_| self.draws.happens(self.bench.people.accepts, &name, "accepted")) else {
                    return Ok(false);
                };
                self.pass(A_MINUTE)?;
                let what = What::Accept { because: "simulated: looked at, and known why".to_owned() };
                // Where nobody may accept it after all, the job stands.
                Ok(self.give(job, who, what, None).is_ok())
            }
            Pending::Stopped { .. } => self.call_if_need_be(job),
            Pending::Facts { .. } | Pending::Fault { .. } => Ok(false),
        }
    }

    fn asked(&self, job: &dyn AtHand) -> Option<Asked<'b>> {
        let (step, address, ask) = job.machine().asks(job.state())?;
        let own = self.bench.plan().step(&step.id)?;
        let known = |name: &str| own.kind.fields().iter().find(|known| known.name.as_str() == name);
        let fields = ask
            .fields
            .iter()
            .map(|field| known(&field.name).map_or_else(|| Cow::Owned((*field).clone()), Cow::Borrowed));
        let asks = address.with_item(&ask.item).to_string();
        let tries = self.tries.get(&asks).copied().unwrap_or(0);
        let count = ask.count.map(|(at, all)| (at, all, left_of_pass(own, job, &address, &ask.item)));
        Some(Asked {
            step: own,
            name: if tries == 0 { asks } else { format!("{asks}#{tries}") },
            fields: fields.collect(),
            hold: ask.hold.map(|time| time.si),
            item: ask.item,
            count,
            address,
            tries,
        })
    }

    /// What does not come by waiting a while is waited for with the work laid down; once at each such try, so that what is
    /// resumed is tried before it is laid down again.
    fn lays_down(&mut self, job: &mut dyn AtHand, asked: &Asked<'_>) -> bool {
        let waits = asked.step.gate.as_ref().is_some_and(|gate| matches!(gate.otherwise, Otherwise::Wait(_)));
        let long = asked.tries > 0 && asked.tries.is_multiple_of(TRIES_BEFORE_A_BREAK);
        waits && long && job.state().pauses < BREAKS && self.pauses(job, asked)
    }

    /// The work is broken off before this is done, by chance.
    fn breaks_off(&mut self, job: &mut dyn AtHand, asked: &Asked<'_>) -> bool {
        let may = asked.tries == 0 && !self.paused_at.contains(&asked.name);
        may && self.slips(Slip::BrokenOff, &asked.name) && self.pauses(job, asked)
    }

    fn pauses(&mut self, job: &mut dyn AtHand, asked: &Asked<'_>) -> bool {
        let may = job.state().phase == Phase::Running && job.state().calls.is_empty();
        may && self.paused_at.insert(asked.name.clone()) && self.give(job, self.doer.clone(), What::Pause, None).is_ok()
    }

    /// Calls what the model says is to be called now.
    fn call_if_need_be(&mut self, job: &mut dyn AtHand) -> Result<bool, Box<Diagnostic>> {
        if !job.state().calls.is_empty() {
            return Ok(false);
        }
        let model = self.bench.model;
        for (procedure, when) in &model.calls {
            if self.called.contains(&procedure.value) || !self.hidden.holds(when)? {
                continue;
            }
            let what = What::Call { procedure: procedure.value.clone() };
            if self.give(job, self.doer.clone(), what, None).is_ok() {
                self.called.push(procedure.value.clone());
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn answer(&mut self, job: &mut dyn AtHand, asked: &Asked<'b>) -> Result<bool, Box<Diagnostic>> {
        let step = asked.step;
        // Whoever was refused looks twice.
        let careful = self.refused > 0;
        let left = asked.count.map_or(1, |(_, _, left)| left);
        let is_work = matches!(step.kind.word(), "do" | "each" | "hold");
        let seen = step.witness.is_some() && !self.draws.happens(self.chance(Slip::Unseen), &asked.name, "unseen");
        let not_done = is_work && !careful && !seen && self.slips(Slip::NotDone, &asked.name);
        let cut = asked.hold.is_some() && !careful && self.slips(Slip::CutShort, &asked.name);
        let of_hold = if cut { 0.2 + 0.7 * self.draws.uniform(&asked.name, "cut to") } else { 1.0 };
        let mut really = 0;
        for item in 0..left {
            let name = format!("{} {item}", asked.name);
            let out = asked.count.is_some() && !careful && self.slips(Slip::ItemLeftOut, &name);
            really += usize::from(!(out || not_done || cut && asked.count.is_some()));
        }
        let takes = match not_done {
            true => A_TICK,
            false => self.takes(asked, left) + asked.hold.unwrap_or(0.0) * of_hold * left as f64,
        };
        self.pass(takes)?;
        let mut entry = Entry { step: step.id.value.clone(), ..Entry::default() };
        let by_item = asked.fields.iter().any(|field| !matches!(field.kind, FieldKind::Done | FieldKind::Held));
        entry.item = (by_item && !asked.item.is_empty()).then(|| asked.item.clone());
        if entry.item.is_some() {
            really = really.min(1);
        }
        let mut by = self.doer.clone();
        let mut did: IndexMap<String, Value> = IndexMap::new();
        for field in &asked.fields {
            if let FieldKind::Signature(role) = &field.kind {
                let Some(signer) = self.signer(job, role, field) else {
                    let because = "simulated: nobody else is there".to_owned();
                    let given = self.give(job, self.doer.clone(), What::Skip { because }, None);
                    return given.map(|_| true).map_err(|refusal| self.untaken(&asked.name, refusal));
                };
                by = signer;
                continue;
            }
            let value = self.value(job, asked, field, &entry.typed, careful)?;
            if let Some(instrument) = value.with {
                entry.with.insert(field.name.value.clone(), instrument);
            }
            if let Some(truth) = value.truth {
                did.insert(field.name.value.clone(), truth);
            }
            if !matches!(field.kind, FieldKind::Done) {
                entry.typed.insert(field.name.value.clone(), value.typed);
            }
        }
        if step.witness.is_some() {
            entry.witness = self.bench.plan().shop.people.keys().find(|id| **id != by).cloned();
        }
        if step.evidence.is_some_and(|kind| kind.required()) {
            let name = PHOTO_NAME.to_owned();
            entry.evidence.push(EvidenceRef { sha256: sha256(PHOTO.as_bytes()), name, of: None });
        }
        let one_item = entry.item.is_some();
        let late = (!careful && self.slips(Slip::Late, &asked.name))
            .then(|| A_MINUTE * (2.0 + 18.0 * self.draws.uniform(&asked.name, "late by")));
        let done_at = self.now();
        self.pass(late.unwrap_or(0.0))?;
        self.outcome.entries += 1;
        *self.tries.entry(asked.address.with_item(&asked.item).to_string()).or_default() += 1;
        let records = match self.give(job, by, What::Enter(entry), late.map(|_| done_at)) {
            Ok(records) => records,
            Err(refusal) => {
                self.refused += 1;
                if self.refused > 3 {
                    return Err(self.untaken(&asked.name, refusal));
                }
                return Ok(true);
            }
        };
        self.refused = 0;
        let counts = records.iter().any(|record| matches!(record.event, Event::Entered { done: true, .. }));
        if counts {
            self.happened(asked, if one_item { 1 } else { left }, really, did)?;
        }
        self.followed(&records)?;
        Ok(true)
    }

    /// What was really done changes the unit.
    fn happened(
        &mut self,
        asked: &Asked<'_>,
        items: usize,
        really: usize,
        did: IndexMap<String, Value>,
    ) -> Result<(), Box<Diagnostic>> {
        let place = asked.address.whole();
        let complete = asked.count.is_none_or(|(at, all, _)| at + items > all);
        let known = self.items.entry(place.clone()).or_default();
        *known = (known.0 + really, known.1 + items);
        if !complete {
            return Ok(());
        }
        let (really, all) = self.items.remove(&place).unwrap_or((really, items));
        if really == 0 {
            return Ok(());
        }
        let model = self.bench.model;
        let more = [
            ("did", Value::Record(did)),
            ("share", Value::Number(really as f64 / all.max(1) as f64)),
            ("round", Value::Number(f64::from(asked.address.round()))),
        ];
        let keys = std::iter::once(asked.step.id.as_str()).chain(asked.step.raises.iter().map(|event| event.as_str()));
        for effect in keys.filter_map(|key| model.effects.get(key)) {
            self.hidden.change(effect, &more)?;
        }
        Ok(())
    }

    /// What is done because of what the machine said: a gate was not met, a procedure that was called is through.
    fn followed(&mut self, records: &[Record]) -> Result<(), Box<Diagnostic>> {
        let model = self.bench.model;
        for record in records {
            let key = match &record.event {
                Event::Judged { address, again: true, .. } => format!("{}.{ONCE_MORE}", address.step),
                Event::Returned { procedure, .. } => format!("{procedure}.{DONE}"),
                _ => continue,
            };
            if let Some(effect) = model.effects.get(key.as_str()) {
                self.hidden.change(effect, &[])?;
            }
        }
        Ok(())
    }

    /// Seconds that something takes, without what is held.
    fn takes(&self, asked: &Asked<'_>, left: usize) -> f64 {
        let word = asked.step.kind.word();
        let waits = asked.step.gate.as_ref().is_some_and(|gate| matches!(gate.otherwise, Otherwise::Wait(_)));
        let own = self.bench.model.times.get(asked.step.id.as_str()).copied();
        let base = match own {
            _ if asked.tries > 0 && waits && word != "await" => self.time(AGAIN),
            Some(own) => own,
            None => self.time(word),
        };
        let items = if asked.count.is_some() { self.time(ITEM) * left as f64 } else { 0.0 };
        let spread = 0.6 + 0.8 * self.draws.uniform(&asked.name, "takes");
        (base + items) * self.bench.people.pace * spread
    }

    fn time(&self, of: &str) -> f64 {
        self.bench.model.times.get(of).copied().unwrap_or(A_MINUTE)
    }

    fn pass(&mut self, seconds: f64) -> Result<(), Box<Diagnostic>> {
        // Clocks show whole seconds: the unit ages by what they show.
        let seconds = libm::round(seconds);
        self.clock += seconds;
        self.hidden.advance(seconds)
    }

    fn now(&self) -> Moment {
        self.begun.saturating_add((self.clock as i64).seconds())
    }

    fn chance(&self, slip: Slip) -> f64 {
        self.bench.people.chance(slip, self.care)
    }

    /// Whether something is done wrong here; noted if it is.
    fn slips(&mut self, slip: Slip, name: &str) -> bool {
        let happens = self.draws.happens(self.chance(slip), name, slip.name());
        let spared = self.spared.as_ref().is_some_and(|spared| spared.slip == slip && spared.at == name);
        if happens && !spared {
            self.outcome.slips.push(Slipped { slip, at: name.to_owned(), step: self.step.to_owned() });
        }
        happens && !spared
    }

    fn give(
        &mut self,
        job: &mut dyn AtHand,
        by: String,
        what: What,
        done_at: Option<Moment>,
    ) -> Result<Vec<Record>, Refusal> {
        let now = self.now();
        let told = match done_at {
            Some(at) => Told { at, entered_at: Some(now), by, what },
            None => Told { at: now, entered_at: None, by, what },
        };
        let records = job.give(told)?;
        for record in &records {
            self.noted.take(record);
            self.outcome.events += 1;
            if let Event::Judged { address, verdict, .. } = &record.event
                && *verdict != standpipe_job::Verdict::Met
                && !self.outcome.unmet.contains(&address.step)
            {
                self.outcome.unmet.push(address.step.clone());
            }
            if let Some(address) = reached(&record.event)
                && self.outcome.reached.last() != Some(&address.step)
            {
                self.outcome.reached.push(address.step.clone());
            }
        }
        Ok(records)
    }

    fn untaken(&self, what: &str, refusal: Refusal) -> Box<Diagnostic> {
        let message = format!("the step does not take what the model answers at `{what}`: {}", refusal.message);
        let mut problem = Diagnostic::error(Code::ModelFails, &self.bench.model.place, message);
        problem.expected = refusal.expected;
        Box::new(problem)
    }
}

/// The step that an event shows to have been reached. A branch that was not taken is no such step.
fn reached(event: &Event) -> Option<&Address> {
    match event {
        Event::Entered { address, .. } | Event::Computed { address, .. } | Event::Judged { address, .. } => {
            Some(address)
        }
        _ => None,
    }
}

/// How many items one entry stands for that names none: those left of the pass.
fn left_of_pass(step: &Step, job: &dyn AtHand, address: &Address, item: &str) -> usize {
    let pass = |item: &str| item.rsplit_once('/').map_or(String::new(), |(pass, _)| pass.to_owned());
    let Some(known) = job.state().step(address) else { return 1 };
    let mut progress = known.progress.clone();
    if known.ended.is_some() {
        progress.done.clear();
    }
    let (first, mut left, mut next) = (pass(item), 0, item.to_owned());
    while pass(&next) == first {
        left += 1;
        progress.done.insert(next);
        match step.kind.next(&progress) {
            Next::Ask(ask) => next = ask.item,
            _ => break,
        }
    }
    left
}
