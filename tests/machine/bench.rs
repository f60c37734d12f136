//! A plan from a few lines of YAML, and a job on it that is driven by hand.

use indexmap::IndexMap;
use jiff::ToSpan;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Look, Problems, human};
use standpipe_job::plan::{Inputs, Plan, build};
use standpipe_job::replay::{input_of, replay};
use standpipe_job::{Entry, Event, Input, Machine, Moment, Origin, Pending, Prompt, Record, Refusal, State, What};
use standpipe_library::{File, Files, Layer};

pub const FORM: &str = "\
form: kettle
title: Kettle
records:
  ring: { count: count, torque: torque, pattern: text, passes: list of text }
fields:
  limit: { is: temperature }
  window: { is: range of temperature }
  area: { is: area }
  ring: { is: ring }
  positions: { is: list of text }
recognised_by:
  feet: { is: count, ask: How many feet? }
job:
  owner: { is: text }
";

pub const FAMILY: &str = "\
family: grebe
form: kettle
title: Grebe
invented: true
limit: 30 degC
window: 35..45 degC
ring: { count: 4, torque: 8 N·m, passes: [hand, full] }
positions: [up, down]
variants:
  three-feet: { recognised_by: { feet: 3 } }
  four-feet: { recognised_by: { feet: 4 }, area: 120 cm2 }
sources:
  - { covers: all, from: invented for the tests }
";

pub const SHOP: &str = "\
shop: test-bench
invented: true
units: { system: metric }
people:
  ann: { name: Ann A., roles: [hand] }
  bob: { name: Bob B., roles: [hand, head] }
  eve: { name: Eve E., roles: [head, checker] }
instruments:
  probe: { kind: reader, range: -20..150 degC, unit: degC, due: 2030-01-01 }
  true-probe: { kind: true-reader, range: -20..150 degC, accuracy: 1 degC, unit: degC, due: 2030-01-01 }
  sticker: { kind: surface-reader, range: 0..100 degC, unit: degC }
";

/// A job on a procedure, in the hands of Ann.
pub struct Job {
    pub machine: Machine,
    pub state: State,
    pub records: Vec<Record>,
    now: Moment,
    by: String,
}

/// Builds a plan from the steps of a procedure and whatever else it needs; keys of the procedure may stand before.
pub fn plan(procedure: &str, others: &[(&str, &str)]) -> Result<Plan, String> {
    plan_over(procedure, others, &[])
}

/// As [`plan`], with overlays that the shop lists in this order.
pub fn plan_over(procedure: &str, others: &[(&str, &str)], overlays: &[(&str, &str)]) -> Result<Plan, String> {
    let listed: Vec<&str> = overlays.iter().map(|(id, _)| *id).collect();
    plan_in(Some(format!("{SHOP}overlays: [{}]\n", listed.join(", "))), procedure, others, overlays)
}

/// As [`plan_over`], in another shop, or in none.
pub fn plan_in(
    shop: Option<String>,
    procedure: &str,
    others: &[(&str, &str)],
    overlays: &[(&str, &str)],
) -> Result<Plan, String> {
    let mut files = Files::built_in();
    let mut add = |path: &str, text: &str| files.list.push(File::new(Layer::Given(1), "test", path, text));
    add(
        "plugin.yaml",
        "plugin: test\nversion: \"1.0.0\"\nlicence: MIT OR Apache-2.0\nauthor: tests\nplugins: [units]\ninvented: true\n",
    );
    add("forms/kettle.yaml", FORM);
    add("families/grebe.yaml", FAMILY);
    add("procedures/main.yaml", &format!("procedure: main\ntitle: Main\n{procedure}"));
    for (id, text) in others {
        add(&format!("procedures/{id}.yaml"), &format!("procedure: {id}\ntitle: {id}\n{text}"));
    }
    if !overlays.is_empty() {
        let text = "plugin: ours\nversion: \"1.0.0\"\nplugins: [test]\n";
        files.list.push(File::new(Layer::Shop(1), "ours", "plugin.yaml", text));
    }
    for (id, text) in overlays {
        let path = format!("overlays/{id}.yaml");
        files.list.push(File::new(Layer::Shop(1), "ours", &path, format!("overlay: {id}\n{text}")));
    }
    let job = Source::new("job.yaml", "job: T-1\nfamily: grebe\nprocedure: main\nowner: nobody\n");
    let mut problems = Problems::new();
    let plan = build(Inputs::new(job, shop.map(|text| Source::new("shop.yaml", text)), files), &mut problems);
    plan.ok_or_else(|| human(&problems, Look { color: false, width: 100, folded: false }))
}

