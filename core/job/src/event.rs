//! What happened: the only thing a job is made of.

use crate::moment::Moment;
use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::address::Address;
use super::said::{Contradiction, Lack, PlanFault, Remark, RoundEnd, StreamNote};
use standpipe_quantity::value::Value;

/// Years that a job can lie in: outside them a time is a slip or a forgery.
pub const YEARS: std::ops::RangeInclusive<i16> = 1900..=2200;

/// One event with its circumstances. The journal adds the chain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Number of the event in its journal, from 1.
    pub seq: u64,
    /// When it was done.
    pub at: Moment,
    /// When it was entered, if later than it was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entered_at: Option<Moment>,
    /// Who did it: the id of a person, or empty for what the machine concluded before anyone acted.
    pub by: String,
    pub origin: Origin,
    #[serde(flatten)]
    pub event: Event,
}

/// Where an input came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    Typed,
    Answers,
    Log,
    /// Entered on a page, by a device that the journal names.
    Page,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Verdict {
    #[serde(rename = "met")]
    Met,
    #[serde(rename = "not met")]
    NotMet,
    #[serde(rename = "not shown")]
    NotShown,
}

impl Verdict {
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Met => "met",
            Verdict::NotMet => "not met",
            Verdict::NotShown => "not shown",
        }
    }
}

/// What became of a reader that is followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StreamStatus {
    /// It is followed from here.
    Began,
    /// Its readings lie inside the awaited range from here.
    Reached,
    /// They lie outside again.
    Left,
    /// No reading came for too long.
    Stale,
    /// Readings came, and did not change for too long.
    Frozen,
    /// Readings can be relied on again; in between nothing is shown.
    Again,
    /// A time that was to be held is covered by readings, or is not.
    Covered,
    NotCovered,
    /// No more rows come.
    Over,
}

impl StreamStatus {
    pub fn words(self) -> &'static str {
        match self {
            StreamStatus::Began => "followed",
            StreamStatus::Reached => "reached",
            StreamStatus::Left => "left",
            StreamStatus::Stale => "stale",
            StreamStatus::Frozen => "frozen",
            StreamStatus::Again => "there again",
            StreamStatus::Covered => "covered",
            StreamStatus::NotCovered => "not covered",
            StreamStatus::Over => "over",
        }
    }
}

/// A second pair of eyes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Witness {
    By(String),
    /// Nobody could witness it: one person is the whole shop.
    Alone,
}

/// A file kept under its hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EvidenceRef {
    pub sha256: String,
    /// What the file was called.
    pub name: String,
    /// Where it is the beginning of a stream that goes on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<StreamPart>,
}

/// The first bytes of a file that only grows: what a reader had sent by then. It lies there once, however many entries name it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StreamPart {
    /// Its name in the folder of streams.
    pub file: String,
    /// So many of its bytes have the hash.
    pub bytes: u64,
}

/// Rows that the values of an entry were taken from, and how they were read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadFrom {
    pub rows: EvidenceRef,
    /// A log that was there as a whole; else a reader that was followed.
    #[serde(default, skip_serializing_if = "is_false")]
    pub log: bool,
    pub said: IndexMap<String, String>,
    /// The moment of second 0 on the clock of the rows. None where a row counted when it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zero: Option<Moment>,
    /// By the name of the value. Empty where rows only came meanwhile.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub values: IndexMap<String, TakenFrom>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakenFrom {
    pub column: String,
    pub quantity: String,
    /// Second of its row; none for a time that was held, which many rows show.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row: Option<f64>,
}

/// A log of readings as evidence: how it was read, and what it shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptLog {
    pub evidence: EvidenceRef,
    /// Id of the description whose checks these are.
    pub log: String,
    /// The text of that description, where the plan of the job has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub description: Option<EvidenceRef>,
    /// What was said about how it is meant.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub said: IndexMap<String, String>,
    /// Range looked at, where it was not the family's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub window: Option<Value>,
    /// The moment of second 0 on the clock of the log, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zero: Option<Moment>,
    /// What happened when, in seconds on the clock of the log.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub events: IndexMap<String, f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub job_time: Option<(f64, f64)>,
    pub verdicts: Vec<LogVerdict>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogVerdict {
    pub check: String,
    pub title: String,
    pub verdict: Verdict,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "kebab-case")]
