//! Jobs again from their rows: as much of each as they show.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use indexmap::IndexMap;
use jiff::SignedDuration;

use standpipe_audit::Archived;
use standpipe_job::replay::replay;
use standpipe_job::state::Reading;
use standpipe_job::{Address, Event, Moment, Origin, Record, Verdict};

use crate::cell::Cell;
use crate::columns::Unread;
use crate::list::Batch;
use crate::whole::{Part, Tree, VALUE, part, under, values};

/// What the table of jobs says of one.
pub struct Facts {
    pub job: String,
    pub state: String,
    pub family: String,
    pub variant: Option<String>,
    pub procedure: String,
    pub subject: String,
    pub head: String,
    pub seal: Option<String>,
    pub tool: String,
    pub events: u64,
    pub last_at: Moment,
    pub simulated: bool,
    pub invented: bool,
}

/// A job as it is in the archive.
pub struct Again {
    pub facts: Facts,
    rows: Rows,
}

/// A row of each kind, by the number of its event.
#[derive(Default)]
struct Rows {
    entries: Vec<Entry>,
    readings: HashMap<u64, Vec<Read>>,
    verdicts: HashMap<u64, Judged>,
    looked_at: HashMap<u64, Vec<Part>>,
    computed: HashMap<u64, Vec<Computed>>,
}

struct Entry {
    seq: u64,
    event: String,
    address: Address,
    at: Moment,
    done: bool,
    corrects: Option<u64>,
}

struct Read {
    instrument: Option<String>,
    counts: bool,
    part: Part,
}

struct Judged {
    verdict: Verdict,
    likely: Option<f64>,
    again: bool,
    standing: bool,
    supersedes: Option<u64>,
}

struct Computed {
    what: String,
    gives: Option<String>,
    sheet: Option<String>,
    supersedes: Option<u64>,
    part: Part,
}

/// All jobs of a batch.
///
/// Errors: the table whose file can't be read, and why.
pub fn jobs(batch: &Batch, archive: &Path) -> Result<Vec<Again>, (&'static str, Unread)> {
    let mut all: IndexMap<String, Again> = IndexMap::new();
    for row in read(batch, archive, "jobs", FACTS)? {
        let (key, facts) = facts(row);
        all.insert(key, Again { facts, rows: Rows::default() });
    }
    for row in read(batch, archive, "entries", ENTRIES)? {
        let [key, seq, event, step, rounds, item, at, offset, done, corrects] = row;
        let entry = Entry {
            seq: seq.whole().unwrap_or_default(),
            event: event.into_text(),
            address: address(step, &rounds, item),
            at: moment(&at, &offset),
            done: done.is_true(),
            corrects: corrects.whole(),
        };
        put(&mut all, &key, |rows| rows.entries.push(entry));
    }
    for row in read(batch, archive, "readings", with_value(["job_key", "seq", "name", "instrument", "counts"]))? {
        let [key, seq, name, instrument, counts, value @ ..]: [Cell; 15] = row;
        let read = Read { instrument: some(instrument), counts: counts.is_true(), part: part(name, value) };
        put(&mut all, &key, |rows| rows.readings.entry(seq.whole().unwrap_or_default()).or_default().push(read));
    }
    for row in read(batch, archive, "verdicts", VERDICTS)? {
        let [key, seq, verdict, likely, again, standing, supersedes] = row;
        let verdict = match verdict.text() {
            Some("met") => Verdict::Met,
            Some("not met") => Verdict::NotMet,
            _ => Verdict::NotShown,
        };
        let judged = Judged {
            verdict,
            likely: likely.number(),
            again: again.is_true(),
            standing: standing.is_true(),
            supersedes: supersedes.whole(),
        };
        put(&mut all, &key, |rows| {
            rows.verdicts.insert(seq.whole().unwrap_or_default(), judged);
        });
    }
    for row in read(batch, archive, "looked_at", with_value(["job_key", "seq", "name"]))? {
        let [key, seq, name, value @ ..]: [Cell; 13] = row;
        let part = part(name, value);
        put(&mut all, &key, |rows| rows.looked_at.entry(seq.whole().unwrap_or_default()).or_default().push(part));
    }
    let columns = with_value(["job_key", "seq", "what", "gives", "sheet", "input", "supersedes", "name"]);
    for row in read(batch, archive, "computed", columns)? {
        let [key, seq, what, gives, sheet, input, supersedes, name, value @ ..]: [Cell; 18] = row;
        if input.is_true() {
            continue;
        }
        let computed = Computed {
            what: what.into_text(),
            gives: some(gives),
            sheet: some(sheet),
            supersedes: supersedes.whole(),
            part: part(name, value),
        };
        put(&mut all, &key, |rows| rows.computed.entry(seq.whole().unwrap_or_default()).or_default().push(computed));
    }
    Ok(all.into_values().collect())
}

