//! Runs a job from an answers file. Nobody is asked, nothing sleeps; the only clock is that of the answers.

mod from_log;
mod listening;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};

use indexmap::IndexMap;
use jiff::civil::DateTime;

use super::answers::{Answer, Answers, Given};
use super::feed::Feed;
use super::logs::Logs;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::journal::evidence;
use standpipe_job::replay;
use standpipe_job::state::Reading;
use standpipe_job::{
    AnswerKind, Entry, Input, Journal, Machine, Origin, Pending, Phase, Prompt, Record, Refusal, State, What,
};
use standpipe_yaml::At;

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    Finished,
    Abandoned,
    Paused,
    /// An answer is missing, or a fact that nobody has entered.
    Waiting,
    /// A gate, a contradiction or a fault of the plan holds the job.
    Stopped,
    /// An answer did not fit, or could not be recorded. What came before it is recorded.
    Refused,
}

impl End {
    /// How a job stands that asks for this and gets no answer.
    pub fn of(pending: &Pending) -> Self {
        match pending {
            Pending::Nothing { abandoned: true } => Self::Abandoned,
            Pending::Nothing { abandoned: false } => Self::Finished,
            Pending::Resumption { .. } => Self::Paused,
            Pending::Acceptance { .. } | Pending::Stopped { .. } | Pending::Fault { .. } => Self::Stopped,
            Pending::Entry(_) | Pending::Facts { .. } | Pending::Opening => Self::Waiting,
        }
    }
}

#[derive(Debug)]
pub struct Outcome {
    pub end: End,
    pub pending: Pending,
    pub state: State,
    /// Answers left out because the journal has them already.
    pub skipped: usize,
    /// Answers that were taken.
    pub taken: usize,
    pub problems: Problems,
}

/// The job that a run drives: its machine, its journal, and what the journal has so far.
pub struct Job<'a> {
    pub machine: &'a Machine,
    pub journal: &'a mut Journal,
    pub records: &'a [Record],
    /// Number of the last event of each batch.
    pub ends: &'a [u64],
    /// A reader whose rows come up to the time of each answer.
    pub feed: Option<&'a mut Feed>,
}

/// Gives the answers in order until the job ends or one does not fit. Evidence is looked for beside `folder`, that of the
/// answers file. `told` hears every batch as soon as it is on the disk, with the state after it.
///
/// A journal that has events goes on with the answers that were entered after its last one; those entered at the very
/// time of the last event are counted off.
pub fn run(job: Job<'_>, answers: &Answers, folder: &Path, told: &mut dyn FnMut(&State, &[Record])) -> Outcome {
    let Job { machine, journal, records, ends, feed } = job;
    let state = replay::replay(records);
    let mut run =
        Run { machine, journal, state, folder, told, problems: Problems::new(), taken: 0, feed, logs: Logs::default() };
    let mut queue = match timed(&answers.list) {
        Ok(queue) => queue,
        Err(problem) => {
            run.problems.push(*problem);
            return run.outcome(End::Refused, 0);
        }
    };
    let skipped = count_recorded(&queue, records, ends);
    let mut queue = queue.split_off(skipped);
    let end = run.go(&mut queue, records, &answers.id.place);
    run.outcome(end, skipped)
}

/// An answer with its times worked out.
struct Timed<'a> {
    answer: &'a Answer,
    at: DateTime,
    entered_at: Option<DateTime>,
}

impl Outcome {
    /// Exit code of a run that ends so.
    pub fn code(&self) -> u8 {
        let faulty = self.problems.iter().any(Diagnostic::is_error);
        match self.end {
            End::Refused => 2,
            End::Finished | End::Abandoned if faulty => 2,
            End::Finished => 0,
            End::Abandoned | End::Stopped => 1,
            End::Paused | End::Waiting => 3,
        }
    }
}

impl Timed<'_> {
    fn entered(&self) -> DateTime {
        self.entered_at.unwrap_or(self.at)
    }
}