pub enum Event {
    Opened {
        /// `standpipe.journal/1`: the format of all lines.
        schema: String,
        job: String,
        plan: String,
        tool: String,
        interpreter: String,
    },
    /// A person entered something. `done` is false for an attempt that does not count.
    Entered {
        address: Address,
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        values: IndexMap<String, Value>,
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        typed: IndexMap<String, String>,
        /// Instrument of each value that needs one.
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        with: IndexMap<String, String>,
        /// Seconds after which each value is stale.
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        fresh_for: IndexMap<String, f64>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        witness: Option<Witness>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        evidence: Vec<EvidenceRef>,
        /// Where values come from a reader or a log.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        read: Option<Box<ReadFrom>>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        remarks: Vec<Remark>,
        done: bool,
    },
    /// An expression that a step needed was evaluated: `when`, `of`, `for`, `within`, `until`.
    Settled {
        address: Address,
        what: String,
        value: Value,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        used: Vec<String>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        missing: Vec<String>,
    },
    Computed {
        address: Address,
        what: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        gives: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sheet: Option<String>,
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        inputs: IndexMap<String, Value>,
        /// `Unknown` where it could not be shown; `missing` says why.
        value: Value,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        used: Vec<String>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        missing: Vec<Lack>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        warnings: Vec<String>,
        /// The event that this one replaces after a correction.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        supersedes: Option<u64>,
    },
    Judged {
        address: Address,
        verdict: Verdict,
        /// The values that were looked at, as they were.
        #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
        found: IndexMap<String, Value>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        missing: Vec<Lack>,
        /// In what share of trials the gate was met, where it asks for confidence.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        likely: Option<f64>,
        /// The step is asked again.
        #[serde(default, skip_serializing_if = "is_false")]
        again: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        supersedes: Option<u64>,
    },
    /// Entries that count no more: a pause, another person, an event, or their age ended them.
    Ended {
        addresses: Vec<Address>,
        // Not `by`: in a journal line that is who did it.
        #[serde(rename = "ended_by")]
        by: String,
        /// They are asked again at once, not only while their block is under way.
        at_once: bool,
    },
    RoundEnded {
        address: Address,
        because: RoundEnd,
    },
    /// Someone allowed to went on over a verdict, with a reason.
    Accepted {
        address: Address,
        because: String,
    },
    Skipped {
        address: Address,
        because: String,
    },
    /// Names the entry that it corrects.
    Corrected {
        entry: u64,
        values: IndexMap<String, Value>,
        typed: IndexMap<String, String>,
        because: String,
    },
    /// A value of the family or the job that nobody had entered.
    Supplied {
        path: String,
        value: Value,
        typed: String,
        source: String,
    },
    /// The job goes on with corrected data: another plan, kept beside the first.
    Amended {
        /// Hash of the plan's text.
        plan: String,
        /// Files of plugins that came, went or say something else.
        changed: Vec<String>,
        because: String,
    },
    Recognised {
        variant: String,
        signs: IndexMap<String, Value>,
    },
    /// The job can't go on without these.
    Blocked {
        address: Address,
        missing: Vec<String>,
    },
    /// A script or sheet of the plan failed.
    Faulted {
        address: Address,
        fault: PlanFault,
        place: String,
    },
    /// What was found and what is known contradict each other.
    Contradicted {
        address: Address,
        what: Contradiction,
    },
    /// What was done there has been undone, by trouble or by a gate that wants it done again, and is due again.
    Undone {
        addresses: Vec<Address>,
        /// The step that says so.
        #[serde(rename = "undone_by")]
        by: String,
    },
    Called {
        procedure: String,
        call: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at_step: Option<Address>,
    },
    Returned {
        procedure: String,
        call: u32,
    },
    /// It had been called by mistake; nothing was done in it.
    TakenBack {
        procedure: String,
        call: u32,
    },
    Pausing {
        pause: u32,
    },
    Paused {
        pause: u32,
        tag: Vec<String>,
    },
    Resumed {
        pause: u32,
        /// The process ended without a pause.
        unannounced: bool,
    },
    /// Everything asked on resuming is answered.
    WentOn {
        pause: u32,
    },
    /// The work is in other hands from here.
    TookOver {
        from: String,
    },
    Noted {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<Address>,
        text: String,
    },
    Attached {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<Address>,
        evidence: EvidenceRef,
    },
    /// A log of readings was kept, with what its checks came to.
    LogKept(Box<KeptLog>),
    /// What a reader that is followed did: not every row, only where its readings reach or leave a range, or can't be
    /// relied on.
    Stream {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<Address>,
        name: String,
        turn: StreamStatus,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<Value>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<StreamNote>,
    },
    /// Somebody ended it, with a reason; or what was said in this procedure did.
    Abandoned {
        #[serde(default, skip_serializing_if = "String::is_empty")]
        because: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decided_in: Option<String>,
    },
    /// The last line was torn and has been moved aside.
    Recovered {
        bytes: u64,
        moved_to: String,
    },
    Finished,
}

fn is_false(value: &bool) -> bool {
    !*value
}
