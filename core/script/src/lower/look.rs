//! What a function does with the kinds of its inputs, before anything runs, also on ways that no case ever took.
//!
//! It is the same walk that makes programs. Where that gives up, this goes on with what is certain.

use std::rc::Rc;

use rhai::Position;

use super::program::At;
use super::value::{Measure, Slot, Term, Val, ZERO};
use super::ways::Var;
use super::{Home, Lowering};
use crate::scripts::{Scripts, split};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::{Quantity, Units};

/// What a sheet says of one of its inputs or outputs.
#[derive(Clone, Debug)]
pub enum Declared {
    /// Of this family of units.
    Quantity(String),
    Range(String),
    Text,
    Truth,
    List(Box<Declared>),
    /// Name, what it is, and whether it may be left out.
    Record(Vec<(String, Declared, bool)>),
}

/// An output as declared, and where.
pub struct Promised {
    pub name: String,
    pub what: Declared,
    pub place: Place,
    /// It may be left out.
    pub optional: bool,
}

/// What a function may give besides the outputs of its sheet.
pub const WARNINGS: &str = "warnings";

impl Scripts {
    /// Everything in a function that can never go together, whatever its inputs are, and results that are not what the
    /// sheet declares. The function must exist.
    pub fn look(
        &self,
        plugin: &str,
        function: &str,
        inputs: &[(String, Declared, bool)],
        outputs: &[Promised],
        place: &Place,
    ) -> Problems {
        let looked = || {
            let (script, name) = split(function, place).ok()?;
            let file = self.library.find(plugin, script, place).ok()?;
            let compiled = self.file(file, place).ok()?;
            let home = Home::File(file, compiled);
            let defined = home.function(&name.into(), 1)?;
            self.run.tables.called_by(plugin);
            let mut lowering = Lowering::new(self, plugin, home);
            lowering.looking = true;
            let record = lowering.declared_record(inputs);
            lowering.vars.push(Var { name: defined.params[0].clone(), val: record });
            let val = lowering.statements(&defined.stmts);
            let position = defined.stmts.last().map_or(Position::NONE, rhai::Stmt::position);
            lowering.result(&val, At { file, position });
            for (val, at) in std::mem::take(&mut lowering.results) {
                lowering.hold_against(&val, at, outputs);
            }
            Some(std::mem::take(&mut lowering.problems))
        };
        looked().unwrap_or_default()
    }
}

fn sample(units: &Units, family: &str) -> Option<Quantity> {
    let family = units.family(family)?;
    let of = (!family.plain).then_some(family.name);
    Some(Quantity { si: 1.0, dimension: family.dimension, point: family.point, of, written: None })
}

