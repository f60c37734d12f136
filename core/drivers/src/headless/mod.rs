//! Runs a job from an answers file. Nobody is asked, nothing sleeps; the only clock is that of the answers.

mod from_log;
mod listening;

use std::collections::VecDeque;
use std::path::Path;

use indexmap::IndexMap;
use standpipe_job::Moment;

use super::answers::{Answer, Answers, Given as Says};
use super::drive::{Driver, drive};
use super::feed::Feed;
use super::listen::{is_listening, told};
use super::logs::Logs;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::replay;
use standpipe_job::state::Reading;
use standpipe_job::{
    AnswerKind, Entry, EvidenceRef, Given, Kept, NotKept, OpenJob, Origin, Pending, Phase, Prompt, Record, Refusal,
    State, What, When,
};
use standpipe_stream::Heard;
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

/// Gives the answers in order until the job ends or one does not fit. Evidence is looked for beside `folder`, that of the
/// answers file; `feed`: a reader whose rows come up to the time of each answer.
///
/// A journal that has events goes on with the answers that were entered after its last one; those entered at the very
/// time of the last event are counted off.
pub fn run(job: &mut OpenJob, answers: &Answers, folder: &Path, feed: Option<&mut Feed>) -> Outcome {
    let mut run = Run {
        job,
        folder,
        problems: Problems::new(),
        taken: 0,
        feed,
        logs: Logs::default(),
        queue: VecDeque::new(),
        answer: None,
        due: VecDeque::new(),
        giving: Giving::Opening,
        refused: false,
        last: answers.id.place.clone(),
    };
    let mut queue = match timed(&answers.list) {
        Ok(queue) => queue,
        Err(problem) => {
            run.problems.push(*problem);
            return run.outcome(End::Refused, 0);
        }
    };
    let skipped = count_recorded(&queue, run.job.records(), run.job.ends());
    run.queue = queue.split_off(skipped);
    // Every input has the time of its answer; no clock is looked at.
    let end = drive(&mut run, &|| Moment::default());
    run.outcome(end, skipped)
}

/// An answer with its times worked out.
#[derive(Clone, Copy)]
struct Timed<'a> {
    answer: &'a Answer,
    at: Moment,
    entered_at: Option<Moment>,
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
    fn given(&self, what: What, origin: Origin) -> Given {
        let when = When::Told { at: self.at, entered_at: self.entered_at };
        Given { id: None, on: None, via: None, by: self.answer.by.clone(), origin, when, what }
    }

    fn entered(&self) -> Moment {
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
    job: &'a mut OpenJob,
    folder: &'a Path,
    problems: Problems,
    taken: usize,
    feed: Option<&'a mut Feed>,
    logs: Logs,
    queue: VecDeque<Timed<'a>>,
    /// The answer under way, and what is due for it.
    answer: Option<Timed<'a>>,
    due: VecDeque<Due>,
    giving: Giving,
    /// Something was not kept: the rest is not given.
    refused: bool,
    last: Place,
}

/// What comes next of an answer.
enum Due {
    Open,
    /// What a reader did, if the machine takes note of it where the job then stands.
    Heard(Moment, Heard),
    Told(Moment, What),
    /// To be looked what the answer comes to.
    Look,
    Answer(What, Origin),
}

/// What was given last.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Giving {
    Opening,
    Reading,
    Answer,
}

/// What an answer says instead of a value: it is read from the reader that is followed.
const READER: &str = "reader";

impl Driver for Run<'_> {
    type Left = End;

    fn job(&mut self) -> &mut OpenJob {
        self.job
    }

    fn next(&mut self) -> Result<Given, End> {
        loop {
            if self.refused {
                return Err(End::Refused);
            }
            let (Some(answer), Some(due)) = (self.answer, self.due.pop_front()) else {
                self.turn_to_next()?;
                continue;
            };
            match due {
                Due::Open => return Ok(self.given(Giving::Opening, answer.given(What::Open, Origin::Answers))),
                Due::Heard(at, heard) => {
                    let told = told(self.job.machine(), self.job.state(), heard, at);
                    if let Some(what) = told {
                        self.due.push_front(Due::Told(at, what));
                    }
                }
                Due::Told(at, what) if is_listening(self.job.state()) => {
                    let state = self.job.state();
                    let at = state.at.map_or(at, |last| at.max(last));
                    let by = state.actor.clone().unwrap_or_else(|| answer.answer.by.clone());
                    let given =
                        Given { by, when: When::Told { at, entered_at: None }, ..answer.given(what, Origin::Log) };
                    return Ok(self.given(Giving::Reading, given));
                }
                Due::Told(..) => {}
                Due::Look => match self.what(&answer) {
                    Ok((what, origin)) => self.due.push_back(Due::Answer(what, origin)),
                    Err(problem) => return Err(self.refuse(*problem)),
                },
                Due::Answer(what, origin) => return Ok(self.given(Giving::Answer, answer.given(what, origin))),
            }
        }
    }

    fn told(&mut self, end: Result<Kept, NotKept>) {
        match end {
            Ok(_) => self.taken += usize::from(self.giving == Giving::Answer),
            Err(not_kept) => {
                let Some(answer) = self.answer else { return };
                self.refuse(not_kept.at(&answer.answer.place));
                if self.giving == Giving::Reading {
                    let message = "what the reader did can't be recorded".to_owned();
                    self.refuse(*unread(&answer, message, "see the message before"));
                }
            }
        }
    }
}