/// The first time has to be absolute: one that counts from the journal would be another one at every run, and answers
/// that the journal has could not be told from others.
fn timed(list: &[Answer]) -> Result<VecDeque<Timed<'_>>, Box<Diagnostic>> {
    let mut before = None;
    let mut queue = VecDeque::new();
    for answer in list {
        let at = answer.at.after(before);
        let entered_at = answer.entered_at.map(|when| when.after(before));
        let (Some(at), Some(entered_at)) = (at, entered_at.map_or(Some(None), |time| time.map(Some))) else {
            let message = match before {
                None => "the first answer has no time to count from",
                Some(_) => "this lies beyond the calendar",
            };
            return Err(Diagnostic::error(Code::UnfitAnswer, &answer.place, message)
                .expected("a date and a time of day, such as 2026-11-23T08:05:00")
                .help("give the first answer its date and time")
                .into());
        };
        before = Some(entered_at.unwrap_or(at));
        queue.push_back(Timed { answer, at, entered_at });
    }
    Ok(queue)
}

/// How many of the first answers the journal has already.
fn count_recorded(queue: &VecDeque<Timed<'_>>, records: &[Record], ends: &[u64]) -> usize {
    let Some(last) = records.last().map(replay::entered) else { return 0 };
    let before = queue.iter().take_while(|timed| timed.entered() < last).count();
    let with_it = replay::answers_at_the_last_time(records, ends);
    before + queue.iter().skip(before).take_while(|timed| timed.entered() == last).count().min(with_it)
}

struct Run<'a> {
    machine: &'a Machine,
    journal: &'a mut Journal,
    state: State,
    folder: &'a Path,
    told: &'a mut dyn FnMut(&State, &[Record]),
    problems: Problems,
    taken: usize,
    feed: Option<&'a mut Feed>,
    logs: Logs,
}

/// What an answer says instead of a value: it is read from the reader that is followed.
const READER: &str = "reader";

