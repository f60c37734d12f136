//! From events to a record. The events are applied one by one, so that every text is filled as it was then.

use indexmap::IndexMap;
use jiff::civil::DateTime;

use super::{
    Assumed, Call, Computed, Correction, Fact, Measured, Note, Pause, PlanId, Reasoned, RecordView, Required, SCHEMA,
    Status, Work,
};
use crate::job::names::JobNames;
use crate::job::{Address, Event, Machine, Pending, Phase, Record, State, Verdict, Witness};
use crate::plan::Plan;
use crate::value::Value;

/// The record that events amount to. `seal` is shown once the journal is closed.
pub fn view(machine: &Machine, records: &[Record], seal: Option<&str>) -> RecordView {
    let plan = &machine.plan;
    let mut builder = Builder { plan, state: State::default(), view: empty(plan) };
    for record in records {
        builder.take(record);
    }
    let Builder { state, mut view, .. } = builder;
    settle(plan, &state, &mut view);
    let pending = machine.pending(&state);
    view.status = status(&state, &pending);
    view.open = open(plan, &state, &pending, &view);
    view.outcome = super::summary::outcome(&view);
    view.seal = (!state.is_open()).then(|| seal.unwrap_or_default().to_owned()).filter(|seal| !seal.is_empty());
    view
}

fn empty(plan: &Plan) -> RecordView {
    RecordView {
        schema: SCHEMA,
        invented: plan.invented,
        job: plan.job.id.clone(),
        title: plan.job.title.clone(),
        procedure: plan.main().title.clone(),
        family: plan.family.title.clone().unwrap_or_else(|| plan.family.id.clone()),
        variant: None,
        shop: plan.shop.title.clone(),
        facts: Vec::new(),
        status: Status::UnderWay,
        outcome: [String::new(), String::new()],
        opened: None,
        closed: None,
        doers: Vec::new(),
        open: Vec::new(),
        work: Vec::new(),
        required: Vec::new(),
        computed: Vec::new(),
        assumed: Vec::new(),
        corrections: Vec::new(),
        skipped: Vec::new(),
        accepted: Vec::new(),
        calls: Vec::new(),
        pauses: Vec::new(),
        notes: Vec::new(),
        evidence: Vec::new(),
        plan: PlanId {
            hash: plan.hash.clone(),
            tool: plan.snapshot.tool.clone(),
            interpreter: plan.snapshot.interpreter.clone(),
        },
        seal: None,
    }
}

struct Builder<'a> {
    plan: &'a Plan,
    state: State,
    view: RecordView,
}