impl<'a> Run<'a> {
    fn given(&mut self, giving: Giving, given: Given) -> Given {
        self.giving = giving;
        given
    }

    fn refuse(&mut self, problem: Diagnostic) -> End {
        self.problems.push(problem);
        self.refused = true;
        End::Refused
    }

    /// On to the next answer, and what is heard up to it.
    fn turn_to_next(&mut self) -> Result<(), End> {
        let Some(next) = self.queue.pop_front() else { return Err(self.end()) };
        // Before the reader's rows and the answer's files are looked at.
        let what = match &next.answer.given {
            Says::What(what) => Some(what),
            _ => None,
        };
        if let Err(refusal) = self.job.may_go_on(Origin::Answers, what) {
            return Err(self.refuse(refusal.at(&next.answer.place)));
        }
        self.answer = Some(next);
        if self.job.state().phase == Phase::New && self.giving == Giving::Opening {
            self.due.push_back(Due::Open);
            self.queue.push_front(next);
            return Ok(());
        }
        let is_entered = matches!(next.answer.given, Says::Enter { .. });
        if !self.job.state().is_open() || (self.job.pending().is_held() && is_entered) {
            self.left_over(&next, self.queue.len() + 1);
            return Err(self.end());
        }
        self.last = next.answer.place.clone();
        if let Err(problem) = self.listen(&next) {
            return Err(self.refuse(*problem));
        }
        self.due.push_back(Due::Look);
        Ok(())
    }

    /// What an answer comes to where the job stands. Its files are kept here, before the event that names them.
    fn what(&mut self, next: &Timed<'_>) -> Result<(What, Origin), Box<Diagnostic>> {
        let answer = next.answer;
        match &answer.given {
            Says::Enter { entry, bare, evidence: files, log } => {
                let mut entry = entry.clone();
                let mut origin = Origin::Answers;
                if let (Some(bare), Pending::Entry(prompt)) = (bare, self.job.pending())
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
            Says::Attach(file) => {
                self.under_way(answer)?;
                Ok((What::Attach(self.keep(file)?), Origin::Answers))
            }
            Says::Correct { entry, values, because } => {
                self.under_way(answer)?;
                let of = |reading: &&Reading| {
                    reading.address == entry.value && !reading.computed && values.contains_key(&reading.name)
                };
                let Some(reading) = self.job.state().readings.iter().rev().find(of) else {
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
            Says::What(what) => {
                self.under_way(answer)?;
                Ok((what.clone(), Origin::Answers))
            }
        }
    }

    fn keep(&self, file: &At<String>) -> Result<EvidenceRef, Box<Diagnostic>> {
        self.job.keep(&self.folder.join(&file.value), &file.place)
    }

    /// `done` confirms; another word is the value of the only thing that is asked.
    fn bare(&self, entry: &mut Entry, bare: &At<String>) -> Result<(), Box<Diagnostic>> {
        let Pending::Entry(prompt) = self.job.pending() else { return Ok(()) };
        if prompt.address.step != entry.step {
            // The machine says what is asked instead.
            return Ok(());
        }
        let asked: Vec<_> = prompt.fields.iter().filter(|field| field.kind != AnswerKind::Done).collect();
        match asked.as_slice() {
            _ if bare.value == "done" && !is_option(&prompt, "done") => {}
            [field] => entry.typed = IndexMap::from([(field.name.clone(), bare.value.clone())]),
            [] => {
                let message = format!("`{}` is only confirmed, and takes no values", entry.step);
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
        let pending = self.job.pending();
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
        let pending = self.job.pending();
        let why = match &self.job.state().phase {
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

    fn end(&mut self) -> End {
        let pending = self.job.pending();
        let end = End::of(&pending);
        if end == End::Waiting {
            self.problems.push(missing(&pending, &self.last));
        }
        end
    }

    fn outcome(self, end: End, skipped: usize) -> Outcome {
        let pending = self.job.pending();
        Outcome { end, pending, state: self.job.state().clone(), skipped, taken: self.taken, problems: self.problems }
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
