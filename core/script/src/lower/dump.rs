//! A program in words, to be read beside the script.

use std::fmt::Write;

use super::cache::Lowered;
use super::program::{Kind, Op, Part};
use super::shape::Given;
use super::value::{Slot, Term, Val};
use standpipe_diagnostic::source::Place;

impl Lowered {
    /// Inputs and their registers, the lines of the script with the instructions made of each, results.
    pub fn dump(&self) -> String {
        let mut out = String::new();
        for (name, given) in &self.given {
            input(name, given, &mut out);
        }
        let mut line = String::new();
        for (index, op) in self.program.code.ops.iter().enumerate() {
            let place = self.place_of(self.program.code.places[index]);
            let here = line_of(&place);
            if here != line {
                let _ = writeln!(out, "{here}");
                line = here;
            }
            let _ = writeln!(out, "{index:>6}  {}", self.words(op));
        }
        for (index, result) in self.program.results.iter().enumerate() {
            let _ = writeln!(out, "result {index}: {}", self.written(result));
        }
        out
    }

    fn register(&self, register: u16) -> String {
        match usize::from(register).checked_sub(self.program.registers) {
            Some(constant) => format!("{:?}", self.program.constants.get(constant).copied().unwrap_or(f64::NAN)),
            None => format!("r{register}"),
        }
    }

    fn words(&self, op: &Op) -> String {
        let r = |register: u16| self.register(register);
        match *op {
            Op::Do { kind, to, a, b } => format!("r{to} = {}", done(kind, &r(a), &r(b))),
            Op::Jump { to } => format!("go to {to}"),
            Op::JumpIf { truth, to } => format!("if {} go to {to}", r(truth)),
            Op::JumpUnless { truth, to } => format!("if not {} go to {to}", r(truth)),
            Op::Back { to } => format!("go back to {to}, counting"),
            Op::In { unit, to, a } => format!("r{to} = {} in {}", r(a), self.program.units[usize::from(unit)].symbol),
            Op::Call { part } => match &self.program.parts[usize::from(part)] {
                Part::Between { at, keys, columns } => {
                    let to: Vec<String> = columns.iter().map(|(_, to)| format!("r{to}")).collect();
                    format!("{} = rows of {} around {}", to.join(", "), keys.len(), r(*at))
                }
                Part::Solve { low, high, x, to } => {
                    let start = self.program.code.starts[usize::from(part)];
                    format!("r{to} = r{x} from {} to {} for which {start} comes to zero", r(*low), r(*high))
                }
            },
            Op::Refuse => "refuse".to_owned(),
            Op::Leave { why } => {
                let why = self.program.reasons.get(usize::from(why)).map_or("", |reason| &reason.what);
                format!("hand over to the interpreter: {why}")
            }
            Op::Finish { result } => format!("end with result {result}"),
            Op::Done { value } => format!("end of the function: {}", r(value)),
        }
    }

    fn term(&self, term: Term) -> String {
        match term {
            Term::Const(number) => format!("{number:?}"),
            Term::Reg(register) => format!("r{register}"),
        }
    }

    fn slot(&self, slot: &Slot) -> String {
        let written = self.written(&slot.val);
        slot.there.map_or(written.clone(), |there| format!("{written} if {}", self.term(there)))
    }

    fn written(&self, val: &Val) -> String {
        match val {
            Val::Quantity(measure, si, _) => format!("{} {}", self.term(*si), measure.dimension),
            Val::Text(Term::Const(place)) => {
                format!("\"{}\"", self.program.texts.get(*place as usize).map_or("", String::as_str))
            }
            Val::Text(term) => format!("text {}", self.term(*term)),
            Val::Range(ends) => format!("{}..{}", self.written(&ends.0), self.written(&ends.1)),
            Val::List(slots) => {
                let all: Vec<String> = slots.iter().map(|slot| self.slot(slot)).collect();
                format!("[{}]", all.join(", "))
            }
            Val::Record(fields) => {
                let all: Vec<String> =
                    fields.iter().map(|(name, slot)| format!("{name}: {}", self.slot(slot))).collect();
                format!("#{{ {} }}", all.join(", "))
            }
            Val::Truth(term) | Val::Whole(term) | Val::Number(term) | Val::Loose(term) => self.term(*term),
            _ => "a settled value".to_owned(),
        }
    }
}

fn input(name: &str, given: &Given, out: &mut String) {
    let _ = match given {
        Given::Truth(to) | Given::Number(to) => writeln!(out, "r{to} = {name}"),
        Given::Quantity { measure, si, written } => {
            let _ = writeln!(out, "r{si} = {name}, {}", measure.dimension);
            match written {
                Some((unit, to)) => writeln!(out, "r{to} = {name} as written in {unit}"),
                None => Ok(()),
            }
        }
        Given::Text(text) => writeln!(out, "{name} = \"{text}\""),
        Given::Range(ends) => {
            input(&format!("{name}.low"), &ends.0, out);
            input(&format!("{name}.high"), &ends.1, out);
            Ok(())
        }
        Given::List(all) => {
            all.iter().enumerate().for_each(|(index, one)| input(&format!("{name}[{index}]"), one, out));
            Ok(())
        }
        Given::Record(all) => {
            all.iter().for_each(|(key, one)| input(&format!("{name}.{key}"), one, out));
            Ok(())
        }
    };
}

fn line_of(place: &Place) -> String {
    let line = place.line();
    let text = place.source().text.lines().nth(line.saturating_sub(1)).unwrap_or_default();
    format!("{}:{line}: {}", place.source().name, text.trim())
}

fn done(kind: Kind, a: &str, b: &str) -> String {
    let between = |word: &str| format!("{a} {word} {b}");
    match kind {
        Kind::Move => a.to_owned(),
        Kind::Add | Kind::WholeAdd => between("+"),
        Kind::Sub | Kind::WholeSub => between("-"),
        Kind::Mul | Kind::WholeMul => between("*"),
        Kind::Div => between("/"),
        Kind::Rem | Kind::WholeRem => between("%"),
        Kind::Pow | Kind::PowWhole | Kind::WholePow => between("**"),
        Kind::Less => between("< (1e-12)"),
        Kind::LessEqual => between("<= (1e-12)"),
        Kind::Equal => between("== (1e-12)"),
        Kind::WholeLess => between("<"),
        Kind::WholeLessEqual => between("<="),
        Kind::WholeEqual => between("=="),
        Kind::RoundTo => format!("round({a}, {b})"),
        Kind::Negate => format!("-{a}"),
        Kind::Minus => format!("0 - {a}"),
        Kind::Not => format!("not {a}"),
        Kind::Root | Kind::RootOf => format!("sqrt({a})"),
        Kind::AsWhole => format!("whole({a})"),
        other => format!("{}({a})", format!("{other:?}").to_lowercase()),
    }
}
