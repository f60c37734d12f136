//! Functions of ours on numbers and quantities, as instructions.

use std::rc::Rc;

use rhai::Position;

use super::Lowering;
use super::arithmetic::whole;
use super::code::Node;
use super::program::Kind;
use super::value::{Closure, Measure, Slot, Term, Val, ZERO};
use standpipe_diagnostic::Code;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

impl Lowering<'_> {
    pub fn function(&mut self, name: &str, args: Vec<Val>, position: Position) -> Val {
        if self.over() {
            return Val::Any;
        }
        if let Some(Val::Any) = args.iter().find(|arg| matches!(arg, Val::Any)) {
            self.give_up(format!("the function `{name}` of a value whose kind only a run shows"), position);
        }
        if let (Some(kind), [a]) = (of_number(name), args.as_slice()) {
            return match whole(a) {
                Some(term) => {
                    let result = self.one(kind, term, position);
                    let counts = matches!(kind, Kind::Floor | Kind::Ceil | Kind::Round | Kind::AsWhole);
                    if counts { Val::Whole(result) } else { Val::Number(result) }
                }
                None => self.unwanted(name, "a plain number", a, position),
            };
        }
        match (name, args.as_slice()) {
            ("abs", [a]) => self.abs(a, position),
            ("sqrt", [a]) => self.root(a, position),
            ("pow", [a, b]) => self.power(a, b, position),
            ("pi", []) => Val::Number(Term::Const(std::f64::consts::PI)),
            ("round", [a, digits]) => match (whole(a), digits) {
                (Some(term), Val::Whole(Term::Const(digits))) if (0.0..=15.0).contains(digits) => {
                    Val::Number(self.op(Kind::RoundTo, term, Term::Const(*digits), position))
                }
                (Some(_), _) => self.give_up("digits that only a run shows", position),
                _ => self.unwanted(name, "a plain number", a, position),
            },
            ("value", [a, Val::Text(Term::Const(unit))]) => {
                let unit = self.program.texts.get(*unit as usize).cloned().unwrap_or_default();
                self.value(a, &unit, position)
            }
            ("range", [low, high]) => self.range(low, high, position),
            ("within", [value, Val::Range(ends)]) => {
                self.within(value, &ends.0, &ends.1, position).map_or(Val::Any, Val::Truth)
            }
            ("middle", [Val::Range(ends)]) => self.mean(&[ends.0.clone(), ends.1.clone()], position),
            ("solve", [Val::Function(function), low, high]) => self.solve(&function.clone(), low, high, position),
            ("table_between", [id, column, value]) if id.is_settled() && column.is_settled() && !value.is_settled() => {
                self.table_between(id, column, value, position)
            }
            _ => self.list_function(name, args, position),
        }
    }

    pub fn unwanted(&mut self, name: &str, wanted: &str, found: &Val, position: Position) -> Val {
        if matches!(found, Val::Any) {
            return Val::Any;
        }
        let message = format!("`{name}` wants {wanted}, found {}", found.described(self.units));
        self.wrong(Code::DimensionClash, message, None, position)
    }

    fn abs(&mut self, a: &Val, position: Position) -> Val {
        match a {
            Val::Whole(term) => Val::Whole(self.one(Kind::Abs, *term, position)),
            Val::Number(term) => Val::Number(self.one(Kind::Abs, *term, position)),
            Val::Loose(term) => Val::Loose(self.one(Kind::Abs, *term, position)),
            Val::Quantity(measure, si, written) if !measure.point => {
                let (measure, si, written, at) = (measure.clone(), *si, *written, self.at(position));
                let positive = self.op(Kind::WholeLessEqual, ZERO, si, position);
                let kept = measure.clone();
                self.part(
                    positive,
                    at,
                    |_| Val::Quantity(kept, si, written),
                    |one| {
                        let si = one.one(Kind::Negate, si, position);
                        Val::Quantity(measure, si, ZERO)
                    },
                )
            }
            other => self.unwanted("abs", "a number or a difference", other, position),
        }
    }

    fn root(&mut self, a: &Val, position: Position) -> Val {
        let Some((measure, si, _)) = a.measured() else {
            return self.unwanted("sqrt", "a number or a quantity", a, position);
        };
        match self.units.pow(&measure.with(1.0), 0.5) {
            Ok(quantity) => {
                let si = self.one(Kind::Root, si, position);
                Val::collapsed(Measure::of(&quantity), si, ZERO)
            }
            Err(fault) => {
                let message = format!("{} has no square root", a.described(self.units));
                self.clash(fault, message, false, position)
            }
        }
    }

    /// The number in a unit. A value that was written in this unit gives what was written.
    fn value(&mut self, a: &Val, symbol: &str, position: Position) -> Val {
        let Some((measure, si, written)) = a.measured() else {
            return self.unwanted("value", "a number or a quantity", a, position);
        };
        let Some(unit) = self.units.unit_for(&measure.with(1.0), symbol).cloned() else {
            return match self.units.convert(&measure.with(1.0), symbol) {
                Err(fault) => {
                    let message = format!("{} has no value in `{symbol}`", a.described(self.units));
                    self.clash(fault, message, false, position)
                }
                Ok(_) => self.give_up("a unit of another kind", position),
            };
        };
        let is_in = |place: usize, one: &Self| {
            let symbol = &*one.written[place].0;
            symbol == &*unit.symbol || (symbol.is_empty() && &*unit.symbol == "1")
        };
        if let Term::Const(place) = written
            && place != 0.0
            && is_in(place as usize, self)
        {
            return Val::Number(self.written[place as usize].1);
        }
        let mut number = Val::Number(self.in_unit_of(si, &unit, position));
        if let Term::Reg(_) = written {
            let places: Vec<usize> = (1..self.written.len()).filter(|place| is_in(*place, self)).collect();
            for place in places {
                let here = self.op(Kind::WholeEqual, written, Term::Const(place as f64), position);
                let (value, at, other) = (self.written[place].1, self.at(position), number.clone());
                number = self.part(here, at, |_| Val::Number(value), |_| other);
            }
        }
        number
    }

    fn in_unit_of(&mut self, si: Term, unit: &standpipe_quantity::Unit, position: Position) -> Term {
        if unit.shift == 0.0 {
            return self.op(Kind::Div, si, Term::Const(unit.factor), position);
        }
        if let Term::Const(si) = si {
            return Term::Const(unit.from_si(si));
        }
        let place =
            self.program.units.iter().position(|known| known.symbol == unit.symbol && known.factor == unit.factor);
        let place = place.unwrap_or_else(|| {
            self.program.units.push(unit.clone());
            self.program.units.len() - 1
        });
        let to = self.register();
        let at = self.at(position);
        self.emit(Node::In { unit: place as u16, to, a: si, at });
        Term::Reg(to)
    }

    /// Ends the program where this is true.
    pub fn refuse_if(&mut self, truth: Term, position: Position) {
        let at = self.at(position);
        match truth {
            Term::Const(0.0) => {}
            Term::Const(_) => {
                self.emit(Node::Refuse(at));
                self.stop();
            }
            Term::Reg(_) => self.emit(Node::If { truth, then: vec![Node::Refuse(at)], other: Vec::new(), at }),
        }
    }

    fn range(&mut self, low: &Val, high: &Val, position: Position) -> Val {
        let (Some(a), Some(b)) = (Self::as_quantity(low), Self::as_quantity(high)) else {
            return self.unwanted(
                "range",
                "numbers or quantities",
                if low.measured().is_none() { low } else { high },
                position,
            );
        };
        // As quantities, so that whole numbers too are compared within their tolerance.
        let [low, high] = [a, b].map(|(measure, si, written)| Val::Quantity(measure, si, written));
        if let Some(crossed) = self.ordered("<", &high, &low, position) {
            self.refuse_if(crossed, position);
        }
        Val::Range(Rc::new((low, high)))
    }

    pub fn mean(&mut self, vals: &[Val], position: Position) -> Val {
        let all: Option<Vec<Quantity>> = vals.iter().map(Self::stand_in).collect();
        let (Some(all), false) = (all, vals.is_empty()) else {
            return self.give_up("a mean of values whose kind only a run shows", position);
        };
        match self.units.mean(&all) {
            Err(fault) => {
                let message = "values of different kinds have no mean".to_owned();
                self.clash(fault, message, false, position)
            }
            Ok(quantity) => {
                let mut terms = vals.iter().filter_map(|val| val.measured()).map(|(_, si, _)| si);
                let mut sum = terms.next().unwrap_or(ZERO);
                for term in terms {
                    sum = self.op(Kind::Add, sum, term, position);
                }
                let si = self.op(Kind::Div, sum, Term::Const(vals.len() as f64), position);
                Val::collapsed(Measure::of(&quantity), si, ZERO)
            }
        }
    }

    fn solve(&mut self, function: &Closure, low: &Val, high: &Val, position: Position) -> Val {
        let (Some((measure, from, _)), Some((other, till, _))) = (low.measured(), high.measured()) else {
            return self.unwanted("solve", "ends that are numbers or quantities", low, position);
        };
        if let Err(fault) = self.units.compare(&measure.with(1.0), &other.with(1.0)) {
            return self.mismatch(fault, [low, high], "compared with", position);
        }
        let at = self.at(position);
        let x = self.register();
        let (code, state, mark) = (std::mem::take(&mut self.code), self.state, self.log.len());
        let result = self.apply(function, vec![Val::collapsed(measure.clone(), Term::Reg(x), ZERO)], position);
        let value = match result.measured() {
            Some((measure, si, _)) if !measure.point => si,
            _ if self.over() => ZERO,
            _ => {
                self.unwanted("solve", "a function that gives a number or a difference", &result, position);
                ZERO
            }
        };
        self.forget(mark);
        let body = std::mem::replace(&mut self.code, code);
        self.state = state;
        let to = self.register();
        self.emit(Node::Solve { low: from, high: till, x, to, body, value, at });
        Val::collapsed(measure, Term::Reg(to), ZERO)
    }

    fn table_between(&mut self, id: &Val, column: &Val, value: &Val, position: Position) -> Val {
        let name = |val: &Val, one: &Self| match val {
            Val::Text(Term::Const(text)) => one.program.texts.get(*text as usize).cloned(),
            _ => None,
        };
        let (Some(id), Some(column)) = (name(id, self), name(column, self)) else {
            return self.give_up("a table that only a run shows", position);
        };
        let Ok(table) = self.scripts.run.tables.get(&id, self.units) else {
            return self.give_up(format!("the table `{id}`"), position);
        };
        let numbers = |values: Vec<&Value>| -> Option<Vec<Quantity>> {
            let all: Vec<Quantity> = values
                .iter()
                .filter_map(|value| match value {
                    Value::Number(number) => Some(Quantity::number(*number)),
                    Value::Quantity(quantity) => Some(quantity.clone()),
                    _ => None,
                })
                .collect();
            (all.len() == values.len() && !all.is_empty()).then_some(all)
        };
        let keys = table.column(&column).and_then(|values| numbers(values.into_iter().collect()));
        let (Some(keys), Some((measure, at, _))) = (keys, value.measured()) else {
            return self.give_up(format!("the table `{id}`"), position);
        };
        if let Err(fault) = self.units.compare(&measure.with(1.0), &keys[0]) {
            let message =
                format!("{} is not a value of the column `{column}` of the table `{id}`", value.described(self.units));
            return self.clash(fault, message, false, position);
        }
        if keys.windows(2).any(|pair| pair[0].si >= pair[1].si) {
            return self.give_up(format!("the table `{id}`"), position);
        }
        let (mut columns, mut fields) = (Vec::new(), Vec::new());
        for heading in &table.columns {
            let values: Vec<&Value> = table.column(&heading.name).into_iter().flatten().collect();
            let measured = values.iter().filter(|value| matches!(value, Value::Number(_) | Value::Quantity(_))).count();
            // A column with gaps would be there in some rows only.
            if measured > 0 && measured < values.len() {
                return self.give_up(format!("the gaps in the table `{id}`"), position);
            }
            let Some(all) = numbers(values) else { continue };
            let to = self.register();
            fields.push((
                heading.name.as_str().into(),
                Slot::new(Val::collapsed(Measure::of(&all[0]), Term::Reg(to), ZERO)),
            ));
            columns.push((all.iter().map(|one| one.si).collect(), to));
        }
        let keys = keys.iter().map(|one| one.si).collect();
        let place = self.at(position);
        self.emit(Node::Between { keys, value: at, columns, at: place });
        Val::record(fields)
    }

    /// Whether a result can be handed out.
    pub fn is_presentable(&self, val: &Val) -> bool {
        match val {
            Val::Any | Val::Nothing | Val::ListOf(_) | Val::Counting(..) | Val::Function(_) => false,
            Val::Held(value) => value.read_lock::<crate::guest::Day>().is_some(),
            Val::List(slots) => slots.iter().all(|slot| self.is_presentable(&slot.val)),
            Val::Record(fields) => fields.values().all(|slot| self.is_presentable(&slot.val)),
            _ => true,
        }
    }
}

fn of_number(name: &str) -> Option<Kind> {
    Some(match name {
        "exp" => Kind::Exp,
        "ln" => Kind::Ln,
        "log10" => Kind::Log10,
        "sin" => Kind::Sin,
        "cos" => Kind::Cos,
        "tan" => Kind::Tan,
        "atan" => Kind::Atan,
        "floor" => Kind::Floor,
        "ceil" => Kind::Ceil,
        "round" => Kind::Round,
        "whole" => Kind::AsWhole,
        _ => return None,
    })
}
