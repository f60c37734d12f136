//! Logs that answers take values from: each is read once for each of its columns, up to the time of the answer.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use indexmap::IndexMap;

use super::answers::FromLog;
use super::feed::Feed;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::journal::evidence;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_job::{AnswerKind, EvidenceRef, PromptField, ReadFrom, TakenFrom};
use standpipe_library::Instrument;
use standpipe_log::{Choices, LogReader, TimeForm, Trouble, Wanted, of_mapping};
use standpipe_quantity::Units;
use standpipe_stream::{Described, Live, columns, described};

type Fault = Box<Diagnostic>;

#[derive(Default)]
pub struct Logs {
    described: Option<Described>,
    kept: IndexMap<PathBuf, EvidenceRef>,
    /// By file, column, and what was said of it.
    feeds: IndexMap<String, Feed>,
}

/// The column that a value is read from.
#[derive(Clone, Debug)]
pub struct Source {
    pub column: String,
    pub quantity: String,
    pub with: Option<String>,
    /// Some step awaits it: what it does is told.
    pub awaited: bool,
}

impl Logs {
    fn described(&mut self, plan: &Plan) -> &Described {
        self.described.get_or_insert_with(|| {
            let parsed = Parsed::new(plan.snapshot.files.clone(), &mut Problems::new());
            described(&parsed, &plan.form.id)
        })
    }

    /// Where a value is read: in the column that was said, in that of its own name, or in one that a step awaits and that is
    /// read with the same kind of instrument.
    pub fn source(&mut self, plan: &Plan, field: &PromptField, log: &FromLog) -> Result<Source, Fault> {
        let awaited = columns(plan);
        let held = field.kind == AnswerKind::Held;
        let refused = |message: String, expected: String| {
            Box::new(
                Diagnostic::error(Code::UnfitAnswer, &log.file.place, message)
                    .expected(expected)
                    .help("say it with `reads: { value: column }`, or enter what was read by eye"),
            )
        };
        let described = self.described(plan);
        let quantity_of = |name: &str| -> Option<String> {
            let own = awaited.iter().find(|column| column.name == name).map(|column| column.quantity.clone());
            own.or_else(|| described.columns.get(name)?.quantity.clone())
        };
        let same_instrument = || {
            let same = |with: &Option<String>, quantity: &str| {
                with.is_some() && *with == field.with && field.quantity.as_deref() == Some(quantity)
            };
            awaited.iter().find(|column| held || same(&column.with, &column.quantity)).map(|column| column.name.clone())
        };
        let own = || (!held && quantity_of(&field.name).is_some()).then(|| field.name.clone());
        let said = log.reads.get(&field.name).cloned();
        let Some(column) = said.or_else(own).or_else(same_instrument) else {
            let known: Vec<&str> = described.columns.keys().map(String::as_str).collect();
            return Err(refused(
                format!("nothing says from which column of the log `{}` is read", field.name),
                format!("one of: {}", known.join(", ")),
            ));
        };
        let quantity = match (quantity_of(&column), &field.quantity) {
            (Some(of), Some(wanted)) if of != *wanted => {
                let message = format!("`{column}` is {of}, and `{}` is {wanted}", field.name);
                return Err(refused(message, format!("a column of {wanted}")));
            }
            (Some(of), _) => of,
            // A column that nobody described: it has to be named in `columns:`, and is what the value is.
            (None, Some(wanted)) => wanted.clone(),
            (None, None) => {
                return Err(refused(
                    format!("nothing says what the column `{column}` holds"),
                    "a column that is described".to_owned(),
                ));
            }
        };
        let of = awaited.iter().find(|one| one.name == column);
        let with = of.and_then(|of| of.with.clone()).or_else(|| field.with.clone());
        Ok(Source { awaited: of.is_some(), column, quantity, with })
    }

    /// The file under its hash, copied once.
    pub fn keep(&mut self, dir: &Path, folder: &Path, log: &FromLog) -> Result<EvidenceRef, Fault> {
        let path = folder.join(&log.file.value);
        if let Some(kept) = self.kept.get(&path) {
            return Ok(kept.clone());
        }
        let kept = evidence::keep(dir, &path, &log.file.place)?;
        self.kept.insert(path, kept.clone());
        Ok(kept)
    }

    /// The rows of one column, from the copy that is kept, so that what was judged is what is kept.
    pub fn feed(
        &mut self,
        plan: &Plan,
        (dir, kept): (&Path, &EvidenceRef),
        log: &FromLog,
        source: &Source,
        at: standpipe_job::Moment,
    ) -> Result<&mut Feed, Fault> {
        let choices = self.choices(plan, log, &source.column)?;
        let key = format!("{} {} {:?} {choices:?}", kept.sha256, source.column, log.starts);
        // What was entered late goes back in time: the log is read again from its beginning.
        let gone_past = self.feeds.get(&key).is_some_and(|feed| feed.heard.is_some_and(|heard| heard > at));
        if gone_past || !self.feeds.contains_key(&key) {
            let unread = |fault: String| {
                Box::new(
                    Diagnostic::error(Code::UnreadableFile, &log.file.place, format!("the log can't be read: {fault}"))
                        .help("check the path; it counts from the folder of the answers file"),
                )
            };
            let path = evidence::path_of(dir, kept).ok_or_else(|| unread("its name is not a hash".to_owned()))?;
            let open = || standpipe_disk::open(&path).map_err(|fault| unread(fault.to_string()));
            let input = open()?;
            let described = self.described(plan);
            let wanted = described.only(&source.column, &source.quantity);
            if has_days_without_dates(open()?, wanted.clone(), choices.clone(), &plan.units) {
                let message = "the log has times of the day, no dates, and lasts for more than a day";
                return Err(Box::new(
                    Diagnostic::error(Code::UnreadableLog, &log.file.place, message)
                        .expected("a date with each time, or a log of less than a day")
                        .help("export it with dates, or only the hours of the job"),
                ));
            }
            let column = described.column(plan, &source.column, &source.quantity, source.with.as_deref());
            let live = Live::new(vec![column], wanted, choices, Arc::clone(&plan.units), None);
            let mut feed = Feed::of_log(live, &format!("log {}", kept.name), Box::new(input), log.starts);
            feed.begun = gone_past;
            self.feeds.insert(key.clone(), feed);
        }
        self.feeds.get_mut(&key).ok_or_else(|| {
            Box::new(
                Diagnostic::error(Code::UnreadableFile, &log.file.place, "the log is not at hand").help("try again"),
            )
        })
    }

