//! The record: what a job's events say, sorted for people who were not there.
//!
//! Required, measured, computed and assumed are told apart by where they stand, not by how they look.

mod acts;
mod basis;
mod checked;
mod mark_text;
mod marks;
mod outcome;
mod step_text;
mod steps;
mod summary;
mod table;
mod text;

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_book::{Book, Line};
use standpipe_job::Moment;

pub use acts::{Act, Acts};
pub use basis::{Assumed, Computed, Read, Required};
pub use checked::Checked;
pub(super) use mark_text::mark_lines;
pub use marks::{Accepted, Amended, Call, Correction, LogMark, Note, Pause, Photo, Round, Skipped, Supplied, Used};
pub use outcome::Outcome;
pub(super) use step_text::{Told, told_of};
pub use steps::{Entry, StepEvent, StepView, What};
pub use summary::summary;
pub use table::table;
pub use text::text;

use super::block::{self, Block};
use super::picture::{self, NotDrawn, Picture};
use super::shown::{Named, person};
use super::{NOTICE, card::Titled};
use standpipe_job::names::JobNames;
use standpipe_job::plan::{Overlaid, Simulated};
use standpipe_job::{Event, Machine, Origin, Record, State, replay};
use standpipe_quantity::value::Value;

pub const SCHEMA: &str = "standpipe.record/1";

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RecordView {
    pub schema: &'static str,
    pub notice: &'static str,
    pub invented: bool,
    /// What answered it, where that was a model: no work was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulated: Option<Simulated>,
    /// Entered from a file of answers: its times are those of the file, nobody was asked.
    pub headless: bool,
    pub job: String,
    pub subject: String,
    pub family: Titled,
    pub procedure: Titled,
    pub variant: Option<String>,
    /// Whether the family has any to tell apart.
    pub has_variants: bool,
    pub outcome: Outcome,
    /// What an audit of the journal found; not there where none was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub checked: Option<Checked>,
    /// What the procedure wants to see first.
    pub blocks: Vec<Block>,
    pub pictures: Vec<Picture>,
    pub not_drawn: Vec<NotDrawn>,
    pub required: Vec<Required>,
    pub measured: Vec<Read>,
    /// Seen, said or chosen rather than measured.
    pub observed: Vec<Read>,
    pub computed: Vec<Computed>,
    pub assumed: Vec<Assumed>,
    /// What the procedure tells of it in a table of many jobs.
    pub told: Vec<Named>,
    pub steps: Vec<StepView>,
    pub rounds: Vec<Round>,
    pub corrections: Vec<Correction>,
    pub skipped: Vec<Skipped>,
    pub accepted: Vec<Accepted>,
    pub supplied: Vec<Supplied>,
    /// Data that were corrected while the job was under way.
    pub amended: Vec<Amended>,
    pub calls: Vec<Call>,
    pub pauses: Vec<Pause>,
    pub notes: Vec<Note>,
    pub photos: Vec<Photo>,
    /// Logs of readings, with what they show.
    #[schemars(with = "Vec<std::collections::BTreeMap<String, serde_json::Value>>")]
    pub logs: Vec<LogMark>,
    pub people: Vec<Titled>,
    pub instruments: Vec<Used>,
    /// Who signed, looked on, accepted, corrected data, called or closed, and how that is shown; not there where the folder of the
    /// job is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub acts: Option<Acts>,
    pub left_open: Vec<String>,
    /// What overlays of the shop have changed in procedure and family.
    pub changed: Vec<Overlaid>,
    pub made_with: MadeWith,
}

/// A line of the book of the workshop. Its hash proves every line before it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct InBook {
    pub line: u64,
    pub hash: String,
}

/// What the record can be checked against.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MadeWith {
    pub plan: String,
    pub tool: Option<String>,
    pub interpreter: Option<String>,
    pub events: u64,
    /// Hash of the whole journal, once it is closed.
    pub seal: Option<String>,
    /// Of a closed job its last line in the book beside it: the one that closed it, or a signature since.
    pub book: Option<InBook>,
    #[schemars(with = "Option<String>")]
    pub last_entry: Option<Moment>,
}

