//! What the archive is made of: tables, and what stands in each column.
//!
//! Rows are values, so that a new procedure changes no table. A column that comes later may be empty and stands last; one that
//! gets another meaning makes another [`VERSION`]. No column is called by a word of SQL.

use serde_json::{Value as Json, json};

/// Of what the columns mean.
pub const VERSION: u32 = 1;

/// What the list of its files is called.
pub const LIST: &str = "archive.json";

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Text,
    Whole,
    Number,
    Truth,
    /// Microseconds of UTC since the beginning of 1970.
    Time,
}

#[derive(Clone, Copy, Debug)]
pub struct Column {
    pub name: &'static str,
    pub kind: Kind,
    /// It may be empty.
    pub optional: bool,
    pub about: &'static str,
}

pub struct Table {
    pub name: &'static str,
    pub about: &'static str,
    groups: &'static [&'static [Column]],
}

impl Table {
    pub fn columns(&self) -> impl Iterator<Item = &'static Column> {
        self.groups.iter().copied().flatten()
    }
}

const fn always(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, optional: false, about }
}

const fn maybe(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, optional: true, about }
}

use Kind::{Number, Text, Time, Truth, Whole};

const JOB: &[Column] = &[
    always(
        "job_key",
        Text,
        "The first 16 bytes of the hash of the journal's first line: the same job wherever it lies",
    ),
    always("simulated", Truth, "A model answered the job: it is not a real one"),
];

const EVENT: &[Column] = &[always("seq", Whole, "Number of the event in its journal")];

const PLACE: &[Column] = &[
    maybe("step", Text, "The step"),
    maybe("rounds", Text, "Numbers of the rounds around it, outermost first"),
    maybe("round", Whole, "The innermost of these"),
    maybe("item", Text, "The item of a step that goes over several"),
];

const VALUE: &[Column] = &[
    always(
        "kind",
        Text,
        "number, quantity, low or high (ends of a range), truth, text, person, `left out` (words that were not asked for), \
         unknown, empty list, empty record",
    ),
    maybe("truth", Truth, "Yes or no"),
    maybe("si", Number, "The number, in base units"),
    maybe("quantity", Text, "What it is a quantity of, where that is known"),
    maybe("dimension", Text, "Its base units: kg, m, s, K and the currency"),
    maybe("point", Truth, "A point on a scale, such as a temperature, and no difference"),
    maybe("unit", Text, "The unit it was written in"),
    maybe("written", Number, "The number as it was written, in that unit"),
    maybe("decimals", Whole, "Digits after the decimal point, as it was written"),
    maybe("text", Text, "The words; of a person a keyed hash"),
];

const JOBS: &[Column] = &[
    always("first_line", Text, "Hash of the journal's first line"),
    always("head", Text, "Hash of its last line"),
    maybe("seal", Text, "Hash of the whole journal, once it is closed"),
    always("plan", Text, "Hash of the plan that it was begun with"),
    always("texts", Text, "Hash of all procedures, families, sheets and scripts that it was begun with"),
    always("job", Text, "Id of the job"),
    always("form", Text, "Id of the form"),
    always("family", Text, "Id of the family"),
    maybe("variant", Text, "Id of the variant, as far as it is known"),
    always("procedure", Text, "Id of the procedure"),
    maybe("version", Text, "Version of the plugin that the procedure is from"),
    always("state", Text, "Where the job stands"),
    always("begun", Time, "When it was opened"),
    always("begun_day", Whole, "The day of that on the clock of the workshop, counted from 1970-01-01"),
    always("last_at", Time, "When the last event was entered"),
    always("offset_min", Whole, "Minutes that the clock of the workshop was ahead of UTC when it was opened"),
    always("events", Whole, "How many events it has"),
    always("tool", Text, "Version of the program that began it"),
    always("interpreter", Text, "Version of the interpreter that ran its scripts"),
    always("invented", Truth, "Something in it is invented"),
    always("headless", Truth, "Something in it was answered from a file"),
    maybe("subject", Text, "A keyed hash of what the work was done on: the same thing has the same in one shop"),
    maybe("follows", Text, "The job that it goes on from, as its file names it"),
];

const ENTRIES: &[Column] = &[
    always("done_at", Time, "When it was done"),
    always("entered_at", Time, "When it was entered: later, where it was written down afterwards"),
    always("offset_min", Whole, "Minutes that the clock was ahead of UTC"),
    maybe("took", Number, "Seconds since the event before it was entered"),
    maybe("person", Text, "A keyed hash of who did it; nothing where the machine concluded it before anybody acted"),
    always("origin", Text, "Where it came from: typed, answers, log, page"),
    always("event", Text, "What kind of event it is"),
    maybe("section", Text, "The outermost step around it; of a procedure that was called, its id"),
    maybe("done", Truth, "Of what was entered: whether it counts, rather than being an attempt"),
    maybe("corrects", Whole, "Number of the event that it corrects"),
    maybe("witness", Text, "A keyed hash of the witness; `alone` where nobody could be one"),
    maybe("words", Text, "The reason or note; left out unless it is asked for"),
];

