//! A program in words, to be read beside the script.

use std::fmt::Write;

use super::program::{Op, Part};
use super::seam::Lowered;

impl Lowered {
    /// One line for each instruction, with the line of the script it comes from.
    pub fn dump(&self) -> String {
        let mut out = String::new();
        let _ = writeln!(out, "{:?}", self.program.constants);
        for (index, op) in self.program.code.iter().enumerate() {
            let place = self.place_of(self.program.places[index]);
            let _ = writeln!(out, "{index:>4}  {}  {place}", self.words(op));
        }
        out
    }

    fn words(&self, op: &Op) -> String {
        match op {
            Op::Call { part } => match &self.program.parts[*part as usize] {
                Part::Between { at, .. } => format!("between {at}"),
                Part::Solve { low, high, x, start, to } => format!("solve r{to} x r{x} {low}..{high} from {start}"),
            },
            other => format!("{other:?}"),
        }
    }
}
