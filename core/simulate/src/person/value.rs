//! One value of an entry: what is true, what is seen of it, and what is typed.

use indexmap::IndexMap;

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::names::JobNames;
use standpipe_procedure::{Field, FieldKind};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

use super::number::{misread, step_in, typed};
use super::{Asked, Person};
use crate::at_hand::AtHand;
use crate::model::Truth;
use crate::people::Slip;

/// What comes of a field.
#[derive(Default)]
pub(super) struct Entered {
    pub typed: String,
    pub with: Option<String>,
    /// What is true, where the model tells.
    pub truth: Option<Value>,
}

impl<'b> Person<'b, '_> {
    pub(super) fn value(
        &mut self,
        job: &dyn AtHand,
        asked: &Asked<'b>,
        field: &Field,
        taken: &IndexMap<String, String>,
        careful: bool,
    ) -> Result<Entered, Box<Diagnostic>> {
        let name = format!("{} {}", asked.name, field.name.value);
        match &field.kind {
            FieldKind::Done | FieldKind::Signature(_) => return Ok(Entered::default()),
            FieldKind::Held => {
                let seconds = asked.hold.unwrap_or(0.0);
                return Ok(Entered { typed: format!("{seconds} s"), ..Entered::default() });
            }
            FieldKind::Date => return Ok(Entered { typed: self.now().date().to_string(), ..Entered::default() }),
            FieldKind::Person => {
                return Ok(Entered { typed: self.somebody(job, field, taken), ..Entered::default() });
            }
            _ => {}
        }
        let Some(truth) = self.bench.model.truth_of(asked.step, field) else {
            let typed = if field.optional { String::new() } else { "simulated".to_owned() };
            return Ok(Entered { typed, ..Entered::default() });
        };
        let (function, sets) = match truth {
            Truth::Says(words) => return Ok(Entered { typed: words.clone(), ..Entered::default() }),
            Truth::Is(function) => (function, false),
            Truth::Sets(function) => (function, true),
        };
        let more = [
            ("round", Value::Number(f64::from(asked.address.round()))),
            ("item", Value::Number(asked.count.map_or(0.0, |(at, ..)| at as f64))),
            ("shown", self.shown(job, asked)),
        ];
        let value = self.hidden.call(function, &more)?;
        let made_to_fit = asked.tries > 0 && self.slips(Slip::MadeToFit, &name);
        let not_looked = !careful && self.slips(Slip::NotLooked, &name);
        let other = if made_to_fit || not_looked { self.expected(job, asked, field, &value) } else { None };
        match (&field.kind, self.of_family(field, value)) {
            (FieldKind::Quantity(_), Value::Quantity(truth)) => {
                self.quantity(field, truth, sets, other, &name, careful)
            }
            (FieldKind::Count | FieldKind::Sign(_), Value::Number(number)) => {
                let seen = match other {
                    Some(Value::Number(other)) => other,
                    _ => number,
                };
                let mut typed = format!("{}", libm::round(seen));
                if !careful && self.slips(Slip::Digit, &name) {
                    typed = misread(&typed, &self.draws, &name);
                }
                Ok(Entered { typed, with: None, truth: Some(Value::Number(number)) })
            }
            (FieldKind::Choice(options), Value::Text(words)) => {
                let mut typed = words.clone();
                let others: Vec<&String> =
                    options.iter().map(|(option, _)| option).filter(|it| **it != words).collect();
                if made_to_fit && !others.is_empty()
                    || !others.is_empty() && !careful && self.slips(Slip::Option, &name)
                {
                    typed.clone_from(others[self.draws.one_of(others.len(), &name, "which option")]);
                } else if not_looked {
                    // What all is well with stands first, mostly.
                    typed.clone_from(&options[0].0);
                }
                Ok(Entered { typed, with: None, truth: Some(Value::Text(words)) })
            }
            (FieldKind::Text | FieldKind::Sign(_), Value::Text(words)) => {
                let typed = match other {
                    Some(Value::Text(other)) => other,
                    _ => words.clone(),
                };
                Ok(Entered { typed, with: None, truth: Some(Value::Text(words)) })
            }
            (_, found) => {
                let message = format!("`{}` does not give what `{}` is", function.value, field.name.value);
                let found = format!("{found:?}");
                Err(Box::new(
                    Diagnostic::error(Code::ModelFails, &function.place, message)
                        .expected(field.expected())
                        .help(format!("it gave {found}")),
                ))
            }
        }
    }

    /// Scripts keep what has no dimension, such as an angle, as a plain number.
    fn of_family(&self, field: &Field, value: Value) -> Value {
        match (&field.kind, value) {
            (FieldKind::Quantity(family), Value::Number(si)) => match self.bench.plan().units.family(family) {
                Some(family) if family.dimension.is_none() => Value::Quantity(Quantity { si, ..family.one() }),
                _ => Value::Number(si),
            },
            (_, value) => value,
        }
    }

    fn quantity(
        &mut self,
        field: &Field,
        truth: Quantity,
        sets: bool,
        other: Option<Value>,
        name: &str,
        careful: bool,
    ) -> Result<Entered, Box<Diagnostic>> {
        let units = &self.bench.plan().units;
        let kind = field.instrument.as_ref().map(|kind| kind.value.clone());
        let found = kind.and_then(|kind| self.instrument(&kind, &truth, name, careful));
        let family = match &field.kind {
            FieldKind::Quantity(family) => units.family(family),
            _ => None,
        };
        let scale = found.and_then(|(_, it)| it.unit.clone());
        let unit = scale.or_else(|| field.unit.as_ref().map(|unit| unit.value.clone()));
        let unit = unit.or_else(|| family.map(|family| family.metric.to_string())).unwrap_or_default();
        let seen = match (found, sets) {
            (Some((id, it)), false) => self.shown_by(id, it, &truth),
            _ => truth.si,
        };
        let mut seen = Quantity { si: seen, written: None, ..truth.clone() };
        if let Some(Value::Quantity(other)) = other.filter(|_| !sets) {
            seen.si = other.si;
        }
        let step = found.and_then(|(_, it)| it.resolution.as_ref());
        let step = step.and_then(|step| step_in(units, &seen, step, &unit));
        let Ok(number) = units.convert(&seen, &unit) else {
            let message = format!("what the model says of `{}` can't be given in {unit}", field.name.value);
            return Err(Box::new(Diagnostic::error(Code::ModelFails, &field.name.place, message)));
        };
        let mut number = typed(number, step);
        // What is really done follows from what the instrument was made to show, rounded as it shows it.
        let shown = units.read(&format!("{number} {unit}"), None, None);
        let really = match (&shown, found, sets) {
            (Ok(Value::Quantity(shown)), Some((id, it)), true) => {
                Quantity { si: self.true_at(id, it, shown), written: None, ..truth }
            }
            _ => truth,
        };
        if !careful && self.slips(Slip::Digit, name) {
            number = misread(&number, &self.draws, name);
        }
        let mut unit = unit;
        if let Some(family) = family
            && family.units.len() > 1
            && !careful
            && self.slips(Slip::Unit, name)
        {
            let others: Vec<&str> = family.symbols().filter(|symbol| *symbol != unit).collect();
            unit = others[self.draws.one_of(others.len(), name, "which unit")].to_owned();
        }
        Ok(Entered {
            typed: format!("{number} {unit}"),
            with: found.map(|(id, _)| id.to_owned()),
            truth: Some(Value::Quantity(really)),
        })
    }

    /// What the screen of a step shows that was entered or worked out; a dotted name has `_` for its dots.
    fn shown(&self, job: &dyn AtHand, asked: &Asked<'_>) -> Value {
        let paths = self.bench.shows.get(asked.step.id.as_str()).map(Vec::as_slice).unwrap_or_default();
        let names = JobNames::new(&job.machine().plan, job.state(), self.now(), asked.address.round());
        let known = paths.iter().filter_map(|path| Some((path.join("_"), names.path(path)?)));
        Value::Record(known.filter(|(_, value)| !value.is_unknown()).collect())
    }

    /// What somebody would enter who only looks at the screen: the first thing of that kind that it shows.
    fn expected(&self, job: &dyn AtHand, asked: &Asked<'_>, field: &Field, truth: &Value) -> Option<Value> {
        let names = JobNames::new(&job.machine().plan, job.state(), self.now(), asked.address.round());
        let texts = asked.step.show.iter().chain(std::iter::once(&asked.step.title));
        texts.flat_map(|text| text.paths()).find_map(|path| {
            match (truth, names.path(path)?) {
                (Value::Quantity(truth), Value::Range(low, high)) if low.dimension == truth.dimension => {
                    Some(Value::Quantity(Quantity { si: 0.5 * (low.si + high.si), written: None, ..low }))
                }
                (Value::Quantity(truth), Value::Quantity(found)) if found.dimension == truth.dimension => {
                    // A limit is no reading: whoever makes one up stays a little below.
                    let below = field.instrument.is_some() && !found.point;
                    let si = if below { 0.9 * found.si } else { found.si };
                    Some(Value::Quantity(Quantity { si, written: None, ..found }))
                }
                (Value::Number(_), found @ Value::Number(_)) | (Value::Text(_), found @ Value::Text(_)) => Some(found),
                _ => None,
            }
        })
    }

    /// Somebody who may be named here, whoever does the work first.
    fn somebody(&self, job: &dyn AtHand, field: &Field, taken: &IndexMap<String, String>) -> String {
        let barred = match &field.other_than {
            None => Vec::new(),
            Some(At { value: other, .. }) if other == "doer" => job.state().doers.iter().cloned().collect(),
            Some(At { value: other, .. }) => {
                let earlier = job.state().latest(other).map(|reading| reading.value.clone());
                let earlier = earlier.and_then(|value| if let Value::Text(id) = value { Some(id) } else { None });
                taken.get(other.as_str()).cloned().or(earlier).into_iter().collect()
            }
        };
        let people = &self.bench.plan().shop.people;
        let all = std::iter::once(&self.doer).chain(people.keys());
        all.filter(|id| !barred.contains(id)).map(String::clone).next().unwrap_or_else(|| self.doer.clone())
    }

    /// Somebody who may sign.
    pub(super) fn signer(&self, job: &dyn AtHand, role: &str, field: &Field) -> Option<String> {
        let shop = &self.bench.plan().shop;
        let other_than_doer = field.other_than.as_ref().is_some_and(|other| other.as_str() == "doer");
        let free = |id: &&String| !other_than_doer || !job.state().doers.contains(*id);
        shop.people.keys().filter(|id| shop.has_role(id, role)).find(free).cloned()
    }
}
