//! What an instrument shows of what is true, and what is true of what it is made to show.

use standpipe_library::Instrument;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

use super::Person;
use crate::model::Off;
use crate::people::Slip;

impl<'b> Person<'b, '_> {
    /// The instrument that is taken: the first of its kind that reaches the value, or by a slip another one.
    pub(super) fn instrument(
        &mut self,
        kind: &str,
        value: &Quantity,
        name: &str,
        careful: bool,
    ) -> Option<(&'b str, &'b Instrument)> {
        let shop = &self.bench.plan().shop;
        let all: Vec<(&str, &Instrument)> =
            shop.instruments.iter().filter(|(_, it)| it.kind == kind).map(|(id, it)| (id.as_str(), it)).collect();
        let reaches = |it: &&(&str, &Instrument)| it.1.reaches(&Value::Quantity(value.clone()));
        let right = all.iter().position(|it| reaches(&it)).or((!all.is_empty()).then_some(0))?;
        if all.len() > 1 && !careful && self.slips(Slip::Instrument, name) {
            return Some(all[(right + 1) % all.len()]);
        }
        Some(all[right])
    }

    /// What it shows of a true value, in base units.
    pub(super) fn shown_by(&mut self, id: &str, instrument: &Instrument, truth: &Quantity) -> f64 {
        let (times, by, stuck) = self.off(&instrument.kind);
        let read = truth.si * times + by;
        let shown = read + self.error(id, instrument, &Quantity { si: read, written: None, ..truth.clone() });
        // A scale shows no more than it has, whatever its error.
        let shown = match &instrument.range {
            Some((low, high)) if (low.si..=high.si).contains(&truth.si) => shown.clamp(low.si, high.si),
            _ => shown,
        };
        if stuck { *self.stuck.entry(id.to_owned()).or_insert(shown) } else { shown }
    }

    /// What is true where it was made to show a value, in base units.
    pub(super) fn true_at(&self, id: &str, instrument: &Instrument, shown: &Quantity) -> f64 {
        let (times, by, _) = self.off(&instrument.kind);
        (shown.si - self.error(id, instrument, shown) - by) / times
    }

    /// Its error near a reading, the same for a whole job: alike within the limits that the shop file gives. Source: a limit
    /// without more is taken as rectangular, JCGM 100:2008 4.3.7.
    fn error(&self, id: &str, instrument: &Instrument, reading: &Quantity) -> f64 {
        let share = 2.0 * self.draws.uniform("instrument", id) - 1.0;
        share * instrument.error_of(reading).unwrap_or(0.0)
    }

    /// What faults do to a kind of instrument: times, by, stuck.
    fn off(&self, kind: &str) -> (f64, f64, bool) {
        let faults = self.faults.iter().map(|index| &self.bench.model.faults[*index]);
        faults.filter_map(|fault| fault.instruments.get(kind)).fold((1.0, 0.0, false), |(times, by, stuck), off| {
            match off {
                Off::Times(more) => (times * more, by, stuck),
                Off::By(more) => (times, by + more.si, stuck),
                Off::Stuck => (times, by, true),
            }
        })
    }
}
