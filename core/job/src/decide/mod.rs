//! From an input to events. The only place that runs scripts.

use crate::moment::Moment;
use indexmap::IndexMap;

use super::address::Address;
use super::edition;
use super::event::{Event, Record, YEARS};
use super::input::{Input, Refusal, Unfit, What};
use super::names::JobNames;
use super::state::{Call, Phase, State};
use super::walk::{NextWork, walk};
use crate::plan::Plan;
use standpipe_diagnostic::{Code, nearest};
use standpipe_procedure::model::{PAUSE, PERSON};
use standpipe_quantity::value::Value;

mod advance;
mod amend;
mod correct;
mod enter;
mod evaluate;
mod follow;
mod reopen;
mod stream;
mod undo;

use follow::Changed;
use reopen::Change;

pub use stream::Watched;

pub struct Machine {
    pub plan: Plan,
}

impl Machine {
    pub fn new(plan: Plan) -> Self {
        Self { plan }
    }

    /// What an input leads to: the events to record, in order. The state is not changed; apply them to it.
    ///
    /// Errors: a [`Refusal`] when the input does not fit; nothing is to be recorded then.
    pub fn decide(&self, state: &State, input: &Input) -> Result<Vec<Record>, Refusal> {
        Ok(self.decided(state, input)?.1)
    }

    /// The same, and the state as these events leave it.
    pub fn decided(&self, state: &State, input: &Input) -> Result<(State, Vec<Record>), Refusal> {
        let mut decision = Decision { plan: &self.plan, state: state.clone(), input, records: Vec::new() };
        decision.admit()?;
        decision.take()?;
        decision.advance();
        Ok((decision.state, decision.records))
    }
}

impl Machine {
    /// Whether the procedure that was called last can still be taken back, as one called by mistake.
    pub fn can_take_back(&self, state: &State) -> bool {
        state.calls.last().is_some_and(|call| untouched(&self.plan, state, call))
    }
}

/// One call of `decide`: works on a copy of the state and collects what is to be recorded.
struct Decision<'a> {
    plan: &'a Plan,
    state: State,
    input: &'a Input,
    records: Vec<Record>,
}

impl<'a> Decision<'a> {
    fn emit(&mut self, event: Event) -> u64 {
        let record = Record {
            seq: self.state.seq + 1,
            at: self.input.at,
            entered_at: self.input.entered_at,
            by: self.input.by.clone(),
            origin: self.input.origin,
            event,
        };
        self.state.apply(&record);
        self.records.push(record);
        self.state.seq
    }

    fn now(&self) -> Moment {
        self.input.at
    }

