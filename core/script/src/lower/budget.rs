//! What lowering one function may use up. A branch that no run ever takes is walked too, and loops are written out, so that
//! what stops a script while it runs would stop nothing here.
//!
//! Values are held to the interpreter's own limits: what it would refuse to make is left to it, so that both ways agree.

use rhai::Position;

use super::value::{Slot, Term, Val};
use super::{Lowering, State};
use crate::limits;

/// About one for each expression, statement, entry of a list and value that meets another. Own choice, not measured.
const STEPS: usize = 400_000;
/// Bytes of text that count as one step: all texts that were ever made are kept.
const TEXT_OF_A_STEP: usize = 64;

/// How large a value is, counted as the interpreter counts: with all that lies in it.
#[derive(Default)]
struct Size {
    entries: usize,
    fields: usize,
    text: usize,
    too_deep: bool,
    /// Bytes of the longest text there is so far.
    longest: usize,
}

impl Size {
    fn fits(&self) -> bool {
        !self.too_deep && self.entries <= limits::LIST && self.fields <= limits::RECORD && self.text <= limits::TEXT
    }

    /// Stops where it is too large already: entries may be shared, so that there can be far more of them than memory holds.
    fn add(&mut self, val: &Val, depth: usize, texts: &[String]) {
        self.too_deep |= depth > limits::NESTING;
        if !self.fits() {
            return;
        }
        match val {
            Val::Text(Term::Const(text)) => self.text += texts.get(*text as usize).map_or(0, String::len),
            // One of those that the ways here brought along; which, only a run shows.
            Val::Text(Term::Reg(_)) => self.text += self.longest,
            Val::List(slots) => slots.iter().for_each(|slot: &Slot| {
                self.entries += 1;
                self.add(&slot.val, depth + 1, texts);
            }),
            Val::ListOf(one) => self.add(one, depth + 1, texts),
            Val::Record(fields) => fields.values().for_each(|slot| {
                self.fields += 1;
                self.add(&slot.val, depth + 1, texts);
            }),
            Val::Function(function) => function.captured.iter().for_each(|(_, val)| self.add(val, depth + 1, texts)),
            _ => {}
        }
    }
}

impl Lowering<'_> {
    /// Counts what is done; once there is nothing left, [`Lowering::over`] holds for good and nothing comes of the program.
    pub fn spend(&mut self, steps: usize) {
        self.spent += steps;
        if self.spent > STEPS && !self.exhausted {
            self.give_up("it takes too long to lower", Position::NONE);
            self.exhausted = true;
            self.state = State::Gone;
        }
    }

    pub fn spend_text(&mut self, bytes: usize) {
        self.spend(bytes / TEXT_OF_A_STEP);
    }

    /// A value that was just made, if the interpreter would make it too.
    pub fn sized(&mut self, val: Val, position: Position) -> Val {
        if !matches!(val, Val::List(_) | Val::ListOf(_) | Val::Record(_) | Val::Function(_) | Val::Text(Term::Const(_)))
        {
            return val;
        }
        let mut size = Size { longest: self.longest_text, ..Size::default() };
        size.add(&val, 0, &self.program.texts);
        self.spend(size.entries + size.fields);
        if size.fits() { val } else { self.give_up("a text, list or record that grows large", position) }
    }
}