impl Builder<'_> {
    fn take(&mut self, record: &Record) {
        let at = clock(record.at);
        match &record.event {
            Event::Opened { .. } => self.view.opened = Some(at),
            Event::Entered { .. } => self.entered(record),
            Event::Judged { .. } => self.judged(record),
            Event::Computed { .. } => self.computed(record),
            Event::Corrected { entry, values, typed, because } => {
                for (name, value) in values {
                    let was = self.state.readings.iter().find(|reading| reading.seq == *entry && reading.name == *name);
                    self.view.corrections.push(Correction {
                        at: at.clone(),
                        by: record.by.clone(),
                        entry: *entry,
                        name: name.clone(),
                        was: was.map(|reading| self.plan.show(&reading.value)).unwrap_or_default(),
                        is: typed.get(name).cloned().unwrap_or_else(|| self.plan.show(value)),
                        because: because.clone(),
                    });
                }
            }
            Event::Skipped { address, because } => {
                let reasoned = self.reasoned(record, address, because);
                self.view.skipped.push(reasoned);
            }
            Event::Accepted { address, because } => {
                let reasoned = self.reasoned(record, address, because);
                self.view.accepted.push(reasoned);
            }
            Event::Supplied { path, value, source, .. } => self.view.assumed.push(Assumed {
                what: path.clone(),
                shown: self.plan.show(value),
                source: source.clone(),
                by: record.by.clone(),
            }),
            Event::Called { procedure, .. } => self.view.calls.push(Call {
                at,
                by: record.by.clone(),
                title: self.plan.procedure(procedure).map(|it| it.title.clone()).unwrap_or_default(),
                procedure: procedure.clone(),
            }),
            Event::Paused { tag, .. } => self.view.pauses.push(Pause {
                from: Some(at),
                to: None,
                by: record.by.clone(),
                resumed_by: None,
                tag: tag.clone(),
                unannounced: false,
            }),
            Event::Resumed { unannounced, .. } => {
                match self.view.pauses.last_mut().filter(|pause| pause.to.is_none()) {
                    Some(pause) => {
                        pause.to = Some(at);
                        pause.resumed_by = Some(record.by.clone());
                    }
                    None => self.view.pauses.push(Pause {
                        from: None,
                        to: Some(at),
                        by: self.state.actor.clone().unwrap_or_default(),
                        resumed_by: Some(record.by.clone()),
                        tag: Vec::new(),
                        unannounced: *unannounced,
                    }),
                }
            }
            Event::Noted { text, .. } => self.view.notes.push(Note { at, by: record.by.clone(), text: text.clone() }),
            Event::Attached { evidence, .. } => self.view.evidence.push(evidence.clone()),
            Event::Abandoned { because } => {
                self.view.closed = Some(at.clone());
                self.view.notes.push(Note { at, by: record.by.clone(), text: format!("abandoned: {because}") });
            }
            Event::Finished => self.view.closed = Some(at),
            Event::Recovered { bytes, moved_to } => self.view.notes.push(Note {
                at,
                by: record.by.clone(),
                text: format!("{bytes} torn bytes at the end of the journal were moved to {moved_to}"),
            }),
            _ => {}
        }
        self.state.apply(record);
    }

    fn title(&self, address: &Address) -> String {
        let at = self.state.at.unwrap_or_default();
        let names = JobNames::new(self.plan, &self.state, at, address.round());
        let title = self.plan.step(&address.step).map(|step| step.title.fill(|path| names.show(path)));
        title.unwrap_or_else(|| address.step.clone())
    }

    fn reasoned(&self, record: &Record, address: &Address, because: &str) -> Reasoned {
        Reasoned {
            at: clock(record.at),
            by: record.by.clone(),
            address: address.to_string(),
            title: self.title(address),
            because: because.to_owned(),
        }
    }

    fn entered(&mut self, record: &Record) {
        let Event::Entered { address, values, typed, with, witness, evidence, remarks, done, .. } = &record.event
        else {
            return;
        };
        self.view.evidence.extend(evidence.iter().cloned());
        let values: Vec<Measured> = values
            .iter()
            .filter(|(_, value)| !value.is_unknown())
            .map(|(name, value)| Measured {
                name: name.clone(),
                shown: self.plan.show(value),
                typed: typed.get(name).cloned().unwrap_or_default(),
                with: with.get(name).cloned(),
                number: matches!(value, Value::Number(_) | Value::Quantity(_)),
                value: value.clone(),
            })
            .collect();
        // Items of one pass that were done in one go are one line.
        if let Some(last) = self.view.work.last_mut()
            && !address.item.is_empty()
            && !last.items.is_empty()
            && last.address == address.whole().to_string()
            && last.by == record.by
            && last.counts == *done
            && pass(last.items.last()) == pass(Some(&address.item))
            && last.remarks == *remarks
            && same_words(&last.values, &values)
        {
            last.items.push(address.item.clone());
            return;
        }
        let title = self.title(address);
        self.view.work.push(Work {
            seq: record.seq,
            at: clock(record.at),
            entered_at: record.entered_at.map(clock),
            by: record.by.clone(),
            address: address.whole().to_string(),
            title,
            items: Some(address.item.clone()).filter(|item| !item.is_empty()).into_iter().collect(),
            values,
            counts: *done,
            remarks: remarks.clone(),
            witness: witness.as_ref().map(|witness| match witness {
                Witness::By(person) => person.clone(),
                Witness::NotShown(why) => format!("not shown: {why}"),
            }),
            evidence: evidence.len(),
        });
    }

    fn judged(&mut self, record: &Record) {
        let Event::Judged { address, verdict, found, missing, again, supersedes } = &record.event else { return };
        if let Some(old) = supersedes
            && let Some(required) = self.view.required.iter_mut().find(|required| required.seq == *old)
        {
            required.superseded = true;
        }
        let step = self.plan.step(&address.step);
        let gate = step.and_then(|step| step.gate.as_ref());
        let title = self.title(address);
        self.view.required.push(Required {
            seq: record.seq,
            at: clock(record.at),
            address: address.to_string(),
            title,
            must: gate.map(|gate| one_line(gate.must.text())).unwrap_or_default(),
            verdict: *verdict,
            found: facts(self.plan, found),
            missing: missing.clone(),
            place: gate.map(|gate| gate.must.place().to_string()).unwrap_or_default(),
            superseded: *again,
            accepted: false,
            keep: step.is_some_and(|step| step.keep),
        });
    }

    fn computed(&mut self, record: &Record) {
        let Event::Computed { address, gives, sheet, inputs, value, missing, warnings, supersedes, .. } = &record.event
        else {
            return;
        };
        let Some(name) = gives else { return };
        let values = match value {
            Value::Record(fields) => facts(self.plan, fields),
            value => vec![Fact { path: name.clone(), value: value.clone(), shown: self.plan.show_computed(value) }],
        };
        let title = self.title(address);
        if let Some(old) = supersedes {
            self.view.computed.retain(|computed| computed.seq != *old);
        }
        self.view.computed.push(Computed {
            seq: record.seq,
            address: address.to_string(),
            title,
            name: name.clone(),
            sheet: sheet.clone(),
            inputs: facts(self.plan, inputs),
            values,
            missing: missing.clone(),
            warnings: warnings.clone(),
            supersedes: *supersedes,
        });
    }
}

