//! A sheet run a great many times on numbers alone, many runs at once: rows of a table, trials.
//!
//! Only what is plain goes this way: numbers inside their limits, and a program that leads to a result. For everything
//! else (a warning, a refusal, a limit) there is no answer here, and the sheet is run as it always is.

use std::rc::Rc;

use indexmap::IndexMap;

use super::{Input, Shape, Sheet};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Name, Quantity, Unit, Units};
use standpipe_script::{Abreast, Held, LANES, Lowered, Port, Read, Scripts, WARNINGS};

pub(super) struct Direct {
    lowered: Rc<Lowered>,
    /// A lane for each run.
    lanes: Abreast,
    /// Of each result that the program can have.
    results: Vec<Vec<Cell>>,
    warnings: Vec<Vec<(Option<Read>, Read)>>,
}

/// An input and the numbers that it may have without a word.
#[derive(Clone, Debug)]
pub(super) struct Way {
    port: Port,
    low: f64,
    high: f64,
    whole: bool,
}

/// One output, in the order of the sheet.
struct Cell {
    there: Option<Read>,
    what: What,
}

enum What {
    Nothing,
    Number(Read),
    In(Unit, Read),
    Ends(Unit, Read, Read),
    Text(Read),
    Truth(Read),
}

/// An output of one run.
pub(super) enum Came<'a> {
    Nothing,
    /// In base units, and in the unit of the sheet.
    Number {
        si: f64,
        shown: f64,
    },
    Ends(f64, f64),
    Text(&'a str),
    Truth(bool),
}

impl Sheet {
    /// The sheet for inputs that differ from these in their numbers only; `None` where that can't be.
    pub(super) fn direct(&self, scripts: &Scripts, checked: &IndexMap<String, Value>) -> Option<Direct> {
        let lowered = scripts.program_for(&self.plugin, &self.script, checked)?;
        let lanes = lowered.abreast(&lowered.room_with(checked)?);
        let mut results = Vec::new();
        let mut all_warnings = Vec::new();
        for fields in lowered.fields()? {
            let mut warnings = Vec::new();
            for field in &fields {
                match &field.what {
                    Held::Texts(texts) if field.name == WARNINGS && field.there.is_none() => warnings.clone_from(texts),
                    _ if self.outputs.contains_key(&field.name) => {}
                    _ => return None,
                }
            }
            all_warnings.push(warnings);
            let cells: Option<Vec<Cell>> = self
                .outputs
                .iter()
                .map(|(name, output)| {
                    let Some(field) = fields.iter().find(|field| field.name == *name) else {
                        return output.optional.then_some(Cell { there: None, what: What::Nothing });
                    };
                    if output.list || (field.there.is_some() && !output.optional) {
                        return None;
                    }
                    let what = cell(&output.shape, output.unit.as_deref(), &field.what, &lowered, scripts.units())?;
                    Some(Cell { there: field.there, what })
                })
                .collect();
            results.push(cells?);
        }
        Some(Direct { lowered, lanes, results, warnings: all_warnings })
    }
}

fn cell(shape: &Shape, unit: Option<&str>, held: &Held, lowered: &Lowered, units: &Units) -> Option<What> {
    let alike = |of: &str, sample: &Quantity| {
        let family = units.family(of).filter(|family| !family.whole)?;
        let one = family.one();
        units.compare(sample, &one).ok()?;
        Some((family.plain, one))
    };
    let in_unit = |one: &Quantity| units.unit_for(one, unit?).cloned();
    Some(match (shape, held) {
        (Shape::Quantity(of), Held::Quantity(sample, read)) => match alike(of, sample)? {
            (true, _) => What::Number(*read),
            (false, one) => What::In(in_unit(&one)?, *read),
        },
        (Shape::Range(of), Held::Range(sample, low, high)) => What::Ends(in_unit(&alike(of, sample)?.1)?, *low, *high),
        (Shape::Text(choices), Held::Text(read)) => {
            if !choices.is_empty() && !lowered.texts_are(*read, choices) {
                return None;
            }
            What::Text(*read)
        }
        (Shape::Truth, Held::Truth(read)) => What::Truth(*read),
        _ => return None,
    })
}

