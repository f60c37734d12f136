//! A log: how it was understood, what it shows, its curve.

mod plot;

use std::fmt::Write;

use serde::Serialize;
use serde_json::{Value as Json, json};

use crate::shown::banner;
use standpipe_diagnostic::columns::{clean, hang, wrap};
use standpipe_job::event::Verdict;
use standpipe_log::{Collected, First, Judged, LogClock, Row, TimeForm, Understood};
use standpipe_quantity::{Quantity, Style, Units};

pub use plot::Plot;

/// What is shown of a log.
pub struct Shown<'a> {
    pub file: &'a str,
    pub title: &'a str,
    pub invented: bool,
    pub simulated: bool,
    pub log: &'a Collected,
    pub log_clock: &'a LogClock,
    pub window: Option<(Quantity, Quantity)>,
    pub events: Vec<(f64, String)>,
    pub checks: &'a [Judged],
    /// The column of the plot.
    pub plot: &'a str,
    pub units: &'a Units,
    pub style: &'a Style,
}

#[derive(Serialize)]
struct Line {
    label: &'static str,
    text: String,
}

impl Shown<'_> {
    /// What was understood, each with a word for what it is about.
    fn understood(&self) -> Vec<Line> {
        let (understood, tally) = (&self.log.understood, &self.log.tally);
        let line = |label, text: String| Line { label, text };
        let mark = if understood.marked { ", with its mark" } else { "" };
        let decimal = match understood.decimal {
            Some(sign) => format!("decimal {}", sign.words()),
            None => "no decimals in it".to_owned(),
        };
        let mut lines = vec![line(
            "Text",
            format!("{}{mark}; {} between cells; {decimal}", understood.encoding.words(), understood.delimiter_words()),
        )];
        let heading = match (understood.heading_line, understood.units_line) {
            (Some(heading), Some(units)) => format!("heading on line {heading}, units on line {units}"),
            (Some(heading), None) => format!("heading on line {heading}"),
            (None, _) => "no heading".to_owned(),
        };
        lines.push(line("Lines", format!("{heading}; readings from line {}", understood.data_line)));
        let time = &understood.time;
        let form = match (time.form, &time.unit) {
            (TimeForm::Clock, _) => "time of the day".to_owned(),
            (TimeForm::Date, _) => "date and time".to_owned(),
            (TimeForm::Elapsed, Some((unit, _))) => format!("{unit} since the start"),
            (TimeForm::Elapsed, None) => "time since the start".to_owned(),
        };
        let day = match (self.log_clock.day, self.log_clock.day_assumed) {
            (Some(day), true) => format!("; no date in it, taken to be of {day}"),
            (Some(day), false) => format!("; first day {day}"),
            (None, _) => String::new(),
        };
        lines.push(line("Time", format!("column \"{}\", {form}{day}", clean(&time.heading))));
        for column in &understood.columns {
            let text = match &column.scale {
                Some(scale) if scale.symbol().is_empty() => "a plain number".to_owned(),
                Some(scale) => format!("in {}, {}", scale.symbol(), from_words(column.unit_from)),
                None => match self.log.strange.get(&column.name) {
                    Some(strange) => format!("words; {} stands for nothing known", strange.join(", ")),
                    None => "words".to_owned(),
                },
            };
            let text = format!("{}: column \"{}\", {text}", column.name, clean(&column.heading));
            lines.push(line("Column", text));
        }
        let used: Vec<usize> =
            understood.columns.iter().map(|column| column.index).chain([understood.time.index]).collect();
        let others = understood.headings.iter().enumerate().filter(|(index, _)| !used.contains(index));
        let others: Vec<String> = others.map(|(_, heading)| format!("\"{}\"", clean(heading))).collect();
        if !others.is_empty() {
            lines.push(line("Not used", others.join(", ")));
        }
        if let (Some(first), Some(last)) = (tally.first, tally.last) {
            let rate = if last > first { (tally.rows.saturating_sub(1)) as f64 / (last - first) } else { 0.0 };
            let pace =
                if rate >= 1.0 { format!("{rate:.1} a second") } else { format!("one each {:.1} s", 1.0 / rate) };
            let pace = if rate > 0.0 { format!(", {pace}") } else { String::new() };
            let text =
                format!("{} from {} to {}{pace}", tally.rows, self.log_clock.words(first), self.log_clock.words(last));
            lines.push(line("Rows", text));
        }
        let mut left = Vec::new();
        let mut count = |first: &First, words: &str| {
            if first.count > 0 {
                left.push(format!("{} {words} (first on line {})", first.count, first.line));
            }
        };
        count(&tally.odd, "with another number of cells");
        count(&tally.timeless, "without a time that can be read");
        count(&tally.backwards, &format!("that go back in time, the first by {:.1} s", tally.back_by));
        for (column, first) in understood.columns.iter().zip(&tally.unreadable) {
            count(first, &format!("without a readable {}", column.name));
        }
        if tally.torn {
            left.push("the last line, which does not end".to_owned());
        }
        if !left.is_empty() {
            lines.push(line("Left out", left.join("; ")));
        }
        if tally.repeated.count > 0 {
            let repeated = &tally.repeated;
            let text =
                format!("{} rows have the time of the one before (first on line {})", repeated.count, repeated.line);
            lines.push(line("Repeated", text));
        }
        lines
    }

    /// The symbol of the unit in which people here read the column that is plotted.
    fn unit(&self) -> Option<String> {
        let column = self.log.understood.columns.iter().find(|column| column.name == self.plot)?;
        let scale = column.scale.as_ref()?;
        let of = scale.quantity(0.0).of?;
        let shown = self.units.shown_units(&of, self.style);
        Some(shown.first().map_or_else(|| scale.symbol().to_string(), ToString::to_string))
    }

    fn range(&self) -> Option<String> {
        let (low, high) = self.window.as_ref()?;
        Some(self.units.show_range(low, high, self.style))
    }

    pub fn text(&self, width: usize) -> String {
        let mut text = String::new();
        let banner = banner(self.simulated, self.invented);
        let gap = if banner.is_empty() { "" } else { "  " };
        let _ = writeln!(text, "{}: {}{gap}{banner}\n", clean(self.file), self.title);
        for line in self.understood() {
            for one in hang(&format!("{:9} ", line.label), &line.text, width) {
                let _ = writeln!(text, "{one}");
            }
        }
        if let Some(range) = self.range() {
            let _ = writeln!(text, "{:9} {range}", "Window");
        }
        if let (Some(series), Some(unit)) = (self.log.series.get(self.plot), self.unit()) {
            text.push('\n');
            let plot = Plot {
                series,
                window: self.window.as_ref(),
                events: &self.events,
                log_clock: self.log_clock,
                units: self.units,
                unit: &unit,
            };
            for line in plot.lines(width) {
                let _ = writeln!(text, "{line}");
            }
        }
        text.push('\n');
        for check in self.checks {
            for one in hang(&format!("{:9} ", check.verdict.words()), &check.title, width) {
                let _ = writeln!(text, "{one}");
            }
            let mut more = Vec::new();
            if !check.missing.is_empty() {
                more.push(format!("not known: {}", check.missing.join("; ")));
            }
            if let Some(fault) = &check.fault {
                more.push(format!("{}: {}", fault.place, fault.message));
            }
            if check.verdict == Verdict::NotMet {
                more.push(check.at_stake.clone());
            }
            for line in more.iter().flat_map(|words| wrap(words, width.saturating_sub(10))) {
                let _ = writeln!(text, "{:10}{line}", "");
            }
        }
        let of = |verdict| self.checks.iter().filter(|check| check.verdict == verdict).count();
        let (met, not, open) = (of(Verdict::Met), of(Verdict::NotMet), of(Verdict::NotShown));
        let _ = writeln!(text, "\n{met} met, {not} not met, {open} not shown");
        text
    }

    pub fn json(&self) -> Json {
        let (understood, tally) = (&self.log.understood, &self.log.tally);
        let columns: Vec<Json> = understood
            .columns
            .iter()
            .zip(tally.filled.iter().zip(&tally.unreadable))
            .map(|(column, (filled, unreadable))| {
                json!({
                    "name": column.name, "heading": column.heading, "number": column.index + 1,
                    "unit": column.scale.as_ref().map(|scale| scale.symbol()),
                    "unit_from": column.scale.as_ref().map(|_| column.unit_from),
                    "readings": filled, "unreadable": unreadable.count,
                })
            })
            .collect();
        let checks: Vec<Json> = self
            .checks
            .iter()
            .map(|check| {
                json!({
                    "id": check.id, "title": check.title, "verdict": check.verdict, "missing": check.missing,
                    "fault": check.fault.as_ref().map(|fault| format!("{}: {}", fault.place, fault.message)),
                    "at_stake": check.at_stake,
                })
            })
            .collect();
        let events: Vec<Json> = self
            .events
            .iter()
            .map(|(at, words)| json!({ "at": self.log_clock.words(*at), "seconds": at, "event": words }))
            .collect();
        json!({
            "file": self.file, "invented": self.invented, "simulated": self.simulated,
            "encoding": understood.encoding.words(), "delimiter": understood.delimiter_words(),
            "decimal": understood.decimal.map(|sign| sign.words()),
            "heading_line": understood.heading_line, "units_line": understood.units_line,
            "data_line": understood.data_line,
            "time": {
                "heading": understood.time.heading, "form": understood.time.form.words(),
                "unit": understood.time.unit.as_ref().map(|(unit, _)| unit),
                "day": self.log_clock.day.map(|day| day.to_string()), "day_assumed": self.log_clock.day_assumed,
            },
            "columns": columns,
            "rows": tally.rows, "from": tally.first, "to": tally.last,
            "backwards": tally.backwards.count, "repeated": tally.repeated.count, "odd": tally.odd.count,
            "timeless": tally.timeless.count, "torn": tally.torn,
            "window": self.range(), "events": events, "checks": checks,
        })
    }
}