/// What can only be said at the end.
fn settle(plan: &Plan, state: &State, view: &mut RecordView) {
    view.variant.clone_from(&state.variant);
    view.doers = state.doers.iter().cloned().collect();
    for required in &mut view.required {
        required.accepted = state.verdicts.iter().any(|passed| passed.seq == required.seq && passed.accepted);
    }
    let mut leaves = Vec::new();
    flatten(&plan.job_facts(&state.supplied), String::new(), &mut leaves);
    view.facts = leaves.into_iter().map(|(path, value)| Fact { shown: plan.show(&value), path, value }).collect();
}

fn status(state: &State, pending: &Pending) -> Status {
    match (&state.phase, pending) {
        (Phase::Finished, _) => Status::Finished,
        (Phase::Abandoned, _) => Status::Abandoned,
        (Phase::Paused, _) => Status::Paused,
        (_, Pending::Stopped { .. } | Pending::Acceptance { .. } | Pending::Fault { .. }) => Status::Stopped,
        _ => Status::UnderWay,
    }
}

fn open(plan: &Plan, state: &State, pending: &Pending, view: &RecordView) -> Vec<String> {
    let mut open = Vec::new();
    match pending {
        Pending::Entry(prompt) => open.push(format!("waits at `{}`: {}", prompt.asks, prompt.title)),
        Pending::Acceptance { address, because, roles, .. } => {
            open.push(format!("waits at `{address}` for {}: {because}", roles.join(" or ")));
        }
        Pending::Stopped { address, because, .. } => open.push(format!("stopped at `{address}`: {because}")),
        Pending::Facts { address, missing, .. } => {
            open.push(format!("waits at `{address}`: nobody has entered {}", missing.join(", ")));
        }
        Pending::Fault { address, message, .. } => open.push(format!("a fault of the plan at `{address}`: {message}")),
        Pending::Resumption { .. } => open.push("paused".to_owned()),
        Pending::Opening | Pending::Nothing { .. } => {}
    }
    for required in &view.required {
        if !required.superseded && required.verdict != Verdict::Met && !required.accepted {
            open.push(format!("`{}` is {}", required.address, required.verdict.words()));
        }
    }
    for work in &view.work {
        if let Some(witness) = work.witness.as_ref().filter(|witness| witness.starts_with("not shown")) {
            open.push(format!("nobody else looked at `{}` ({witness})", work.address));
        }
    }
    for skipped in &view.skipped {
        let signed = plan.step(&skipped.address).is_some_and(|step| step.kind.word() == "sign");
        if signed {
            open.push(format!("no signature at `{}`: not shown", skipped.address));
        }
    }
    let _ = state;
    open
}

fn facts(plan: &Plan, values: &IndexMap<String, Value>) -> Vec<Fact> {
    values
        .iter()
        .map(|(path, value)| Fact { path: path.clone(), value: value.clone(), shown: plan.show_computed(value) })
        .collect()
}

fn flatten(value: &Value, path: String, out: &mut Vec<(String, Value)>) {
    match value {
        Value::Record(fields) => {
            for (name, value) in fields {
                flatten(value, if path.is_empty() { name.clone() } else { format!("{path}.{name}") }, out);
            }
        }
        other => out.push((path, other.clone())),
    }
}

fn pass(item: Option<&String>) -> &str {
    item.and_then(|item| item.rsplit_once('/')).map_or("", |(pass, _)| pass)
}

/// Confirmations can be told as one; readings can't.
fn same_words(a: &[Measured], b: &[Measured]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.name == b.name && a.typed == b.typed && a.with == b.with)
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A time as a record shows it, to the minute or the second.
fn clock(at: DateTime) -> String {
    if at.second() == 0 {
        at.strftime("%Y-%m-%d %H:%M").to_string()
    } else {
        at.strftime("%Y-%m-%d %H:%M:%S").to_string()
    }
}