impl Run<'_> {
    fn go(&mut self, queue: &mut VecDeque<Timed<'_>>, records: &[Record], nowhere: &Place) -> End {
        let by_hand = records.iter().rev().find(|record| record.origin != Origin::Log);
        let by_hand = by_hand.is_some_and(|record| record.origin == Origin::Typed);
        if let (true, Phase::Running, Some(next)) = (by_hand, &self.state.phase, queue.front())
            && !matches!(next.answer.given, Given::What(What::Resume))
        {
            // Nobody knows what was touched since; what a pause ends has to end.
            self.problems.push(
                Diagnostic::error(
                    Code::UnfitAnswer,
                    &next.answer.place,
                    "the job was under way by hand and was not paused",
                )
                .expected("an answer with `resume: true`")
                .help("resume first: what may have changed meanwhile is then asked again"),
            );
            return End::Refused;
        }
        let mut last = nowhere.clone();
        while let Some(next) = queue.pop_front() {
            if self.state.phase == Phase::New && !self.give(&next, What::Open) {
                return End::Refused;
            }
            if !self.state.is_open() || (self.is_held() && matches!(next.answer.given, Given::Enter { .. })) {
                self.left_over(&next, queue.len() + 1);
                break;
            }
            last = next.answer.place.clone();
            let given = match self.listen(&next).and_then(|()| self.what(&next)) {
                Ok((what, origin)) => self.give_as(&next, what, origin),
                Err(problem) => {
                    self.problems.push(*problem);
                    false
                }
            };
            if !given {
                return End::Refused;
            }
            self.taken += 1;
        }
        self.end(&last)
    }

    /// Nothing that is entered could let the job go on.
    fn is_held(&self) -> bool {
        matches!(
            self.machine.pending(&self.state),
            Pending::Acceptance { .. } | Pending::Stopped { .. } | Pending::Fault { .. } | Pending::Facts { .. }
        )
    }

    fn give(&mut self, next: &Timed<'_>, what: What) -> bool {
        self.give_as(next, what, Origin::Answers)
    }

    /// Decides, records, applies; a refusal becomes a message at the answer.
    fn give_as(&mut self, next: &Timed<'_>, what: What, origin: Origin) -> bool {
        let Timed { answer, at, entered_at } = next;
        let input = Input { at: *at, entered_at: *entered_at, by: answer.by.clone(), origin, what };
        self.record(&input, &answer.place)
    }

    fn record(&mut self, input: &Input, place: &Place) -> bool {
        let records = match self.machine.decide(&self.state, input) {
            Ok(records) => records,
            Err(refusal) => {
                self.problems.push(refusal.at(place));
                return false;
            }
        };
        if let Err(problem) = self.journal.append(&records) {
            self.problems.push(*problem);
            return false;
        }
        for record in &records {
            self.state.apply(record);
        }
        (self.told)(&self.state, &records);
        true
    }

    /// What an answer comes to where the job stands. Its files are kept here, before the event that names them.
    fn what(&mut self, next: &Timed<'_>) -> Result<(What, Origin), Box<Diagnostic>> {
        let answer = next.answer;
        match &answer.given {
            Given::Enter { entry, bare, evidence: files, log } => {
                let mut entry = entry.clone();
                let mut origin = Origin::Answers;
                if let (Some(bare), Pending::Entry(prompt)) = (bare, self.machine.pending(&self.state))
                    && bare.value == READER
                    && prompt.address.step == entry.step
                    && !is_option(&prompt, READER)
                {
                    let (name, value, read) = self.read_now(&prompt, next.at, &bare.place)?;
                    entry.typed = IndexMap::from([(name, value)]);
                    entry.read = read.map(Box::new);
                    origin = Origin::Log;
                } else if let Some(bare) = bare {
                    self.bare(&mut entry, bare)?;
                }
                if let Some(log) = log {
                    self.fill_from_log(&mut entry, log, next)?;
                    let read = entry.read.as_ref();
                    if read.is_some_and(|read| entry.typed.keys().all(|name| read.values.contains_key(name))) {
                        origin = Origin::Log;
                    }
                }
                for file in files {
                    entry.evidence.push(self.keep(file)?);
                }
                Ok((What::Enter(entry), origin))
            }
            Given::Attach(file) => {
                self.under_way(answer)?;
                Ok((What::Attach(self.keep(file)?), Origin::Answers))
            }
            Given::Correct { entry, values, because } => {
                self.under_way(answer)?;
                let of = |reading: &&Reading| {
                    reading.address == entry.value && !reading.computed && values.contains_key(&reading.name)
                };
                let Some(reading) = self.state.readings.iter().rev().find(of) else {
                    let names: Vec<&str> = values.keys().map(String::as_str).collect();
                    let message = format!("nothing was entered for {} at `{}`", names.join(", "), entry.value);
                    return Err(Box::new(
                        Diagnostic::error(Code::UnfitAnswer, &entry.place, message)
                            .help("write the step and its rounds as the record has them, such as `look[2]`"),
                    ));
                };
                let (values, because) = (values.clone(), because.clone());
                Ok((What::Correct { entry: Some(reading.seq), values, because }, Origin::Answers))
            }
            Given::What(what) => {
                self.under_way(answer)?;
                Ok((what.clone(), Origin::Answers))
            }
        }
    }

    fn keep(&self, file: &At<String>) -> Result<standpipe_job::EvidenceRef, Box<Diagnostic>> {
        evidence::keep(self.journal.dir(), &self.folder.join(PathBuf::from(&file.value)), &file.place)
    }

    /// `done` confirms; another word is the value of the only thing that is asked.
    fn bare(&self, entry: &mut Entry, bare: &At<String>) -> Result<(), Box<Diagnostic>> {
        let Pending::Entry(prompt) = self.machine.pending(&self.state) else { return Ok(()) };
        if prompt.address.step != entry.step {
            // The machine says what is asked instead.
            return Ok(());
        }
        let asked: Vec<_> = prompt.fields.iter().filter(|field| field.kind != AnswerKind::Done).collect();
        match asked.as_slice() {
            _ if bare.value == "done" && !is_option(&prompt, "done") => {}
            [field] => entry.typed = IndexMap::from([(field.name.clone(), bare.value.clone())]),
            [] => {
                let message = format!("`{}` is confirmed, and nothing is entered", entry.step);
                return Err(Diagnostic::error(Code::UnfitAnswer, &bare.place, message)
                    .expected("`enter: done`")
                    .into());
            }
            several => {
                let names: Vec<&str> = several.iter().map(|field| field.name.as_str()).collect();
                let message =
                    format!("`{}` asks for {} values, and one without a name is entered", entry.step, names.len());
                return Err(Diagnostic::error(Code::UnfitAnswer, &bare.place, message)
                    .expected(format!("`enter: {{ {}: ... }}`", names.join(": ..., ")))
                    .into());
            }
        }
        Ok(())
    }

    /// An answer that names a step is meant for that one.
    fn under_way(&self, answer: &Answer) -> Result<(), Box<Diagnostic>> {
        let Some(step) = &answer.step else { return Ok(()) };
        let pending = self.machine.pending(&self.state);
        match pending.step() {
            Some(asked) if asked != step.value => {
                let message = format!("this is for `{}`, but `{asked}` is under way", step.value);
                Err(Refusal::new(Code::UnfitAnswer, message)
                    .expected(format!("an answer for `{asked}`, or one that names no step"))
                    .at(&step.place)
                    .into())
            }
            _ => Ok(()),
        }
    }

    fn left_over(&mut self, next: &Timed<'_>, count: usize) {
        let pending = self.machine.pending(&self.state);
        let why = match &self.state.phase {
            Phase::Finished => "the job is finished".to_owned(),
            Phase::Abandoned => "the job was abandoned".to_owned(),
            _ => format!("the job is held at `{}`", pending.step().unwrap_or_default()),
        };
        let answers = if count == 1 { "1 answer is".to_owned() } else { format!("{count} answers are") };
        self.problems.push(
            Diagnostic::error(
                Code::AnswersLeftOver,
                &next.answer.place,
                format!("{why}, and {answers} left over from here on"),
            )
            .expected("as many answers as the job asks for")
            .help("take them out, or correct the answer that made the job take another way"),
        );
    }

    fn end(&mut self, last: &Place) -> End {
        let pending = self.machine.pending(&self.state);
        let end = End::of(&pending);
        if end == End::Waiting {
            self.problems.push(missing(&pending, last));
        }
        end
    }

    fn outcome(self, end: End, skipped: usize) -> Outcome {
        let pending = self.machine.pending(&self.state);
        Outcome { end, pending, state: self.state, skipped, taken: self.taken, problems: self.problems }
    }
}