impl Input {
    /// Where its numbers go and between which ends nothing is to be said of them.
    pub(super) fn way(&self, name: &str, direct: &Direct, units: &Units) -> Option<Way> {
        let port = direct.lowered.port(name);
        if self.list || matches!(port, Port::Other) {
            return None;
        }
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        if let Some(limit) = &self.at_least {
            low = low.max(limit.value.si);
        }
        if let Some(limit) = &self.at_most {
            high = high.min(limit.value.si);
        }
        if let Some(valid) = &self.valid {
            low = low.max(valid.value.0.si);
            high = high.min(valid.value.1.si);
        }
        let whole = match &self.shape {
            Shape::Quantity(of) => units.family(of)?.whole,
            Shape::Text(_) => false,
            _ => return None,
        };
        Some(Way { port, low, high, whole })
    }
}

impl Way {
    /// Numbers outside, which may yet be equal to an end within the tolerance, are left to the longer way.
    fn takes(&self, si: f64) -> bool {
        si >= self.low && si <= self.high && !(self.whole && si.fract() != 0.0) && si.is_finite()
    }
}

impl Direct {
    /// Sets an input of one run; false where more is to be said of it than a number.
    pub fn set(&mut self, lane: usize, way: &Way, si: f64, written: Option<f64>) -> bool {
        let Port::Number { si: register, written: place } = &way.port else { return false };
        match (place, written) {
            (None, None) => {}
            (Some((_, place)), Some(value)) => self.lanes.set(lane, *place, value),
            // The unit in which it was written is part of what the program was made for.
            _ => return false,
        }
        self.lanes.set(lane, *register, si);
        way.takes(si)
    }

    pub fn has_text(&self, way: &Way, text: &str) -> bool {
        matches!(&way.port, Port::Text(known) if known == text)
    }

    /// Whether what is read in this unit is written as the program has it.
    pub fn is_written(&self, way: &Way, unit: Option<&Name>) -> bool {
        match (&way.port, unit) {
            (Port::Number { written: Some((symbol, _)), .. }, Some(unit)) => symbol == unit,
            (Port::Number { written: None, .. }, None) | (Port::Text(_), _) => true,
            _ => false,
        }
    }

    /// Runs it in all lanes; gives of each which result came, or nothing where the longer way has to be taken.
    pub fn run(&mut self) -> [Option<usize>; LANES] {
        self.lowered.go_abreast(&mut self.lanes)
    }

    /// What one run came to.
    pub fn each<'a>(&'a self, lane: usize, result: usize, mut take: impl FnMut(usize, Came<'a>)) {
        let read = |read| self.lanes.read(lane, read);
        for (index, cell) in self.results[result].iter().enumerate() {
            if !self.lanes.is(lane, cell.there) {
                take(index, Came::Nothing);
                continue;
            }
            take(
                index,
                match &cell.what {
                    What::Nothing => Came::Nothing,
                    What::Number(number) => {
                        let number = read(*number);
                        Came::Number { si: number, shown: number }
                    }
                    What::In(unit, si) => {
                        let si = read(*si);
                        Came::Number { si, shown: unit.from_si(si) }
                    }
                    What::Ends(unit, low, high) => Came::Ends(unit.from_si(read(*low)), unit.from_si(read(*high))),
                    What::Text(text) => Came::Text(self.lowered.text(read(*text))),
                    What::Truth(truth) => Came::Truth(read(*truth) != 0.0),
                },
            );
        }
    }

    pub fn warnings(&self, lane: usize, result: usize) -> impl Iterator<Item = &str> {
        self.warnings[result]
            .iter()
            .filter(move |(there, _)| self.lanes.is(lane, *there))
            .map(move |(_, read)| self.lowered.text(self.lanes.read(lane, *read)))
    }
}