/// The heading of the cleaned readings.
pub fn csv_heading(understood: &Understood) -> Vec<String> {
    let columns = understood.columns.iter().map(|column| match &column.scale {
        Some(scale) if !scale.symbol().is_empty() => format!("{} [{}]", column.name, scale.symbol()),
        _ => column.name.clone(),
    });
    ["clock".to_owned(), "time [s]".to_owned()].into_iter().chain(columns).collect()
}

/// One row of them, each in the unit that it has in the log.
pub fn csv_row(
    understood: &Understood,
    log_clock: &LogClock,
    row: &Row<'_>,
    word: impl Fn(usize, usize) -> String,
) -> Vec<String> {
    let cells =
        understood.columns.iter().zip(row.values).enumerate().map(|(index, (column, value))| match &column.scale {
            _ if value.is_nan() => String::new(),
            Some(scale) => number(scale.from_si(*value)),
            None => word(index, *value as usize),
        });
    [log_clock.short(row.at), number(row.at)].into_iter().chain(cells).collect()
}

/// Without what a conversion leaves behind the ninth digit.
fn number(value: f64) -> String {
    let rounded = (value * 1e6).round() / 1e6;
    format!("{}", rounded + 0.0)
}

fn from_words(from: &str) -> &str {
    match from {
        "said" => "as was said",
        "heading" => "from its heading",
        "units row" => "from the row of units",
        other => other,
    }
}