type Fault = Box<Diagnostic>;

fn unread(next: &Timed<'_>, message: String, help: &str) -> Fault {
    Box::new(Diagnostic::error(Code::UnreadableFile, &next.answer.place, message).help(help))
}

fn is_option(prompt: &Prompt, word: &str) -> bool {
    prompt.fields.iter().any(|field| field.options.iter().any(|(option, _)| option == word))
}

/// The answers end here, and the job goes on asking.
fn missing(pending: &Pending, last: &Place) -> Diagnostic {
    let message = match pending {
        Pending::Entry(prompt) => format!("the answers end here, and `{}` waits: {}", prompt.asks, prompt.title),
        Pending::Facts { address, missing, .. } => {
            format!("the answers end here, and `{address}` waits for what nobody has entered: {}", missing.join(", "))
        }
        _ => "there are no answers".to_owned(),
    };
    let problem = Diagnostic::error(Code::MissingAnswer, last, message);
    match pending {
        Pending::Entry(prompt) => {
            let fields: Vec<String> =
                prompt.fields.iter().map(|field| format!("{}: {}", field.name, field.expected)).collect();
            problem.expected(if fields.is_empty() { "a confirmation".to_owned() } else { fields.join("; ") }).help(
                format!("add an answer for step `{}`, and run the job again: it goes on here", prompt.address.step),
            )
        }
        Pending::Facts { .. } => problem.help("add `supply:` with the value and its source, and run the job again"),
        _ => problem.help("add the first answer"),
    }
}