impl Lowering<'_> {
    fn declared(&mut self, what: &Declared) -> Val {
        match what {
            Declared::Quantity(family) => match sample(self.units, family) {
                Some(one) => {
                    let si = Term::Reg(self.register());
                    Val::collapsed(Measure::of(&one), si, ZERO)
                }
                None => Val::Any,
            },
            Declared::Range(family) => match sample(self.units, family) {
                Some(one) => {
                    let measure = Rc::new(Measure::of(&one));
                    let [low, high] = [0, 1].map(|_| Val::Quantity(measure.clone(), Term::Reg(self.register()), ZERO));
                    Val::Range(Rc::new((low, high)))
                }
                None => Val::Any,
            },
            Declared::Text => Val::Text(Term::Reg(self.register())),
            Declared::Truth => Val::Truth(Term::Reg(self.register())),
            Declared::List(one) => Val::ListOf(Rc::new(self.declared(one))),
            Declared::Record(parts) => self.declared_record(parts),
        }
    }

    fn declared_record(&mut self, parts: &[(String, Declared, bool)]) -> Val {
        let fields: Vec<_> = parts
            .iter()
            .map(|(name, what, optional)| {
                let there = optional.then(|| Term::Reg(self.register()));
                (name.as_str().into(), Slot { there, val: self.declared(what) })
            })
            .collect();
        Val::record(fields)
    }

    fn hold_against(&mut self, val: &Val, at: At, outputs: &[Promised]) {
        let fields = match val {
            Val::Record(fields) => fields,
            Val::Any | Val::Held(_) => return,
            other => {
                let message =
                    format!("this gives {}, and the results of a sheet are a record", other.described(self.units));
                let names: Vec<&str> = outputs.iter().map(|output| output.name.as_str()).collect();
                let help = format!("write `#{{ {}: ... }}`", names.join(": ..., "));
                self.problems.push(Diagnostic::error(Code::WrongShape, &self.place(at), message).help(help));
                return;
            }
        };
        self.hold_names_against(fields.keys().map(|name| name.as_str()).collect(), at, outputs);
        for output in outputs {
            let Some(slot) = fields.get(output.name.as_str()) else { continue };
            let (position, never_whole) = self.named.get(&(at.file, output.name.as_str().into())).copied().unzip();
            let place = self.place(At { position: position.unwrap_or(at.position), ..at });
            if let Declared::Quantity(family) = &output.what
                && never_whole == Some(true)
                && self.units.family(family).is_some_and(|family| family.whole)
            {
                let message = format!("`{}` is hardly ever a whole number, and the sheet declares one", output.name);
                let problem = Diagnostic::warning(Code::DimensionClash, &place, message);
                let help = "round it with `floor(...)`, `ceil(...)` or `round(...)`";
                self.problems.push(problem.help(help).also(&output.place, "declared here"));
            }
            let fits = match (&output.what, &slot.val) {
                (_, Val::Any | Val::Held(_)) => true,
                (Declared::Quantity(family), found) => match (sample(self.units, family), found.measured()) {
                    (Some(one), Some((measure, ..))) => self.units.compare(&measure.with(1.0), &one).is_ok(),
                    (None, _) => true,
                    (_, None) => false,
                },
                (Declared::Range(family), Val::Range(ends)) => match (sample(self.units, family), ends.0.measured()) {
                    (Some(one), Some((measure, ..))) => self.units.compare(&measure.with(1.0), &one).is_ok(),
                    _ => true,
                },
                (Declared::Range(_), found) => found.measured().is_some(),
                (Declared::Text, found) => matches!(found, Val::Text(_)),
                (Declared::Truth, found) => matches!(found, Val::Truth(_)),
                (Declared::List(_), found) => matches!(found, Val::List(_) | Val::ListOf(_)),
                (Declared::Record(_), found) => matches!(found, Val::Record(_)) || found.measured().is_some(),
            };
            if fits {
                continue;
            }
            let declared = output.what.described();
            let message =
                format!("`{}` is {}, but the sheet declares {declared}", output.name, slot.val.described(self.units));
            self.problems
                .push(Diagnostic::error(Code::DimensionClash, &place, message).also(&output.place, "declared here"));
        }
    }
}

impl Lowering<'_> {
    /// Ways of an `if` that give two things which are never taken for one another: what they meet in is neither.
    pub(super) fn look_at_ways(&mut self, one: &Val, other: &Val, at: At) {
        let (Val::Quantity(first, ..), Val::Quantity(second, ..)) = (one, other) else { return };
        let alike = first.dimension == second.dimension && first.point == second.point;
        if self.looking && alike && self.units.compare(&first.with(1.0), &second.with(1.0)).is_err() {
            let [one, other] = [one, other].map(|val| val.described(self.units));
            let message = format!("one way of this `if` gives {one}, the other {other}");
            let help = "give the same on both ways: what comes after can't tell them apart";
            self.problems.push(Diagnostic::warning(Code::DimensionClash, &self.place(at), message).help(help));
        }
    }

    /// Results that are missing, and those that nobody asked for.
    fn hold_names_against(&mut self, given: Vec<&str>, at: At, outputs: &[Promised]) {
        let is_output = |name: &str| name == WARNINGS || outputs.iter().any(|output| output.name == name);
        let unasked: Vec<&str> = given.iter().copied().filter(|name| !is_output(name)).collect();
        let missing: Vec<&Promised> = outputs.iter().filter(|output| !given.contains(&output.name.as_str())).collect();
        for name in &unasked {
            let position = self.named.get(&(at.file, (*name).into())).map(|(position, _)| *position);
            let place = self.place(At { position: position.unwrap_or(at.position), ..at });
            let message = format!("the sheet declares no output `{name}`");
            let missing = missing.iter().map(|output| output.name.as_str());
            let problem = Diagnostic::warning(Code::UnknownName, &place, message);
            self.problems.push(problem.nearest(name, missing, "declare it in the sheet, or leave it out"));
        }
        for output in missing.into_iter().filter(|output| !output.optional) {
            let message = format!("the results are given without `{}`", output.name);
            self.problems.push(
                Diagnostic::error(Code::MissingKey, &self.place(at), message).also(&output.place, "declared here"),
            );
        }
    }
}

impl Declared {
    fn described(&self) -> String {
        match self {
            Self::Quantity(family) => format!("a value of {}", family.replace('-', " ")),
            Self::Range(family) => format!("a range of {}", family.replace('-', " ")),
            Self::Text => "a text".to_owned(),
            Self::Truth => "true or false".to_owned(),
            Self::List(_) => "a list".to_owned(),
            Self::Record(_) => "a record".to_owned(),
        }
    }
}
