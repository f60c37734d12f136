//! Where ways through a script part and meet again.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use rhai::ImmutableString;

use super::Lowering;
use super::code::Node;
use super::program::At;
use super::value::{Measure, ONE, Slot, Term, Val, ZERO};
use standpipe_quantity::Units;

/// Whether what is lowered now can be reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    Live,
    /// The program ends before; only kinds are still looked at.
    Shadow,
    /// Nothing comes here.
    Gone,
}

/// A variable of the function being lowered.
#[derive(Clone, Debug)]
pub(super) struct Var {
    pub name: ImmutableString,
    pub val: Val,
}

/// Where several ways meet.
pub(super) struct Join {
    pub sites: Vec<Site>,
    /// How many variables outlive it.
    depth: usize,
}

pub(super) struct Site {
    /// How much had been worked out by then.
    done: u64,
    state: State,
    vars: Vec<Var>,
    val: Val,
}

impl Lowering<'_> {
    pub fn new_join(&mut self, depth: usize) -> usize {
        self.joins.push(Join { sites: Vec::new(), depth });
        self.moves.push(Vec::new());
        self.joins.len() - 1
    }

    /// This way ends here and goes on where the ways meet.
    pub fn jump(&mut self, join: usize, val: Val, at: At) {
        if self.state == State::Gone {
            return;
        }
        self.spend(1 + self.joins[join].depth / 16);
        let vars = self.vars[..self.joins[join].depth].to_vec();
        let site = self.joins[join].sites.len();
        self.joins[join].sites.push(Site { done: self.done, state: self.state, vars, val });
        self.moves[join].push(Vec::new());
        self.emit(Node::Jump { join, site, at });
        self.state = State::Gone;
    }

    /// Whether any way leads there.
    pub fn joins_at(&self, join: usize) -> bool {
        !self.joins[join].sites.is_empty()
    }

    /// From here on all ways go together; gives the value that they bring along.
    pub fn land(&mut self, join: usize) -> Val {
        let Join { sites, depth } = std::mem::replace(&mut self.joins[join], Join { sites: Vec::new(), depth: 0 });
        let best = match sites.iter().map(|site| site.state).min_by_key(|state| *state as u8) {
            Some(state) => state,
            None => {
                self.state = State::Gone;
                return Val::Any;
            }
        };
        let taken: Vec<usize> = (0..sites.len()).filter(|site| sites[*site].state == best).collect();
        // Of what is still known, that was worked out on every way which was so before any of them came here.
        let done = sites.iter().map(|site| site.done).min().unwrap_or(0);
        self.forget(self.log.partition_point(|(_, count)| *count <= done));
        self.state = best;
        let mut vars = Vec::with_capacity(depth);
        for index in 0..depth {
            let vals: Vec<&Val> = taken.iter().map(|site| &sites[*site].vars[index].val).collect();
            let name = sites[taken[0]].vars[index].name.clone();
            vars.push(Var { name, val: self.meet(&vals, (join, &taken)) });
        }
        self.vars.truncate(0);
        self.vars = vars;
        let vals: Vec<&Val> = taken.iter().map(|site| &sites[*site].val).collect();
        let val = self.meet(&vals, (join, &taken));
        self.emit(Node::Land { join });
        val
    }

    /// Parts the ways by a truth. Each way may change variables and give a value.
    pub fn part(
        &mut self,
        truth: Term,
        at: At,
        then: impl FnOnce(&mut Self) -> Val,
        other: impl FnOnce(&mut Self) -> Val,
    ) -> Val {
        if let Term::Const(truth) = truth {
            return if truth != 0.0 { then(self) } else { other(self) };
        }
        let join = self.new_join(self.vars.len());
        let (vars, state, mark) = (self.vars.clone(), self.state, self.log.len());
        let code = std::mem::take(&mut self.code);
        let val = then(self);
        self.jump(join, val, at);
        self.forget(mark);
        let then = std::mem::take(&mut self.code);
        (self.vars, self.state) = (vars, state);
        let val = other(self);
        self.jump(join, val, at);
        self.forget(mark);
        let other = std::mem::replace(&mut self.code, code);
        self.state = state;
        self.emit(Node::If { truth, then, other, at });
        self.land(join)
    }

    /// Drops what was remembered since.
    pub fn forget(&mut self, mark: usize) {
        for (key, _) in self.log.drain(mark.min(self.log.len())..) {
            self.known.remove(&key);
        }
    }

    /// One number out of those that the ways bring.
    fn meet_term(&mut self, terms: &[Term], (join, sites): (usize, &[usize])) -> Term {
        if terms.iter().all(|term| term.same(terms[0])) {
            return terms[0];
        }
        let to = self.register();
        for (term, site) in terms.iter().zip(sites) {
            self.moves[join][*site].push((to, *term));
        }
        Term::Reg(to)
    }

    /// One value out of those that the ways bring; only the interpreter knows it if they are of different kinds.
    fn meet(&mut self, vals: &[&Val], at: (usize, &[usize])) -> Val {
        self.spend(1);
        let kinds: BTreeSet<u8> = vals.iter().map(|val| kind(val)).collect();
        let numbers = kinds.iter().all(|kind| [2, 3, 4].contains(kind));
        if kinds.len() > 1 && !numbers {
            return Val::Any;
        }
        let terms: Vec<Term> = vals
            .iter()
            .filter_map(|val| match val {
                Val::Truth(term) | Val::Whole(term) | Val::Number(term) | Val::Loose(term) | Val::Text(term) => {
                    Some(*term)
                }
                _ => None,
            })
            .collect();
        match vals[0] {
            Val::Any => Val::Any,
            Val::Nothing => Val::Nothing,
            Val::Truth(_) => Val::Truth(self.meet_term(&terms, at)),
            Val::Text(_) => Val::Text(self.meet_term(&terms, at)),
            _ if numbers => {
                let term = self.meet_term(&terms, at);
                match vals[0] {
                    _ if kinds.len() > 1 => Val::Loose(term),
                    Val::Whole(_) => Val::Whole(term),
                    Val::Loose(_) => Val::Loose(term),
                    _ => Val::Number(term),
                }
            }
            Val::Quantity(..) => self.meet_quantities(vals, at),
            Val::Range(_) => {
                let ends: Vec<(&Val, &Val)> = vals
                    .iter()
                    .filter_map(|val| if let Val::Range(ends) = val { Some((&ends.0, &ends.1)) } else { None })
                    .collect();
                let low = self.meet(&ends.iter().map(|ends| ends.0).collect::<Vec<_>>(), at);
                let high = self.meet(&ends.iter().map(|ends| ends.1).collect::<Vec<_>>(), at);
                match (&low, &high) {
                    (Val::Quantity(..), Val::Quantity(..)) => Val::Range(Rc::new((low, high))),
                    _ => Val::Any,
                }
            }
            Val::List(_) => self.meet_lists(vals, at),
            Val::ListOf(_) => {
                let ones: Vec<&Val> = vals
                    .iter()
                    .filter_map(|val| if let Val::ListOf(one) = val { Some(&**one) } else { None })
                    .collect();
                Val::ListOf(Rc::new(self.meet(&ones, at)))
            }
            Val::Record(_) => self.meet_records(vals, at),
            _ if vals.len() == 1 => vals[0].clone(),
            _ => Val::Any,
        }
    }

    fn meet_quantities(&mut self, vals: &[&Val], at: (usize, &[usize])) -> Val {
        let all: Vec<(&Measure, Term, Term)> = vals
            .iter()
            .filter_map(|val| match val {
                Val::Quantity(measure, si, written) => Some((&**measure, *si, *written)),
                _ => None,
            })
            .collect();
        let first = all[0].0;
        let mut measure = first.clone();
        for (other, ..) in &all {
            if other.dimension != first.dimension || other.point != first.point {
                return Val::Any;
            }
            if other.of != first.of {
                // Which of two things it is must not be forgotten where it matters.
                if [&other.of, &first.of].into_iter().flatten().any(|of| is_distinct(self.units, of)) {
                    return Val::Any;
                }
                measure.of = None;
            }
        }
        let si = self.meet_term(&all.iter().map(|one| one.1).collect::<Vec<_>>(), at);
        let written = self.meet_term(&all.iter().map(|one| one.2).collect::<Vec<_>>(), at);
        Val::Quantity(Rc::new(measure), si, written)
    }

    fn meet_slots(&mut self, slots: &[Option<&Slot>], (join, sites): (usize, &[usize])) -> Slot {
        let there: Vec<Term> = slots.iter().map(|slot| slot.map_or(ZERO, |slot| slot.there.unwrap_or(ONE))).collect();
        let with: Vec<(usize, &Slot)> =
            slots.iter().zip(sites).filter_map(|(slot, site)| slot.map(|slot| (*site, slot))).collect();
        let (owners, vals): (Vec<usize>, Vec<&Val>) = with.into_iter().map(|(site, slot)| (site, &slot.val)).unzip();
        let val = self.meet(&vals, (join, &owners));
        let there = self.meet_term(&there, (join, sites));
        Slot { there: if there.same(ONE) { None } else { Some(there) }, val }
    }

    /// The lists are the same but for entries that are not there on some ways.
    fn meet_lists(&mut self, vals: &[&Val], at: (usize, &[usize])) -> Val {
        let lists: Vec<&Rc<Vec<Slot>>> =
            vals.iter().filter_map(|val| if let Val::List(list) = val { Some(list) } else { None }).collect();
        if lists.iter().all(|list| Rc::ptr_eq(list, lists[0])) {
            return vals[0].clone();
        }
        let longest = lists.iter().map(|list| list.len()).max().unwrap_or(0);
        let slots = (0..longest).map(|index| {
            let slots: Vec<Option<&Slot>> = lists.iter().map(|list| list.get(index)).collect();
            self.meet_slots(&slots, at)
        });
        Val::List(Rc::new(slots.collect()))
    }

    fn meet_records(&mut self, vals: &[&Val], at: (usize, &[usize])) -> Val {
        let records: Vec<&Rc<BTreeMap<ImmutableString, Slot>>> =
            vals.iter().filter_map(|val| if let Val::Record(record) = val { Some(record) } else { None }).collect();
        if records.iter().all(|record| Rc::ptr_eq(record, records[0])) {
            return vals[0].clone();
        }
        let names: BTreeSet<&ImmutableString> = records.iter().flat_map(|record| record.keys()).collect();
        let fields = names.into_iter().map(|name| {
            let slots: Vec<Option<&Slot>> = records.iter().map(|record| record.get(name)).collect();
            (name.clone(), self.meet_slots(&slots, at))
        });
        Val::Record(Rc::new(fields.collect()))
    }

    /// One value that stands for any of several.
    pub fn any_of(&mut self, vals: &[Val]) -> Val {
        let join = self.new_join(0);
        self.moves[join] = vec![Vec::new(); vals.len()];
        let sites: Vec<usize> = (0..vals.len()).collect();
        match vals {
            [] => Val::Any,
            _ => self.meet(&vals.iter().collect::<Vec<_>>(), (join, &sites)),
        }
    }
}

fn kind(val: &Val) -> u8 {
    match val {
        Val::Any => 0,
        Val::Nothing => 1,
        Val::Whole(_) => 2,
        Val::Number(_) => 3,
        Val::Loose(_) => 4,
        Val::Truth(_) => 5,
        Val::Quantity(..) => 6,
        Val::Range(_) => 7,
        Val::Text(_) => 8,
        Val::List(_) => 9,
        Val::ListOf(_) => 10,
        Val::Record(_) => 11,
        Val::Counting(..) => 12,
        Val::Function(_) => 13,
        Val::Held(_) => 14,
    }
}

/// Whether some family says that it is not the same as this one, or the other way round.
pub(super) fn is_distinct(units: &Units, of: &str) -> bool {
    units.family(of).is_some_and(|family| !family.distinct_from.is_empty())
        || units.families().any(|family| family.distinct_from.iter().any(|other| &**other == of))
}