const READINGS: &[Column] = &[
    always("name", Text, "What the value is called; parts of lists and records after dots"),
    maybe("instrument", Text, "Id of the instrument that it was read with"),
    maybe("accuracy", Number, "How far that may be off by the shop file, at this value, in base units"),
    maybe("taken_from", Text, "`reader` or `log`, where it was taken from its rows"),
    maybe("corrects", Whole, "Number of the event that it corrects"),
    always("counts", Truth, "It counted in the end: entered in full, and neither ended nor rejected"),
];

const VERDICTS: &[Column] = &[
    always("verdict", Text, "met, not met, not shown"),
    maybe("likely", Number, "In what share of trials it was met, where the gate asks for that"),
    always("again", Truth, "The step was asked again"),
    always("standing", Truth, "No later verdict took its place"),
    always("accepted", Truth, "Somebody accepted it and went on, with a reason"),
    maybe("supersedes", Whole, "Number of the verdict whose place it took"),
];

const LOOKED_AT: &[Column] = &[always(
    "name",
    Text,
    "What the gate, or whoever told the variants apart, looked at: a reading, or a fact by its path",
)];

const COMPUTED: &[Column] = &[
    always("what", Text, "Which expression or result of the step it is"),
    maybe("gives", Text, "What it is called in the job"),
    maybe("sheet", Text, "Id of the sheet that computed it"),
    always("input", Truth, "It is what went into the sheet, not what came of it"),
    always("name", Text, "What the value is called; parts of lists and records after dots"),
    maybe("supersedes", Whole, "Number of the event whose place it took"),
];

pub const TABLES: [Table; 6] = [
    Table { name: "jobs", about: "A row for each job", groups: &[JOB, JOBS] },
    Table {
        name: "entries",
        about: "A row for each event of a job: who, when, what kind",
        groups: &[JOB, EVENT, PLACE, ENTRIES],
    },
    Table {
        name: "readings",
        about: "A row for each value that somebody entered, corrected or supplied, or that a reader brought",
        groups: &[JOB, EVENT, PLACE, READINGS, VALUE],
    },
    Table { name: "verdicts", about: "A row for each verdict of a gate", groups: &[JOB, EVENT, PLACE, VERDICTS] },
    Table {
        name: "looked_at",
        about: "A row for each value that a verdict rests on, as it was",
        groups: &[JOB, EVENT, LOOKED_AT, VALUE],
    },
    Table {
        name: "computed",
        about: "A row for each value that was computed or settled, and that went into it",
        groups: &[JOB, EVENT, PLACE, COMPUTED, VALUE],
    },
];

/// What stands in the folder names of every table, which readers take for columns.
pub const PARTS: [(&str, &str); 2] = [
    ("shop", "Id of the shop; `-` for a job without one"),
    ("month", "Year and month in which the job was opened; `open` while it is not closed"),
];

/// A JSON Schema of the rows of each table.
pub fn schema() -> Json {
    let tables: serde_json::Map<String, Json> = TABLES
        .iter()
        .map(|table| {
            let parts = PARTS
                .iter()
                .map(|(name, about)| ((*name).to_owned(), json!({ "type": "string", "description": about })));
            let columns = table.columns().map(|column| (column.name.to_owned(), of(column)));
            let required: Vec<&str> =
                table.columns().filter(|column| !column.optional).map(|column| column.name).collect();
            let properties: serde_json::Map<String, Json> = columns.chain(parts).collect();
            let rows = json!({
                "type": "array", "description": table.about,
                "items": {
                    "type": "object", "properties": properties, "required": required, "additionalProperties": false,
                },
            });
            (table.name.to_owned(), rows)
        })
        .collect();
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "description": format!("The rows of each table of an archive, version {VERSION} of what they mean"),
        "type": "object", "properties": tables, "additionalProperties": false,
    })
}

fn of(column: &Column) -> Json {
    let kind = match column.kind {
        Text => "string",
        Whole => "integer",
        Number => "number",
        Truth => "boolean",
        Time => "string",
    };
    let mut of = json!({ "type": if column.optional { json!([kind, "null"]) } else { json!(kind) } });
    if column.kind == Time {
        of["format"] = json!("date-time");
    }
    of["description"] = json!(column.about);
    of
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_column_stands_twice_or_clashes_with_a_folder() {
        for table in &TABLES {
            let mut names: Vec<&str> =
                table.columns().map(|column| column.name).chain(PARTS.map(|(name, _)| name)).collect();
            let count = names.len();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), count, "{}", table.name);
        }
    }
}