const FACTS: [&str; 15] = [
    "job_key",
    "job",
    "state",
    "family",
    "variant",
    "procedure",
    "subject",
    "head",
    "seal",
    "tool",
    "events",
    "last_at",
    "offset_min",
    "simulated",
    "invented",
];
const ENTRIES: [&str; 10] =
    ["job_key", "seq", "event", "step", "rounds", "item", "done_at", "offset_min", "done", "corrects"];
const VERDICTS: [&str; 7] = ["job_key", "seq", "verdict", "likely", "again", "standing", "supersedes"];

fn read<const N: usize>(
    batch: &Batch,
    archive: &Path,
    table: &'static str,
    columns: [&str; N],
) -> Result<Vec<[Cell; N]>, (&'static str, Unread)> {
    batch.read(archive, table, columns).map_err(|why| (table, why))
}

/// These columns and those of a value.
fn with_value<const K: usize, const N: usize>(own: [&'static str; K]) -> [&'static str; N] {
    std::array::from_fn(|at| own.get(at).copied().unwrap_or_else(|| VALUE[at - K]))
}

fn put(all: &mut IndexMap<String, Again>, key: &Cell, put: impl FnOnce(&mut Rows)) {
    if let Some(job) = key.text().and_then(|key| all.get_mut(key)) {
        put(&mut job.rows);
    }
}

fn facts(row: [Cell; 15]) -> (String, Facts) {
    let [
        key,
        job,
        state,
        family,
        variant,
        procedure,
        subject,
        head,
        seal,
        tool,
        events,
        last,
        offset,
        simulated,
        invented,
    ] = row;
    let facts = Facts {
        job: job.into_text(),
        state: state.into_text(),
        family: family.into_text(),
        variant: some(variant),
        procedure: procedure.into_text(),
        subject: subject.into_text(),
        head: head.into_text(),
        seal: some(seal),
        tool: tool.into_text(),
        events: events.whole().unwrap_or_default(),
        last_at: moment(&last, &offset),
        simulated: simulated.is_true(),
        invented: invented.is_true(),
    };
    (key.into_text(), facts)
}

fn some(cell: Cell) -> Option<String> {
    if let Cell::Text(text) = cell { Some(text) } else { None }
}

fn address(step: Cell, rounds: &Cell, item: Cell) -> Address {
    let rounds = rounds.text().unwrap_or_default();
    let rounds = rounds.split('.').filter_map(|round| round.parse().ok()).collect();
    Address { step: step.into_text(), rounds, item: item.into_text() }
}

/// On the clock of the workshop.
fn moment(at: &Cell, offset: &Cell) -> Moment {
    let Cell::Time(micros) = *at else { return Moment::default() };
    let Cell::Whole(minutes) = *offset else { return Moment::default() };
    let ahead =
        SignedDuration::from_micros(micros).saturating_add(SignedDuration::from_secs(minutes.saturating_mul(60)));
    let wall = jiff::civil::date(1970, 1, 1).at(0, 0, 0, 0).checked_add(ahead).unwrap_or_default();
    Moment::new(wall, i16::try_from(minutes).unwrap_or_default())
}

/// Of a fact that somebody supplied: what all its parts begin with.
fn path_of(parts: &[Read]) -> String {
    let name = parts.first().map_or("", |read| read.part.name.as_str());
    let is_part = parts.len() > 1 || parts.iter().any(|read| matches!(read.part.kind.as_str(), "low" | "high"));
    if is_part { name.rsplit_once('.').map_or(name, |(path, _)| path).to_owned() } else { name.to_owned() }
}

impl Again {
    /// To be judged under newer data.
    pub fn archived(&self, has_shop: bool) -> Archived {
        let rows = &self.rows;
        let records: Vec<Record> = rows.entries.iter().filter_map(|entry| rows.record(entry)).collect();
        let mut state = replay(&records);
        state.variant.clone_from(&self.facts.variant);
        for at in 0..state.readings.len() {
            let reading = &state.readings[at];
            let parts = rows.readings.get(&reading.seq).into_iter().flatten();
            let own = parts.filter(|read| within(&read.part.name, &reading.name)).all(|read| read.counts);
            if reading.computed || reading.rejected || !reading.counts || own {
                continue;
            }
            let undone = rows.may_be_undone(reading);
            let reading = state.readings.change_at(at);
            (reading.rejected, reading.ended) = (undone, !undone);
        }
        for at in 0..state.verdicts.len() {
            let standing = rows.verdicts.get(&state.verdicts[at].seq).is_some_and(|judged| judged.standing);
            state.verdicts.change_at(at).superseded = !standing;
        }
        let mut seen = HashMap::new();
        for (seq, parts) in &rows.looked_at {
            for part in parts
                .iter()
                .filter(|part| part.name.starts_with("job.") && part.kind != "person" && part.kind != "left out")
            {
                state.supplied.insert(part.name.clone(), part.value.clone());
            }
            seen.insert(*seq, values(Tree::of(parts.iter())));
        }
        let corrected = rows.entries.iter().filter_map(|entry| entry.corrects);
        let superseded = rows.computed.values().flatten().filter_map(|computed| computed.supersedes);
        let corrected = corrected.chain(superseded).collect();
        let all = || {
            let readings = rows.readings.values().flatten().map(|read| &read.part);
            let computed = rows.computed.values().flatten().map(|computed| &computed.part);
            readings.chain(rows.looked_at.values().flatten()).chain(computed)
        };
        let of_kind = |kind: &str| -> HashSet<String> {
            all().filter(|part| part.kind == kind).map(|part| part.name.clone()).collect()
        };
        Archived { state, seen, corrected, people: of_kind("person"), left_out: of_kind("left out"), has_shop }
    }
}

fn within(part: &str, name: &str) -> bool {
    part.strip_prefix(name).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

impl Rows {
    /// Whether a reading that counts no more may have been undone rather than ended. What was undone the archive does not name; where
    /// a verdict of the same step stands, passed after it and before anything was undone, it was not that.
    fn may_be_undone(&self, reading: &Reading) -> bool {
        let later = self.entries.iter().filter(|entry| entry.seq > reading.seq);
        let Some(undone) = later.clone().find(|entry| entry.event == "undone") else { return false };
        let own = |entry: &Entry| {
            entry.address.step == reading.address.step && entry.address.rounds == reading.address.rounds
        };
        let stands = |entry: &Entry| self.verdicts.get(&entry.seq).is_some_and(|judged| judged.standing);
        !later.take_while(|entry| entry.seq < undone.seq).any(|entry| own(entry) && stands(entry))
    }

    /// An event that what is judged again depends on.
    fn record(&self, entry: &Entry) -> Option<Record> {
        let address = || entry.address.clone();
        let readings = || self.readings.get(&entry.seq).map(Vec::as_slice).unwrap_or_default();
        let read = || values(Tree::of(readings().iter().map(|read| &read.part)));
        let event = match entry.event.as_str() {
            "entered" => {
                let with = readings().iter().filter_map(|read| {
                    let name = read.part.name.split('.').next().unwrap_or_default();
                    Some((name.to_owned(), read.instrument.clone()?))
                });
                Event::Entered {
                    address: address(),
                    values: read(),
                    typed: IndexMap::new(),
                    with: with.collect(),
                    fresh_for: IndexMap::new(),
                    witness: None,
                    evidence: Vec::new(),
                    read: None,
                    remarks: Vec::new(),
                    done: entry.done,
                }
            }
            "corrected" => Event::Corrected {
                entry: entry.corrects?,
                values: read(),
                typed: IndexMap::new(),
                because: String::new(),
            },
            "supplied" => {
                let path = path_of(readings());
                let value = under(&path, Tree::of(readings().iter().map(|read| &read.part)));
                Event::Supplied { path, value, typed: String::new(), source: String::new() }
            }
            "settled" | "computed" => self.computed(entry)?,
            "judged" => {
                let judged = self.verdicts.get(&entry.seq)?;
                Event::Judged {
                    address: address(),
                    verdict: judged.verdict,
                    found: IndexMap::new(),
                    missing: Vec::new(),
                    likely: judged.likely,
                    again: judged.again,
                    supersedes: judged.supersedes,
                }
            }
            "paused" => Event::Paused { pause: 0, tag: Vec::new() },
            "resumed" => Event::Resumed { pause: 0, unannounced: false },
            "finished" => Event::Finished,
            _ => return None,
        };
        Some(Record { seq: entry.seq, at: entry.at, entered_at: None, by: String::new(), origin: Origin::Typed, event })
    }

    fn computed(&self, entry: &Entry) -> Option<Event> {
        let parts = self.computed.get(&entry.seq)?;
        let first = parts.first()?;
        let name = first.gives.as_deref().unwrap_or(&first.what);
        let value = under(name, Tree::of(parts.iter().map(|computed| &computed.part)));
        let (address, what) = (entry.address.clone(), first.what.clone());
        if entry.event == "settled" {
            return Some(Event::Settled { address, what, value, used: Vec::new(), missing: Vec::new() });
        }
        Some(Event::Computed {
            address,
            what,
            gives: first.gives.clone(),
            sheet: first.sheet.clone(),
            inputs: IndexMap::new(),
            value,
            used: Vec::new(),
            missing: Vec::new(),
            warnings: Vec::new(),
            supersedes: first.supersedes,
        })
    }
}