fn in_book(folder: &Path) -> Option<InBook> {
    let Line { seq, hash, .. } = Book::beside(folder)?.closing_line(&Book::name_of(folder))?;
    Some(InBook { line: seq, hash })
}

/// `folder`: that of the journal, where its evidence lies; none where what logs show is not wanted.
pub fn view(machine: &Machine, records: &[Record], seal: Option<&str>, folder: Option<&Path>) -> RecordView {
    let plan = &machine.plan;
    let state = replay::replay(records);
    let pending = machine.pending(&state);
    let main = plan.main();
    let steps = steps::steps(machine, records, &state);
    let marks = marks::marks(machine, records, &steps);
    let outcome = outcome::outcome(machine, records, &state, &pending, &marks);
    let left_open = outcome::left_open(machine, &state, &pending, &steps);
    let (measured, observed) = basis::read(machine, records, &state);
    let (pictures, not_drawn) = picture::for_record(machine, &state, records, folder);
    let versions = records.iter().find_map(|record| match &record.event {
        Event::Opened { tool, interpreter, .. } => Some((tool.clone(), interpreter.clone())),
        _ => None,
    });
    RecordView {
        schema: SCHEMA,
        notice: NOTICE,
        invented: plan.invented,
        simulated: plan.simulated().cloned(),
        headless: records.iter().any(|record| record.origin == Origin::Answers),
        job: plan.job.id.clone(),
        subject: plan.subject(&state.supplied),
        family: Titled {
            id: plan.family.id.clone(),
            title: plan.family.title.clone().unwrap_or_else(|| plan.family.id.clone()),
        },
        procedure: Titled { id: main.id.value.clone(), title: main.title.clone() },
        variant: state.variant.clone(),
        has_variants: !plan.family.variants.is_empty(),
        outcome,
        checked: None,
        blocks: block::for_record(machine, &state, &steps),
        pictures,
        not_drawn,
        required: basis::required(machine, &state, &steps),
        measured,
        observed,
        computed: basis::computed(machine, records, &state),
        assumed: basis::assumed(machine, records, &state),
        told: told(machine, &state),
        rounds: marks.rounds,
        corrections: marks.corrections,
        skipped: marks.skipped,
        accepted: marks.accepted,
        supplied: marks.supplied,
        amended: marks.amended,
        calls: marks.calls,
        pauses: marks.pauses,
        notes: marks.notes,
        photos: marks.photos,
        logs: marks.logs,
        people: state.doers.iter().map(|id| Titled { id: id.clone(), title: person(plan, id) }).collect(),
        instruments: marks.instruments,
        acts: folder.map(|folder| acts::acts(machine, records, folder)),
        left_open,
        changed: plan.overlaid(),
        steps,
        made_with: MadeWith {
            plan: plan.hash.clone(),
            tool: versions.as_ref().map(|(tool, _)| tool.clone()),
            interpreter: versions.map(|(_, interpreter)| interpreter),
            events: state.seq,
            // An open journal grows: its hash of today would be no seal tomorrow.
            seal: seal.filter(|_| !state.is_open()).map(str::to_owned),
            book: folder.filter(|_| !state.is_open()).and_then(in_book),
            last_entry: state.at,
        },
    }
}

impl RecordView {
    /// What whoever reads it wants first, as the procedure asks for it.
    pub fn answers(&self) -> impl Iterator<Item = &block::Answer> {
        self.blocks.iter().flat_map(|block| &block.parts).filter_map(|part| part.answer.as_ref())
    }
}

fn told(machine: &Machine, state: &State) -> Vec<Named> {
    let plan = &machine.plan;
    let names = JobNames::in_the_end(plan, state);
    let columns = plan.main().columns.iter();
    columns
        .map(|(name, expr)| {
            let value = expr.evaluate(&plan.scripts, &names).unwrap_or(Value::Unknown);
            Named::new(plan, name, &value)
        })
        .collect()
}