impl Job {
    pub fn new(procedure: &str) -> Self {
        Self::with(procedure, &[])
    }

    pub fn with(procedure: &str, others: &[(&str, &str)]) -> Self {
        Self::on(plan(procedure, others))
    }

    pub fn on(plan: Result<Plan, String>) -> Self {
        let plan = plan.unwrap_or_else(|problems| panic!("{problems}"));
        let now = "2026-11-23T08:00:00+01:00".parse().unwrap();
        let mut job =
            Self { machine: Machine::new(plan), state: State::default(), records: Vec::new(), now, by: "ann".into() };
        job.input(What::Open).unwrap();
        job
    }

    pub fn by(&mut self, person: &str) -> &mut Self {
        self.by = person.to_owned();
        self
    }

    pub fn later(&mut self, minutes: i64) -> &mut Self {
        self.seconds_later(60 * minutes)
    }

    pub fn seconds_later(&mut self, seconds: i64) -> &mut Self {
        self.now = self.now.saturating_add(seconds.seconds());
        self
    }

    pub fn now(&self) -> Moment {
        self.now
    }

    pub fn input(&mut self, what: What) -> Result<Vec<Event>, Refusal> {
        let input = Input { at: self.now, entered_at: None, by: self.by.clone(), origin: Origin::Answers, what };
        let before = format!("{:?}", self.state);
        let decided = self.machine.decide(&self.state, &input);
        assert_eq!(format!("{:?}", self.state), before, "deciding changes no state, refused or not");
        let records = decided?;
        // What was recorded says what was given: decided again from that, it comes to the same.
        if !records.is_empty() {
            let again = self.machine.decide(&self.state, &input_of(&records).unwrap());
            assert_eq!(again.as_ref(), Ok(&records), "{:?}", input.what);
        }
        for record in &records {
            self.state.apply(record);
        }
        self.records.extend(records.clone());
        // What was found when it was looked at before must not show.
        let unseen = self.machine.pending(&replay(&self.records));
        assert_eq!(format!("{:?}", self.machine.pending(&self.state)), format!("{unseen:?}"));
        Ok(records.into_iter().map(|record| record.event).collect())
    }

    pub fn enter(&mut self, step: &str, typed: &[(&str, &str)]) -> Result<Vec<Event>, Refusal> {
        self.enter_with(step, typed, |_| {})
    }

    pub fn enter_with(
        &mut self,
        step: &str,
        typed: &[(&str, &str)],
        change: impl FnOnce(&mut Entry),
    ) -> Result<Vec<Event>, Refusal> {
        let typed: IndexMap<String, String> = typed.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
        let mut entry = Entry { step: step.to_owned(), typed, ..Entry::default() };
        change(&mut entry);
        self.input(What::Enter(entry))
    }

    /// Enters a confirmation of something done now, so many minutes later. The clock of the bench stays.
    pub fn late(&mut self, minutes: i64, step: &str) -> Result<(), Refusal> {
        let entry = Entry { step: step.to_owned(), ..Entry::default() };
        let input = Input {
            at: self.now,
            entered_at: Some(self.now.saturating_add(minutes.minutes())),
            by: self.by.clone(),
            origin: Origin::Answers,
            what: What::Enter(entry),
        };
        for record in self.machine.decide(&self.state, &input)? {
            self.state.apply(&record);
            self.records.push(record);
        }
        Ok(())
    }

    pub fn done(&mut self, step: &str) {
        self.enter(step, &[]).unwrap_or_else(|refusal| panic!("{step}: {refusal:?}"));
    }

    pub fn pending(&self) -> Pending {
        self.machine.pending(&self.state)
    }

    /// The prompt that is open.
    pub fn prompt(&self) -> Prompt {
        match self.pending() {
            Pending::Entry(prompt) => *prompt,
            other => panic!("nothing is asked: {other:?}"),
        }
    }

    /// What is asked, as answers name it.
    pub fn asks(&self) -> String {
        match self.pending() {
            Pending::Entry(prompt) => prompt.asks,
            other => format!("{other:?}"),
        }
    }

    /// A fresh state from the records alone.
    pub fn replayed(&self) -> State {
        let mut state = State::default();
        for record in &self.records {
            let line = serde_json::to_string(record).unwrap();
            state.apply(&serde_json::from_str(&line).unwrap_or_else(|fault| panic!("{line}: {fault}")));
        }
        state
    }

    pub fn is_finished(&self) -> bool {
        matches!(self.pending(), Pending::Nothing { abandoned: false })
    }
}