    fn choices(&self, plan: &Plan, log: &FromLog, column: &str) -> Result<Choices, Fault> {
        let choices = log.choices.clone();
        let Some(id) = &log.instrument else { return Ok(choices.only(|name| name == column)) };
        let wrong = |message: String, help: String| {
            Box::new(Diagnostic::error(Code::UnfitInstrument, &id.place, message).help(help))
        };
        match plan.shop.instruments.get(&id.value) {
            Some(Instrument { log: Some(mapping), .. }) => {
                // What the shop file says wrongly was reported with it.
                let of_shop = of_mapping(mapping, &mut Problems::new());
                Ok(choices.over(&of_shop).only(|name| name == column))
            }
            Some(_) => Err(wrong(
                format!("the shop file does not say how `{}` writes its logs", id.value),
                "add `log: { columns: { ... }, units: { ... } }` to the instrument".to_owned(),
            )),
            None => {
                let known: Vec<&str> = plan.shop.instruments.keys().map(String::as_str).collect();
                Err(wrong(format!("the shop has no instrument `{}`", id.value), format!("it has {}", known.join(", "))))
            }
        }
    }
}

/// Whether a time of the day would name more than one of its rows. What can't be read is said when it is.
fn has_days_without_dates(mut from: std::fs::File, wanted: Wanted, choices: Choices, units: &Arc<Units>) -> bool {
    let mut reader = LogReader::new(Arc::new(wanted), choices, Arc::clone(units));
    let mut chunk = vec![0; 64 << 10];
    loop {
        let Ok(got) = from.read(&mut chunk) else { return false };
        let read = if got == 0 { reader.finish(&mut |_| {}) } else { reader.push(&chunk[..got], &mut |_| {}) };
        let is_clock = reader.understood().is_none_or(|understood| understood.time.form == TimeForm::Clock);
        let tally = reader.tally();
        let lasts = tally.last.zip(tally.first).map_or(0.0, |(last, first)| last - first);
        if lasts > 86_400.0 && is_clock {
            return true;
        }
        if got == 0 || read.is_err() || !is_clock {
            return false;
        }
    }
}

/// How a value was read from a log; `None` while nothing tells its times.
pub fn read_from(feed: &Feed, kept: &EvidenceRef, source: &Source, name: &str, row: Option<f64>) -> Option<ReadFrom> {
    let column = &source.column;
    let taken = TakenFrom { column: column.clone(), quantity: source.quantity.clone(), row };
    Some(ReadFrom {
        rows: kept.clone(),
        log: true,
        said: feed.live.understood()?.as_said(|name| name == column).written(),
        zero: Some(feed.base()?),
        values: IndexMap::from([(name.to_owned(), taken)]),
    })
}

/// What is wrong with a log at a terminal, where no line of a file is to blame.
pub fn unplaced(message: String, log: &FromLog) -> Diagnostic {
    Diagnostic::error(Code::UnreadableLog, &log.file.place, message)
}

/// What is open about a log, at the answer that names it, with the key that answers it.
pub fn asked(trouble: &Trouble, log: &FromLog) -> Fault {
    let at = |message: String| Diagnostic::error(Code::UnclearLog, &log.file.place, message);
    match trouble {
        Trouble::Unusable { line, message, help } => {
            Box::new(at(format!("line {line} of the log: {message}")).help(help.clone()))
        }
        Trouble::Asked(questions) => {
            let messages: Vec<&str> = questions.iter().map(|question| question.message.as_str()).collect();
            let choices: Vec<String> = questions.iter().map(|question| question.choices.join(", ")).collect();
            let keys: Vec<String> = questions.iter().map(|question| key(&question.option)).collect();
            Box::new(
                at(messages.join("; "))
                    .expected(format!("one of: {}", choices.join("; of: ")))
                    .help(format!("say it in the answer: `log: {{ file: ..., {} }}`", keys.join(", "))),
            )
        }
    }
}

/// `--column level=COLUMN` as a key of an answer: `columns: { level: COLUMN }`.
fn key(option: &str) -> String {
    let (name, value) = option.trim_start_matches('-').split_once(' ').unwrap_or((option, ""));
    match value.split_once('=') {
        Some((of, value)) => format!("{name}s: {{ {of}: {value} }}"),
        None => format!("{name}: {value}"),
    }
}