    fn names(&self, round: u32) -> JobNames<'_> {
        JobNames::new(self.plan, &self.state, self.now(), round)
    }

    /// Is anybody allowed to do this now?
    fn admit(&self) -> Result<(), Refusal> {
        let shop = &self.plan.shop;
        if !shop.people.is_empty() && !shop.people.contains_key(&self.input.by) {
            let near = nearest(&self.input.by, shop.people.keys().map(String::as_str));
            let mut refusal =
                Refusal::new(Code::UnknownPerson, format!("the shop file names nobody called `{}`", self.input.by))
                    .expected(format!("one of: {}", shop.people.keys().cloned().collect::<Vec<_>>().join(", ")));
            if let Some(near) = near {
                refusal = refusal.help(format!("did you mean `{near}`?"));
            }
            return Err(refusal);
        }
        let odd = |at: &Moment| !YEARS.contains(&at.date().year());
        if let Some(at) = [Some(self.input.at), self.input.entered_at].into_iter().flatten().find(odd) {
            let years = format!("a year from {} to {}", YEARS.start(), YEARS.end());
            return Err(Refusal::new(Code::UnfitAnswer, format!("nothing is done at {at}")).expected(years));
        }
        if let Some(last) = self.state.at
            && self.input.at < last
            && self.input.entered_at.is_none()
        {
            return Err(Refusal::new(
                Code::TimeReversed,
                format!("{} lies before the last entry, {last}", self.input.at),
            )
            .help("for something done earlier give both times: `at`, when it was done, and `entered_at`"));
        }
        if let Some(entered) = self.input.entered_at
            && (entered < self.input.at || self.state.at.is_some_and(|last| entered < last))
        {
            return Err(Refusal::new(
                Code::TimeReversed,
                format!("entered at {entered}, before it was done or before the last entry"),
            ));
        }
        match self.state.phase {
            Phase::Finished | Phase::Abandoned => {
                Err(Refusal::new(Code::UnfitAnswer, "the job is closed").help("open a new job that names this one"))
            }
            Phase::New if !matches!(self.input.what, What::Open) => {
                Err(Refusal::new(Code::UnfitAnswer, "the job is not open yet"))
            }
            Phase::Paused
                if !matches!(
                    self.input.what,
                    What::Resume | What::Note(_) | What::Amend { .. } | What::Abandon { .. }
                ) =>
            {
                Err(Refusal::new(Code::UnfitAnswer, "the job is paused").help("resume it first"))
            }
            _ => Ok(()),
        }
    }

    fn take(&mut self) -> Result<(), Refusal> {
        match &self.input.what {
            What::Open => self.open(),
            What::Enter(entry) => self.enter(entry),
            What::Correct { entry, values, because } => self.correct(*entry, values, because),
            What::Skip { because } => self.skip(because),
            What::Accept { because } => self.accept(because),
            What::Supply { path, typed, source } => self.supply(path, typed, source),
            What::Amend { plan, changed, because } => self.amend(plan, changed, because),
            What::Call { procedure } => self.call(procedure),
            What::TakeBack => self.take_back(),
            What::Pause => self.pause(),
            What::Resume => self.resume(),
            What::Note(text) => {
                let address = self.address();
                self.emit(Event::Noted { address, text: text.clone() });
                Ok(())
            }
            What::Attach(evidence) => {
                let address = self.address();
                self.emit(Event::Attached { address, evidence: evidence.clone() });
                Ok(())
            }
            What::KeepLog(kept) => {
                self.emit(Event::LogKept(kept.clone()));
                Ok(())
            }
            What::Abandon { because } => {
                needs_reason(because)?;
                self.emit(Event::Abandoned { because: because.clone(), decided_in: None });
                Ok(())
            }
            What::Sample { name, value } => {
                self.sample(name, value);
                Ok(())
            }
            What::Stream { name, turn, note } => {
                let address = self.address();
                let (name, note) = (name.clone(), note.clone());
                self.emit(Event::Stream { address, name, turn: *turn, value: None, note });
                Ok(())
            }
            What::Tick => Ok(()),
        }
    }

    fn open(&mut self) -> Result<(), Refusal> {
        if self.state.phase != Phase::New {
            return Err(Refusal::new(Code::UnfitAnswer, "the job is open already"));
        }
        self.emit(Event::Opened {
            schema: edition::journal_schema(&self.plan.snapshot.schema),
            job: self.plan.job.id.clone(),
            plan: self.plan.hash.clone(),
            tool: env!("CARGO_PKG_VERSION").to_owned(),
            interpreter: standpipe_script::VERSION.to_owned(),
        });
        if let Some(variant) = &self.plan.job.variant {
            self.emit(Event::Recognised { variant: variant.clone(), signs: IndexMap::new() });
        }
        Ok(())
    }

    /// The step that is under way, if any.
    fn address(&self) -> Option<Address> {
        match walk(self.plan, &self.state) {
            NextWork::Ask { address, ask, .. } => Some(address.with_item(&ask.item)),
            NextWork::Held { address, .. } => Some(address),
            _ => None,
        }
    }

    /// Entries come from the person who has the work in hand.
    fn in_hand(&self) -> Result<(), Refusal> {
        match &self.state.actor {
            Some(actor) if *actor != self.input.by && self.state.phase == Phase::Running => Err(Refusal::new(
                Code::UnfitAnswer,
                format!("the job is in the hands of {actor}, not of {}", self.input.by),
            )
            .help(format!("{} takes it over by resuming it, after looking", self.input.by))),
            _ => Ok(()),
        }
    }

    fn skip(&mut self, because: &str) -> Result<(), Refusal> {
        needs_reason(because)?;
        let (step, address) = match walk(self.plan, &self.state) {
            NextWork::Ask { step, address, .. } | NextWork::Wants { step, address, .. } => (step, address),
            _ => return Err(Refusal::new(Code::UnfitAnswer, "there is no step here that could be left out")),
        };
        if let Some(why) = step.has_to_stand() {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{}` can't be left out: {why}", step.id.value))
                .help("do it, or pause or abandon the job"));
        }
        self.emit(Event::Skipped { address, because: because.to_owned() });
        Ok(())
    }

    fn accept(&mut self, because: &str) -> Result<(), Refusal> {
        needs_reason(because)?;
        let (address, roles, keep) = match walk(self.plan, &self.state) {
            NextWork::Held { step, address, gate, .. } => match &gate.otherwise {
                standpipe_procedure::Otherwise::Ask(roles) => (address, roles.clone(), step.keep),
                _ => {
                    return Err(Refusal::new(
                        Code::UnfitAnswer,
                        format!("nobody may go on past the gate of `{}`", step.id.value),
                    )
                    .help("correct the entry, call for help, or abandon the job"));
                }
            },
            NextWork::Exhausted { step, address, otherwise: standpipe_procedure::Otherwise::Ask(roles), .. } => {
                (address, roles.clone(), step.keep)
            }
            NextWork::Unaccepted { address, .. } => {
                let roles = self.plan.main().may_accept.iter().map(|role| role.value.clone()).collect();
                let keep = self.plan.step(&address.step).is_some_and(|step| step.keep);
                (address, roles, keep)
            }
            _ => return Err(Refusal::new(Code::UnfitAnswer, "there is nothing here to accept")),
        };
        if keep {
            return Err(Refusal::new(
                Code::UnfitAnswer,
                format!("the gate of `{}` is kept: nobody may go on past it", address.step),
            )
            .help("correct the entry if it was wrong, or abandon the job"));
        }
        if !roles.iter().any(|role| self.plan.shop.has_role(&self.input.by, role)) {
            return Err(Refusal::new(Code::UnknownPerson, format!("{} may not accept this", self.input.by))
                .expected(format!("someone in the role {}", roles.join(" or "))));
        }
        self.emit(Event::Accepted { address, because: because.to_owned() });
        Ok(())
    }

    fn supply(&mut self, path: &str, typed: &str, source: &str) -> Result<(), Refusal> {
        if source.trim().is_empty() {
            return Err(Refusal::new(Code::MissingSource, format!("`{path}` without a source"))
                .help("say where the value comes from: the document, its date, who looked it up"));
        }
        let value = self.plan.read_fact(path, typed).map_err(|unfit| Refusal {
            expected: unfit.expected,
            help: unfit.help,
            ..Refusal::new(Code::UnfitAnswer, unfit.message).unfit(Unfit::Value).of(path)
        })?;
        let known = self.names(1).path(&path.split('.').map(str::to_owned).collect::<Vec<_>>());
        if let Some(known) = known.filter(|known| path.starts_with("spec.") && !known.is_unknown()) {
            let message = format!("`{path}` is known already: {}", self.plan.show(&known));
            return Err(Refusal::new(Code::UnfitAnswer, message)
                .help("only what is unknown can be supplied; data that are wrong are corrected in the family's file"));
        }
        self.emit(Event::Supplied { path: path.to_owned(), value, typed: typed.to_owned(), source: source.to_owned() });
        // What is known of the family could not be used before it was known; what was said of the job could.
        match path.starts_with("job.") {
            true => self.follow(Changed::facts(), |_, _| true),
            false => self.reopen(&Change::Values(&Changed::facts())),
        }
        Ok(())
    }

    fn call(&mut self, procedure: &str) -> Result<(), Refusal> {
        let reachable = &self.plan.main().reachable;
        if !reachable.iter().any(|id| id.as_str() == procedure) {
            let ids: Vec<&str> = reachable.iter().map(|id| id.as_str()).collect();
            let mut refusal = Refusal::new(Code::UnfitAnswer, format!("`{procedure}` can't be called from here"))
                .expected(format!("one of: {}", ids.join(", ")));
            if let Some(near) = nearest(procedure, ids) {
                refusal = refusal.help(format!("did you mean `{near}`?"));
            }
            return Err(refusal);
        }
        if matches!(self.state.blocker, Some(super::state::Blocker::Contradiction { .. })) {
            return Err(Refusal::new(Code::UnfitAnswer, "what is seen contradicts what is known")
                .help("correct what was entered, or abandon the job"));
        }
        let at_step = self.address();
        let call = self.state.called.get(procedure).copied().unwrap_or(0) + 1;
        self.emit(Event::Called { procedure: procedure.to_owned(), call, at_step });
        Ok(())
    }

    /// A call that somebody pressed by mistake, as long as nothing has been done in it.
    fn take_back(&mut self) -> Result<(), Refusal> {
        let Some(call) = self.state.calls.last().cloned() else {
            return Err(Refusal::new(Code::UnfitAnswer, "no procedure has been called that could be taken back"));
        };
        if !untouched(self.plan, &self.state, &call) {
            let message = format!("something has been entered in `{}` already", call.procedure);
            return Err(Refusal::new(Code::UnfitAnswer, message).help("go through it, or correct what was entered"));
        }
        self.emit(Event::TakenBack { procedure: call.procedure, call: call.call });
        Ok(())
    }

    fn pause(&mut self) -> Result<(), Refusal> {
        if matches!(self.state.phase, Phase::Pausing | Phase::Paused) {
            return Err(Refusal::new(Code::UnfitAnswer, "the job is being paused already"));
        }
        self.emit(Event::Pausing { pause: self.state.pauses + 1 });
        Ok(())
    }

    fn resume(&mut self) -> Result<(), Refusal> {
        let other = self.state.actor.as_deref() != Some(self.input.by.as_str());
        if self.state.phase == Phase::Running && !other {
            // The process ended without a pause; nobody knows for how long and what was touched.
            self.emit(Event::Resumed { pause: self.state.pauses + 1, unannounced: true });
        } else if self.state.phase == Phase::Running {
            self.emit(Event::Resumed { pause: self.state.pauses + 1, unannounced: false });
        } else if self.state.phase == Phase::Paused || self.state.phase == Phase::Pausing {
            self.emit(Event::Resumed { pause: self.state.pauses, unannounced: self.state.phase == Phase::Pausing });
        } else {
            return Err(Refusal::new(Code::UnfitAnswer, "the job is being resumed already"));
        }
        if other {
            let from = self.state.actor.clone().unwrap_or_default();
            self.emit(Event::TookOver { from });
            self.raise(PERSON);
        }
        self.raise(PAUSE);
        Ok(())
    }

    /// Ends every entry that says this event ends it.
    fn raise(&mut self, event: &str) {
        let (mut lazy, mut at_once) = (Vec::new(), Vec::new());
        for (address, known) in self.state.steps.iter() {
            let Some(step) = self.plan.step(&address.step) else { continue };
            if known.progress.done.is_empty() {
                continue;
            }
            let half_done = step.kind.counts_only_when_complete()
                && !matches!(step.kind.next(&known.progress), standpipe_procedure::Next::Done);
            let ends = step.stale.events.iter().any(|ends| ends == event);
            let starts_over = step.starts_over.iter().any(|ends| ends == event);
            if half_done && (ends || starts_over) {
                at_once.push(address.clone());
            } else if ends {
                lazy.push(address.clone());
            }
        }
        for (addresses, at_once) in [(lazy, false), (at_once, true)] {
            if !addresses.is_empty() {
                self.emit(Event::Ended { addresses, by: event.to_owned(), at_once });
            }
        }
    }

    /// Text of the tag to hang on the work.
    fn tag(&self) -> Vec<String> {
        let names = self.names(1);
        let lines = self.plan.main().tag.iter().filter(|line| match &line.when {
            None => true,
            // A line of warning that can't be ruled out is shown.
            Some(expr) => !matches!(expr.evaluate(&self.plan.scripts, &names), Ok(Value::Truth(false))),
        });
        lines.map(|line| line.text.fill(|path| names.show(path))).collect()
    }
}

/// Whether nothing has been entered in a procedure that was called.
fn untouched(plan: &Plan, state: &State, call: &Call) -> bool {
    let steps = plan.procedure(&call.procedure).map(|procedure| procedure.all_steps()).unwrap_or_default();
    !state.steps.iter().any(|(address, known)| {
        address.rounds.first() == Some(&call.call)
            && steps.iter().any(|step| step.id.as_str() == address.step)
            && (known.attempts > 0 || known.skipped || !known.progress.done.is_empty())
    })
}

fn needs_reason(because: &str) -> Result<(), Refusal> {
    if because.trim().is_empty() {
        return Err(Refusal::new(Code::UnfitAnswer, "a reason is needed")
            .unfit(Unfit::Reason)
            .help("say in a few words why"));
    }
    Ok(())
}
