//! Functions of ours on lists and records of a known shape: each entry has its registers.

use std::rc::Rc;

use rhai::Position;

use super::Lowering;
use super::program::Kind;
use super::value::{Measure, ONE, Slot, Term, Val, ZERO};
use standpipe_diagnostic::Code;

impl Lowering<'_> {
    pub fn list_function(&mut self, name: &str, args: Vec<Val>, position: Position) -> Val {
        match (name, args.as_slice()) {
            ("min" | "max", [Val::List(slots)]) => match entries(slots) {
                Some(vals) => self.best(name, &vals, position),
                None => self.give_up("the best of a list whose length only a run shows", position),
            },
            ("min" | "max", [Val::ListOf(one)]) => {
                self.give_up("the best of a list whose length only a run shows", position);
                (**one).clone()
            }
            ("min" | "max", [_, _, ..]) => self.best(name, &args, position),
            ("mean", [Val::List(slots)]) => match entries(slots) {
                Some(vals) => self.mean(&vals, position),
                None => self.give_up("the mean of a list whose length only a run shows", position),
            },
            ("mean", [Val::ListOf(one)]) => {
                self.give_up("the mean of a list whose length only a run shows", position);
                (**one).clone()
            }
            ("mean", [first, ..]) if first.measured().is_some() => self.mean(&args, position),
            ("len", [Val::List(slots)]) => {
                let mut count = ZERO;
                for slot in slots.iter() {
                    count = self.op(Kind::WholeAdd, count, slot.there.unwrap_or(ONE), position);
                }
                Val::Whole(count)
            }
            ("len", [Val::ListOf(_)]) => {
                self.give_up("the length of a list that only a run shows", position);
                Val::Whole(Term::Reg(0))
            }
            ("sum", [list, start @ ..]) => self.sum(list, start.first(), position),
            ("map" | "filter" | "every" | "some", [list, Val::Function(_)]) => {
                self.over_entries(name, list, &args[1], position)
            }
            ("first" | "last", [Val::List(slots)]) => match entries(slots) {
                Some(vals) => {
                    let one = if name == "first" { vals.first() } else { vals.last() };
                    match one {
                        Some(one) => one.clone(),
                        None => self.wrong(Code::FaultyScript, format!("`{name}`: the list is empty"), None, position),
                    }
                }
                None => {
                    let all: Vec<Val> = slots.iter().map(|slot| slot.val.clone()).collect();
                    self.give_up("an entry of a list whose length only a run shows", position);
                    self.any_of(&all)
                }
            },
            ("first" | "last", [Val::ListOf(one)]) => {
                self.give_up("an entry of a list whose length only a run shows", position);
                (**one).clone()
            }
            ("reversed", [Val::List(slots)]) => Val::List(Rc::new(slots.iter().rev().cloned().collect())),
            ("part", [Val::List(slots), Val::Whole(Term::Const(from)), Val::Whole(Term::Const(to))])
                if entries(slots).is_some() && *from >= 0.0 && from <= to && *to <= slots.len() as f64 =>
            {
                Val::List(Rc::new(slots[*from as usize..*to as usize].to_vec()))
            }
            ("sorted" | "reversed", [Val::ListOf(_)]) => {
                self.give_up("a list whose length only a run shows", position);
                args[0].clone()
            }
            ("has", [Val::Record(_), Val::Text(Term::Const(_))]) => {
                self.contains(&args[0], &args[1], position).map_or(Val::Any, Val::Truth)
            }
            ("get", [Val::Record(fields), Val::Text(Term::Const(text)), otherwise]) => {
                let name = self.program.texts.get(*text as usize).cloned().unwrap_or_default();
                match fields.get(name.as_str()).cloned() {
                    None => otherwise.clone(),
                    Some(Slot { there: None, val }) => val,
                    Some(Slot { there: Some(there), val }) => {
                        let (at, otherwise) = (self.at(position), otherwise.clone());
                        self.part(there, at, |_| val, |_| otherwise)
                    }
                }
            }
            _ => self.settled_call(name, &args, position),
        }
    }

    /// The smallest or largest; of equal ones the first.
    fn best(&mut self, name: &str, vals: &[Val], position: Position) -> Val {
        let Some((first, rest)) = vals.split_first() else {
            return self.wrong(Code::FaultyScript, format!("`{name}`: the list is empty"), None, position);
        };
        let mut best = first.clone();
        if first.measured().is_none() {
            return self.settled_call(name, vals, position);
        }
        for val in rest {
            let order = if name == "min" { "<" } else { ">" };
            let Some(better) = self.ordered(order, val, &best, position) else { return best };
            let (at, old, new) = (self.at(position), best, val.clone());
            best = self.part(better, at, |_| new, |_| old);
        }
        best
    }

    fn sum(&mut self, list: &Val, start: Option<&Val>, position: Position) -> Val {
        let slots = match list {
            Val::List(slots) => slots.clone(),
            Val::ListOf(one) => {
                self.give_up("the sum of a list whose length only a run shows", position);
                Rc::new(vec![Slot::new((**one).clone())])
            }
            other => return self.unwanted("sum", "a list", other, position),
        };
        let Some(vals) = entries(&slots) else {
            return self.give_up("the sum of a list whose length only a run shows", position);
        };
        let mut total: Option<(Measure, Term, Term)> = match start {
            None => None,
            Some(start) => match start.measured() {
                Some(start) => Some(start),
                None => return self.unwanted("sum", "a number or a quantity", start, position),
            },
        };
        for val in &vals {
            let Some(next) = val.measured() else {
                return self.unwanted("sum", "a list of numbers or quantities", val, position);
            };
            total = Some(match total {
                None => next,
                Some((measure, si, _)) => match self.units.add(&measure.with(1.0), &next.0.with(1.0)) {
                    Ok(quantity) => (Measure::of(&quantity), self.op(Kind::Add, si, next.1, position), ZERO),
                    Err(fault) => {
                        let of = Val::collapsed(measure, si, ZERO);
                        return self.mismatch(fault, [val, &of], "added to", position);
                    }
                },
            });
        }
        match total {
            Some((measure, si, written)) => Val::collapsed(measure, si, written),
            None => self.wrong(Code::FaultyScript, "`sum`: an empty list has no sum".to_owned(), None, position),
        }
    }

    fn over_entries(&mut self, name: &str, list: &Val, function: &Val, position: Position) -> Val {
        let Val::Function(function) = function else { return Val::Any };
        let slots = match list {
            Val::List(slots) => slots.clone(),
            Val::ListOf(one) => {
                self.give_up("a list whose length only a run shows", position);
                let result = self.apply(function, vec![(**one).clone()], position);
                return match name {
                    "map" => Val::ListOf(Rc::new(result)),
                    "filter" => list.clone(),
                    _ => Val::Truth(Term::Reg(0)),
                };
            }
            other => return self.unwanted(name, "a list", other, position),
        };
        if name != "map" && name != "filter" && slots.is_empty() {
            return self.wrong(
                Code::FaultyScript,
                format!("`{name}`: the list is empty, which shows nothing"),
                None,
                position,
            );
        }
        if entries(&slots).is_none() {
            return self.give_up("a list whose length only a run shows", position);
        }
        let mut results = Vec::new();
        for slot in slots.iter() {
            let result = self.apply(function, vec![slot.val.clone()], position);
            if self.over() {
                return Val::Any;
            }
            results.push(result);
        }
        if name == "map" {
            return Val::text_list(results);
        }
        let mut truths = Vec::new();
        for result in &results {
            match self.truth(result, position) {
                Some(truth) => truths.push(truth),
                None => return Val::Any,
            }
        }
        match name {
            "filter" => {
                let kept = slots
                    .iter()
                    .zip(&truths)
                    .filter(|(_, truth)| !truth.same(ZERO))
                    .map(|(slot, truth)| Slot { there: (!truth.same(ONE)).then_some(*truth), val: slot.val.clone() });
                Val::List(Rc::new(kept.collect()))
            }
            "every" => {
                let all = truths.iter().fold(ONE, |all, truth| self.and(all, *truth, position));
                Val::Truth(all)
            }
            _ => {
                let some = truths.iter().fold(ZERO, |some, truth| self.or(some, *truth, position));
                Val::Truth(some)
            }
        }
    }
}

/// The entries, if all of them are there for certain.
fn entries(slots: &[Slot]) -> Option<Vec<Val>> {
    slots.iter().map(|slot| if slot.there.is_none() { Some(slot.val.clone()) } else { None }).collect()
}
