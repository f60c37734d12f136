//! A program by its numbers: for those who run it a million times and need no values in between.

use super::abreast::{LANES, Lanes};
use super::program::{Kind, Op};
use super::seam::Lowered;
use super::shape::Given;
use super::value::{Slot, Term, Val};
use standpipe_quantity::{Name, Quantity};

/// The registers of a run.
#[derive(Clone, Debug)]
pub struct Room(Vec<f64>);

/// The registers of as many runs as are done at once.
#[derive(Clone, Debug)]
pub struct Abreast {
    lanes: Lanes,
    /// Registers that results lie in.
    shown: Vec<u16>,
}

/// Where a number of a result lies.
#[derive(Clone, Copy, Debug)]
pub struct Read(Term);

/// Where an input goes.
#[derive(Clone, Debug)]
pub enum Port {
    /// The number in base units, and where the number as it was written goes, with its unit.
    Number {
        si: u16,
        written: Option<(Name, u16)>,
    },
    /// The program was made for this text.
    Text(String),
    Other,
}

/// What a program gives under a name.
#[derive(Clone, Debug)]
pub enum Held {
    /// Kind of the quantity, which stands for all, and where its number lies.
    Quantity(Quantity, Read),
    Range(Quantity, Read, Read),
    Text(Read),
    Truth(Read),
    /// Texts, each there only if its truth says so.
    Texts(Vec<(Option<Read>, Read)>),
    Other,
}

/// One field of a result.
#[derive(Clone, Debug)]
pub struct Field {
    pub name: String,
    /// It is there only if this is true.
    pub there: Option<Read>,
    pub what: Held,
}

impl Room {
    pub fn set(&mut self, register: u16, number: f64) {
        self.0[usize::from(register)] = number;
    }

    pub(super) fn numbers(&self) -> &[f64] {
        &self.0
    }

    pub fn read(&self, read: Read) -> f64 {
        match read.0 {
            Term::Const(number) => number,
            Term::Reg(register) => self.0[usize::from(register)],
        }
    }

    pub fn is(&self, read: Option<Read>) -> bool {
        read.is_none_or(|read| self.read(read) != 0.0)
    }
}

impl Abreast {
    pub fn set(&mut self, lane: usize, register: u16, number: f64) {
        self.lanes.rows[usize::from(register)][lane] = number;
    }

    pub fn read(&self, lane: usize, read: Read) -> f64 {
        match read.0 {
            Term::Const(number) => number,
            Term::Reg(register) => self.lanes.rows[usize::from(register)][lane],
        }
    }

    pub fn is(&self, lane: usize, read: Option<Read>) -> bool {
        read.is_none_or(|read| self.read(lane, read) != 0.0)
    }

    /// Lays the results of one lane into a room.
    pub fn show(&self, lane: usize, room: &mut Room) {
        for register in &self.shown {
            room.0[usize::from(*register)] = self.lanes.rows[usize::from(*register)][lane];
        }
    }
}

impl Lowered {
    /// Room for runs, with these inputs in it; `None` if they are of another shape.
    pub fn room_with(&self, inputs: &indexmap::IndexMap<String, standpipe_quantity::value::Value>) -> Option<Room> {
        let mut room = self.program.room();
        Given::load_fields(&self.given, inputs, &mut room, &mut Vec::new()).then_some(Room(room))
    }

    pub fn port(&self, name: &str) -> Port {
        match self.given.iter().find(|(known, _)| known == name).map(|(_, given)| given) {
            Some(Given::Number(si)) => Port::Number { si: *si, written: None },
            Some(Given::Quantity { si, written, .. }) => Port::Number { si: *si, written: *written },
            Some(Given::Text(text)) => Port::Text(text.clone()),
            _ => Port::Other,
        }
    }

    /// What each of its results holds; `None` if one of them is no record, or shows how an input was written.
    pub fn fields(&self) -> Option<Vec<Vec<Field>>> {
        self.program
            .results
            .iter()
            .map(|result| {
                let Val::Record(fields) = result else { return None };
                fields.iter().map(|(name, slot)| field(name, slot)).collect()
            })
            .collect()
    }

    /// Runs it on what lies in the room; gives which of its results came, or nothing where the interpreter has to do it.
    pub fn go(&self, room: &mut Room) -> Option<usize> {
        self.program.run_quick(&mut room.0).map(usize::from)
    }

    /// Rooms with the same inputs in every lane.
    pub fn abreast(&self, room: &Room) -> Abreast {
        let used = self.program.registers + self.program.constants.len();
        let mut shown = Vec::new();
        let mut add = |term| {
            if let Term::Reg(register) = term {
                shown.push(register);
            }
        };
        self.program.results.iter().for_each(|result| result.terms(&mut add));
        Abreast { lanes: Lanes::new(&room.0[..used]), shown }
    }

    /// Runs it in all lanes; gives of each what [`Self::go`] gives.
    pub fn go_abreast(&self, abreast: &mut Abreast) -> [Option<usize>; LANES] {
        self.program.run_abreast(&mut abreast.lanes).map(|result| result.map(usize::from))
    }

    /// Whether a text of a result is one of these whatever the inputs are; of one that only a run shows, all texts of the
    /// program are looked at that are not warnings or inputs alone.
    pub fn texts_are(&self, read: Read, choices: &[String]) -> bool {
        match read.0 {
            Term::Const(place) => choices.iter().any(|choice| choice == self.text(place)),
            Term::Reg(register) => {
                // Whatever a constant moved into the register, or into one that is moved there, can be the text.
                let mut registers = vec![register];
                let mut at = 0;
                while let Some(to) = registers.get(at).copied() {
                    at += 1;
                    for op in &self.program.code.ops {
                        let Op::Do { kind: Kind::Move, to: moved, a, .. } = op else { continue };
                        if *moved != to {
                            continue;
                        }
                        match self.program.constants.get(usize::from(*a).wrapping_sub(self.program.registers)) {
                            Some(place) if choices.iter().any(|choice| choice == self.text(*place)) => {}
                            Some(_) => return false,
                            None if !registers.contains(a) => registers.push(*a),
                            None => {}
                        }
                    }
                }
                true
            }
        }
    }

    pub fn text(&self, place: f64) -> &str {
        self.program.texts.get(place as usize).map_or("", String::as_str)
    }
}

fn field(name: &str, slot: &Slot) -> Option<Field> {
    let what = match &slot.val {
        Val::Whole(term) | Val::Number(term) | Val::Loose(term) => Held::Quantity(Quantity::number(1.0), Read(*term)),
        Val::Quantity(measure, si, Term::Const(0.0)) => Held::Quantity(measure.with(1.0), Read(*si)),
        Val::Quantity(..) => return None,
        Val::Range(ends) => match (&ends.0, &ends.1) {
            (Val::Quantity(low, a, Term::Const(0.0)), Val::Quantity(_, b, Term::Const(0.0))) => {
                Held::Range(low.with(1.0), Read(*a), Read(*b))
            }
            _ => return None,
        },
        Val::Text(term) => Held::Text(Read(*term)),
        Val::Truth(term) => Held::Truth(Read(*term)),
        Val::List(slots) => {
            let texts: Option<Vec<_>> = slots
                .iter()
                .map(|slot| match slot.val {
                    Val::Text(term) => Some((slot.there.map(Read), Read(term))),
                    _ => None,
                })
                .collect();
            texts.map_or(Held::Other, Held::Texts)
        }
        _ => Held::Other,
    };
    Some(Field { name: name.to_owned(), there: slot.there.map(Read), what })
}
