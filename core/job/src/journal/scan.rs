//! Reads all bytes of a journal: what holds, what was left unfinished at the end, and where the chain breaks.

use super::chain::{self, Line, Unreadable};
use crate::event::{Event, Record};
use crate::open::{InputId, Via};

/// More faults than this say nothing new.
const MOST_FAULTS: usize = 10;

#[derive(Debug)]
pub(super) struct Scan {
    /// The events of whole batches, up to the first fault.
    pub records: Vec<Record>,
    /// Number of the last event of each batch.
    pub ends: Vec<u64>,
    /// Ids of inputs, with the number of the first event of their batch.
    pub ids: Vec<(InputId, u64)>,
    /// Devices of inputs, in the same way.
    pub vias: Vec<(Via, u64)>,
    /// Bytes of whole batches; what lies behind them is torn, unless there are faults.
    pub sound: usize,
    /// Hash of the last line of the last whole batch; of the plan, if there is none.
    pub last: String,
    /// Hash of every line, whatever it is worth.
    pub heads: Vec<String>,
    pub faults: Vec<LineFault>,
}

#[derive(Debug)]
pub(super) struct LineFault {
    /// Counted from 1.
    pub line: usize,
    pub message: String,
    pub found: String,
    pub expected: String,
}

struct Scanner<'a> {
    plan: &'a str,
    scan: Scan,
    batch: Vec<Record>,
    /// Id of the input that led to it.
    id: Option<(InputId, u64)>,
    via: Option<(Via, u64)>,
    /// Hash of the line before; empty when that line was a fault of its own and says nothing about this one.
    prev: String,
    line: usize,
    seq: u64,
}

pub(super) fn scan(bytes: &[u8], plan: &str) -> Scan {
    let scan = Scan {
        records: Vec::new(),
        ends: Vec::new(),
        ids: Vec::new(),
        vias: Vec::new(),
        sound: 0,
        last: plan.to_owned(),
        heads: Vec::new(),
        faults: Vec::new(),
    };
    let mut scanner =
        Scanner { plan, scan, batch: Vec::new(), id: None, via: None, prev: plan.to_owned(), line: 0, seq: 0 };
    let mut at = 0;
    while at < bytes.len() && scanner.scan.faults.len() < MOST_FAULTS {
        let rest = &bytes[at..];
        scanner.line += 1;
        let Some(length) = rest.iter().position(|byte| *byte == b'\n') else {
            scanner.unfinished(rest);
            break;
        };
        let (raw, later) = (&rest[..length], &rest[length + 1..]);
        match chain::decode(raw) {
            Ok(line) => scanner.line(line, raw, at + length + 1),
            Err(Unreadable::Torn) if is_last_batch(raw, later) => {
                scanner.unfinished(raw);
                break;
            }
            Err(fault) => scanner.unreadable(fault, raw),
        }
        at += length + 1;
    }
    let rest = bytes[at..].split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    scanner.scan.heads.extend(rest.map(chain::hash));
    scanner.scan
}

/// Blocks of the last batch may reach the disk out of order: zeros then stand where one is missing. A line with its line
/// feed and without zeros was whole once, whatever it is now; and what other batches follow was on the disk.
fn is_last_batch(raw: &[u8], later: &[u8]) -> bool {
    let finished: Vec<Line> = later.split(|byte| *byte == b'\n').filter_map(|raw| chain::decode(raw).ok()).collect();
    let followed = finished.split_last().is_some_and(|(_, before)| before.iter().any(|line| line.end));
    raw.contains(&0) && !followed
}

impl Scanner<'_> {
    fn line(&mut self, line: Line, raw: &[u8], end: usize) {
        let faults = self.scan.faults.len();
        if self.line == 1 {
            self.first(&line);
        } else if !self.prev.is_empty() && line.prev != self.prev {
            let message = format!(
                "line {} does not follow the line before it: a line was changed, removed, added or moved here",
                self.line
            );
            self.fault(message, line.prev.clone(), self.prev.clone());
        } else if line.record.seq != self.seq + 1 {
            let message = "an event is missing or appears twice".to_owned();
            self.fault(message, format!("event {}", line.record.seq), format!("event {}", self.seq + 1));
        }
        self.prev = chain::hash(raw);
        self.scan.heads.push(self.prev.clone());
        self.seq = line.record.seq;
        if self.scan.faults.len() > faults || !self.scan.faults.is_empty() {
            return;
        }
        if self.batch.is_empty() {
            self.id = line.id.map(|id| (id, self.seq));
            self.via = line.via.map(|via| (via, self.seq));
        }
        self.batch.push(line.record);
        if line.end {
            self.scan.ends.push(self.seq);
            self.scan.records.append(&mut self.batch);
            self.scan.ids.extend(self.id.take());
            self.scan.vias.extend(self.via.take());
            self.scan.sound = end;
            self.scan.last.clone_from(&self.prev);
        }
    }

    fn first(&mut self, line: &Line) {
        let plan = self.plan.to_owned();
        match &line.record.event {
            Event::Opened { plan: named, .. } if *named != plan => {
                self.fault(
                    "the journal belongs to another plan than the `plan.json` beside it".into(),
                    named.clone(),
                    plan,
                );
            }
            _ if line.prev != plan => {
                let message = "the first line does not follow the `plan.json` beside it".to_owned();
                self.fault(message, line.prev.clone(), plan);
            }
            Event::Opened { .. } if line.record.seq == 1 => {}
            Event::Opened { .. } => {
                self.fault("the first event is missing".into(), format!("event {}", line.record.seq), "event 1".into());
            }
            _ => self.fault("the first event is missing".into(), "another event".into(), "`opened`".into()),
        }
    }

    fn unreadable(&mut self, fault: Unreadable, raw: &[u8]) {
        self.scan.heads.push(chain::hash(raw));
        match fault {
            Unreadable::Torn => self.fault(
                format!("line {} is damaged", self.line),
                "bytes that are not an event".into(),
                "an event as it was written".into(),
            ),
            Unreadable::Changed => self.fault(
                format!("line {} was changed after it was written", self.line),
                "a line that its own sum does not fit".into(),
                "the line as it was written".into(),
            ),
            Unreadable::Foreign(fault) => self.fault(
                format!("line {} is not an event in the format that the journal says it has", self.line),
                fault,
                "an event of that format, as it is written".into(),
            ),
        }
        self.prev.clear();
        self.seq += 1;
    }

    /// The journal was cut off here; or something stands here that never was an event.
    fn unfinished(&mut self, raw: &[u8]) {
        if self.scan.faults.is_empty() && !chain::could_begin(raw, &self.prev) {
            self.fault(
                format!("line {} is not the beginning of an event", self.line),
                String::from_utf8_lossy(&raw[..raw.len().min(40)]).into_owned(),
                "an event that follows the line before, or the end of the journal".into(),
            );
        }
    }

    fn fault(&mut self, message: String, found: String, expected: String) {
        self.scan.faults.push(LineFault { line: self.line, message, found, expected });
    }
}
