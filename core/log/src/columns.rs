//! Which column is what: by its heading, or as it was said. Where two would do, or none, it is asked.

use std::sync::Arc;

use indexmap::IndexMap;

use super::clock::forms;
use super::number::{self, DecimalSign, is_absent, trimmed};
use super::question::Question;
use super::sniff::{Shape, bare};
use super::understood::{ColumnRead, TimeRead};
use super::wanted::{Wanted, WantedColumn, has, plain};
use super::{Choices, TimeForm};
use standpipe_quantity::{Scale, Units};

/// Name of the column of the time, in options and in the shop file.
const TIME: &str = "time";

pub(super) struct Finding<'a> {
    pub shape: &'a Shape,
    pub choices: &'a Choices,
    pub units: &'a Units,
    pub questions: Vec<Question>,
}

impl Finding<'_> {
    pub fn find(&mut self, wanted: &Wanted) -> Option<(TimeRead, Vec<ColumnRead>)> {
        let time = self.time(wanted);
        let taken = time.as_ref().map(|time| time.index);
        let mut columns = Vec::new();
        for (name, column) in &wanted.columns {
            if let Some(index) = self.column(name, column, taken) {
                columns.extend(self.read_as(name, column, index));
            }
        }
        for name in self.choices.columns.keys().chain(self.choices.units.keys()).chain(self.choices.words.keys()) {
            if name != TIME && !wanted.columns.contains_key(name) {
                let choices = wanted.columns.keys().cloned().chain([TIME.to_owned()]).collect();
                self.ask(format!("Nothing called `{name}` is looked for"), "--column NAME=COLUMN".to_owned(), choices);
            }
        }
        match time {
            Some(time) if self.questions.is_empty() => Some((time, columns)),
            _ => None,
        }
    }

    fn ask(&mut self, message: String, option: String, choices: Vec<String>) {
        let line = self.shape.heading_line.unwrap_or(self.shape.data_line);
        let question = Question { message, option, choices, line };
        if !self.questions.contains(&question) {
            self.questions.push(question);
        }
    }

    fn cells(&self, index: usize) -> impl Iterator<Item = &str> {
        self.shape.rows.iter().filter_map(move |row| row.cells.get(index)).map(|cell| cell.trim())
    }

    /// Those that hold something.
    fn filled(&self, index: usize) -> impl Iterator<Item = &str> {
        self.cells(index).filter(|cell| !is_absent(trimmed(cell.as_bytes())))
    }

    fn is_number(&self, index: usize) -> bool {
        let sign = self.shape.decimal.unwrap_or(DecimalSign::Point);
        let numbers = self.filled(index).filter(|cell| number::read(trimmed(cell.as_bytes()), sign).is_some()).count();
        numbers > 0 && numbers * 2 > self.filled(index).count()
    }

    fn heading(&self, index: usize) -> &str {
        &self.shape.headings[index]
    }

    /// As it can be said on the command line: the heading, or its number where two have the same one.
    fn naming(&self, index: usize) -> String {
        let heading = self.heading(index);
        match self.shape.headings.iter().filter(|other| *other == heading).count() {
            1 => heading.to_owned(),
            _ => format!("#{}", index + 1),
        }
    }

    /// The column that was said; `Err` after asking again where there is none of that name.
    fn said(&mut self, name: &str) -> Result<Option<usize>, ()> {
        let Some(said) = self.choices.columns.get(name) else { return Ok(None) };
        let by_number = || said.strip_prefix('#')?.parse::<usize>().ok()?.checked_sub(1);
        let plain_said = plain(said);
        let found = by_number().filter(|index| *index < self.shape.headings.len()).map(|index| vec![index]);
        let found = found.unwrap_or_else(|| {
            let same = |matches: &dyn Fn(&String) -> bool| -> Vec<usize> {
                let all = self.shape.headings.iter().enumerate();
                all.filter(|(_, heading)| matches(heading)).map(|(index, _)| index).collect()
            };
            let exact = same(&|heading| heading == said);
            if exact.is_empty() {
                same(&|heading| plain(heading) == plain_said || plain(&split_unit(heading).0) == plain_said)
            } else {
                exact
            }
        });
        match found.as_slice() {
            [index] => Ok(Some(*index)),
            several => {
                let all: Vec<usize> =
                    if several.is_empty() { (0..self.shape.headings.len()).collect() } else { several.to_vec() };
                let count =
                    if several.is_empty() { "No column is".to_owned() } else { "Several columns are".to_owned() };
                let choices = all.into_iter().map(|index| self.naming(index)).collect();
                self.ask(format!("{count} called `{said}`"), format!("--column {name}=COLUMN"), choices);
                Err(())
            }
        }
    }

    fn column(&mut self, name: &str, wanted: &WantedColumn, time: Option<usize>) -> Option<usize> {
        if let Some(index) = self.said(name).ok()? {
            return Some(index);
        }
        let fits: Vec<usize> = (0..self.shape.headings.len())
            .filter(|index| Some(*index) != time && wanted.fits(&plain(self.heading(*index))))
            .collect();
        match fits.as_slice() {
            [index] => Some(*index),
            [] if !wanted.required => None,
            [] => {
                let choices: Vec<String> = (0..self.shape.headings.len())
                    .filter(|index| Some(*index) != time && (wanted.quantity.is_none() || self.is_number(*index)))
                    .map(|index| self.naming(index))
                    .collect();
                self.ask(format!("Which column is {}?", wanted.title), format!("--column {name}=COLUMN"), choices);
                None
            }
            several => {
                let choices = several.iter().map(|index| self.naming(*index)).collect();
                self.ask(
                    format!("More than one column may be {}", wanted.title),
                    format!("--column {name}=COLUMN"),
                    choices,
                );
                None
            }
        }
    }

    fn read_as(&mut self, name: &str, wanted: &WantedColumn, index: usize) -> Option<ColumnRead> {
        let heading = self.heading(index).to_owned();
        let mut read = ColumnRead {
            name: name.to_owned(),
            index,
            heading: heading.clone(),
            scale: None,
            unit_from: "",
            stands_for: IndexMap::new(),
        };
        let Some(quantity) = &wanted.quantity else {
            read.stands_for = self.words(name, wanted, index)?;
            return Some(read);
        };
        let written = split_unit(&heading).1;
        let row = self.shape.units.as_ref().and_then(|(_, cells)| cells.get(index)).map(|cell| bare(cell).to_owned());
        let row = row.filter(|cell| !cell.is_empty() && !is_absent(cell.as_bytes()));
        let said = self.choices.units.get(name).cloned();
        let candidates = [(said, "said"), (written, "heading"), (row, "units row")];
        for (unit, from) in candidates {
            let Some(unit) = unit else { continue };
            match self.units.scale(quantity, &unit) {
                Ok(scale) => {
                    read.scale = Some(Arc::new(scale));
                    read.unit_from = from;
                    return Some(read);
                }
                Err(_) if from == "heading" && !brackets(&heading) => {}
                Err(fault) => {
                    self.ask_unit(name, quantity, format!("{}: {}", self.naming(index), fault.message));
                    return None;
                }
            }
        }
        if let Ok(scale) = self.units.scale(quantity, "1") {
            read.scale = Some(Arc::new(scale));
            read.unit_from = "a plain number";
            return Some(read);
        }
        self.ask_unit(name, quantity, format!("In which unit is the column `{}`?", self.naming(index)));
        None
    }

    fn ask_unit(&mut self, name: &str, quantity: &str, message: String) {
        let family = self.units.family(quantity);
        let choices = family.map(|family| family.symbols().map(str::to_owned).collect()).unwrap_or_default();
        self.ask(message, format!("--unit {name}=UNIT"), choices);
    }

    /// What each cell of a column of words stands for. Numbers stand for nothing until someone says so.
    fn words(&mut self, name: &str, wanted: &WantedColumn, index: usize) -> Option<IndexMap<String, String>> {
        let mut stands_for = IndexMap::new();
        for (word, cells) in &wanted.stands_for {
            stands_for.insert(word.to_lowercase(), word.clone());
            stands_for.extend(cells.iter().map(|cell| (cell.to_lowercase(), word.clone())));
        }
        for (cell, word) in self.choices.words.get(name).into_iter().flatten() {
            stands_for.insert(cell.to_lowercase(), word.clone());
        }
        let mut open: Vec<String> = self
            .filled(index)
            .filter(|cell| cell.bytes().all(|byte| byte.is_ascii_digit()) && !stands_for.contains_key(*cell))
            .map(str::to_owned)
            .collect();
        open.sort();
        open.dedup();
        if open.is_empty() {
            return Some(stands_for);
        }
        let numbers = open.join(", ");
        self.ask(
            format!("The column `{}` holds {numbers}: which word does each stand for?", self.naming(index)),
            format!("--word {name}.NUMBER=WORD"),
            wanted.stands_for.keys().cloned().collect(),
        );
        None
    }

    fn time(&mut self, wanted: &Wanted) -> Option<TimeRead> {
        let index = match self.said(TIME).ok()? {
            Some(index) => index,
            None => self.time_column(wanted)?,
        };
        let heading = self.heading(index).to_owned();
        let read = |form, unit| Some(TimeRead { index, heading: heading.clone(), form, unit, day: None });
        let cells: Vec<&str> = self.filled(index).collect();
        let all = |form: TimeForm| {
            !cells.is_empty() && cells.iter().filter(|cell| forms(cell).contains(&form)).count() * 2 > cells.len()
        };
        let fitting: Vec<TimeForm> =
            [TimeForm::Date, TimeForm::Clock, TimeForm::Elapsed].into_iter().filter(|form| all(*form)).collect();
        if fitting.is_empty() {
            let (message, option) =
                (format!("The column `{}` holds no time that can be read", self.naming(index)), "--column time=COLUMN");
            if !self.is_number(index) {
                let choices = (0..self.shape.headings.len()).map(|index| self.naming(index)).collect();
                self.ask(message, option.to_owned(), choices);
                return None;
            }
            return read(TimeForm::Elapsed, Some(self.time_unit(index)?));
        }
        // One cell that fits only one form settles it for all.
        let decided = cells.iter().map(|cell| forms(cell)).find(|forms| forms.len() == 1).map(|forms| forms[0]);
        match (self.choices.time, fitting.as_slice()) {
            (Some(said), fitting) if fitting.contains(&said) => read(said, None),
            (None, [form]) => read(*form, None),
            (None, _) if decided.is_some() => read(decided?, None),
            (_, several) => {
                let example = cells.first().copied().unwrap_or_default().to_owned();
                let choices = several.iter().map(|form| form.words().to_owned()).collect();
                self.ask(
                    format!("Is `{example}` the time of the day or time since the start?"),
                    "--time FORM".to_owned(),
                    choices,
                );
                None
            }
        }
    }

    fn time_column(&mut self, wanted: &Wanted) -> Option<usize> {
        let count = self.shape.headings.len();
        let is_clock = |index: &usize| {
            let filled = self.filled(*index).count();
            filled > 0 && self.filled(*index).filter(|cell| !forms(cell).is_empty()).count() * 2 > filled
        };
        let named: Vec<usize> = (0..count)
            .filter(|index| {
                let heading = plain(self.heading(*index));
                wanted.time.iter().any(|phrase| has(&heading, phrase)) && (is_clock(index) || self.is_number(*index))
            })
            .collect();
        let by_form: Vec<usize> = (0..count).filter(is_clock).collect();
        let fits = if named.is_empty() { by_form } else { named };
        match fits.as_slice() {
            [index] => Some(*index),
            [] => {
                let choices =
                    (0..count).filter(|index| self.is_number(*index)).map(|index| self.naming(index)).collect();
                self.ask("Which column is the time?".to_owned(), "--column time=COLUMN".to_owned(), choices);
                None
            }
            several => {
                let choices = several.iter().map(|index| self.naming(*index)).collect();
                self.ask("More than one column may be the time".to_owned(), "--column time=COLUMN".to_owned(), choices);
                None
            }
        }
    }

    fn time_unit(&mut self, index: usize) -> Option<(String, f64)> {
        let written = split_unit(self.heading(index)).1;
        let row = self.shape.units.as_ref().and_then(|(_, cells)| cells.get(index)).map(|cell| bare(cell).to_owned());
        let said = self.choices.units.get(TIME).cloned();
        let scale = |unit: Option<String>| -> Option<Scale> { self.units.scale(TIME, &unit?).ok() };
        match scale(said).or_else(|| scale(written)).or_else(|| scale(row)) {
            Some(scale) => Some((scale.symbol().to_string(), scale.to_si(1.0))),
            None => {
                let choices = ["s", "ms", "min"].map(str::to_owned).to_vec();
                let message = format!("In which unit is the time, column `{}`?", self.naming(index));
                self.ask(message, "--unit time=UNIT".to_owned(), choices);
                None
            }
        }
    }
}

/// `Bay temp [°C]`, `Bay temp (degC)`, `Bay temp / °C`, `Bay temp °C`: name and what may be a unit.
pub(super) fn split_unit(heading: &str) -> (String, Option<String>) {
    let heading = heading.trim();
    let cut = |at: usize, unit: &str| (heading[..at].trim().to_owned(), Some(bare(unit).to_owned()));
    for (open, close) in [('[', ']'), ('(', ')')] {
        if heading.ends_with(close)
            && let Some(at) = heading.rfind(open)
            && at > 0
        {
            return cut(at, &heading[at..]);
        }
    }
    for between in [" / ", ", ", " in "] {
        if let Some(at) = heading.rfind(between) {
            return cut(at, &heading[at + between.len()..]);
        }
    }
    match heading.rfind([' ', '_']) {
        Some(at) => cut(at, &heading[at + 1..]),
        None => (heading.to_owned(), None),
    }
}

/// Whether what stands behind the name can only be a unit.
fn brackets(heading: &str) -> bool {
    heading.trim().ends_with([']', ')'])
}
