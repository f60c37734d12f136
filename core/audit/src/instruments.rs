//! Could the instrument read this, and was its calibration still good?

use indexmap::IndexMap;
use jiff::civil::Date;

use super::point::Point;
use super::seen::{Look, Seen};
use standpipe_job::Event;
use standpipe_procedure::ScaleEnd;
use standpipe_quantity::value::Value;

pub struct Instruments {
    point: Point,
    /// For each kind of instrument whose scale was looked at, the values that say so and whose scale it was, if that was said.
    looked_at: IndexMap<String, IndexMap<String, Option<String>>>,
}

impl Instruments {
    pub fn new(file: &str) -> Self {
        Self { point: Point::new("instruments", file), looked_at: IndexMap::new() }
    }

    fn read(&mut self, seen: &Seen<'_>, name: &str, value: &Value, id: &str, on: Date) {
        self.point.looked_at += 1;
        let (line, plan) = (seen.line(), seen.plan);
        let Some(instrument) = plan.shop.instruments.get(id) else {
            self.point.fails(line, format!("`{name}` was read with `{id}`, which the shop does not have"));
            return;
        };
        if !instrument.reaches(value) {
            let range = instrument.range.clone().map(|(low, high)| plan.show(&Value::Range(low, high)));
            let (value, range) = (plan.show(value), range.unwrap_or_default());
            self.point.fails(line, format!("`{name}` is {value}, and `{id}` reads {range}"));
        }
        if let Some(due) = instrument.due
            && due < on
        {
            self.point.fails(line, format!("`{name}` was read on {on}; the calibration of `{id}` ran out on {due}"));
        }
        if let Some(calibrated) = instrument.calibrated
            && calibrated > on
        {
            let message = format!("`{name}` was read on {on}; `{id}` was calibrated after that, on {calibrated}");
            self.point.unshown(line, message);
        }
    }

    /// An end of a scale, as the shop file has it or as somebody read it.
    fn end(&mut self, seen: &Seen<'_>, name: &str, end: &ScaleEnd, value: &Value, id: Option<&String>) {
        if let Some(id) = id {
            self.point.looked_at += 1;
            if !seen.plan.is_end_of(id, end, value) {
                let value = seen.plan.show(value);
                self.point.fails(
                    seen.line(),
                    format!("`{name}` is {value}, and the shop file now says something else of `{id}`"),
                );
            }
        }
        self.looked_at.entry(end.of.value.clone()).or_default().insert(name.to_owned(), id.cloned());
    }

    /// Whether the scale of the one that was used is one that was looked at, where all of its kind were named.
    fn other_scale(&mut self, seen: &Seen<'_>, name: &str, kind: &str, id: &str) {
        let Some(looked_at) = self.looked_at.get(kind) else { return };
        let named: Option<Vec<&str>> = looked_at.values().map(Option::as_deref).collect();
        let Some(named) = named.filter(|named| !named.contains(&id)) else { return };
        let mut named: Vec<String> = named.into_iter().map(|id| format!("`{id}`")).collect();
        named.sort();
        named.dedup();
        let message = format!(
            "`{name}` was read with `{id}`; the scale that was checked against is that of {}",
            named.join(", ")
        );
        self.point.unshown(seen.line(), message);
    }

    fn wanted(&mut self, seen: &Seen<'_>, values: &IndexMap<String, Value>, with: &IndexMap<String, String>) {
        let Some(step) = seen.step() else { return };
        for field in step.kind.fields() {
            let name = field.name.as_str();
            if let (Some(end), Some(value)) = (&field.end, values.get(name).filter(|value| !value.is_unknown())) {
                self.end(seen, name, end, value, with.get(name));
            }
            let (Some(kind), Some(value)) = (&field.instrument, values.get(field.name.as_str())) else { continue };
            let name = &field.name.value;
            match with.get(name) {
                _ if value.is_unknown() => {}
                None => self.point.fails(seen.line(), format!("nobody says which {} read `{name}`", kind.value)),
                Some(id) => {
                    let other = seen.plan.shop.instruments.get(id).filter(|it| it.kind != kind.value);
                    if let Some(other) = other {
                        let message = format!("`{name}` was read with a {}, not a {}", other.kind, kind.value);
                        self.point.fails(seen.line(), message);
                    }
                    self.other_scale(seen, name, kind, id);
                }
            }
        }
    }
}

impl Look for Instruments {
    fn see(&mut self, seen: &Seen<'_>) {
        match &seen.record.event {
            Event::Entered { address, values, with, .. } => {
                self.wanted(seen, values, with);
                for (name, id) in with {
                    if let Some(value) = values.get(name).filter(|_| seen.plan.scale_end(&address.step, name).is_none())
                    {
                        self.read(seen, name, value, id, seen.record.at.date());
                    }
                }
            }
            Event::Corrected { entry, values, .. } => {
                for (name, value) in values {
                    let corrected = seen.before.readings.iter().find(|it| it.seq == *entry && it.name == *name);
                    // What an end is corrected to is read off the scale, and the shop file says no more of it.
                    if let Some(end) = corrected.and_then(|it| seen.plan.scale_end(&it.address.step, name)) {
                        self.end(seen, name, end, value, None);
                        continue;
                    }
                    // Read when the entry was made, only written down otherwise now.
                    if let Some((id, at)) = corrected.and_then(|it| Some((it.with.as_ref()?, it.at))) {
                        self.read(seen, name, value, id, at.date());
                    }
                }
            }
            _ => {}
        }
    }

    fn points(self: Box<Self>) -> Vec<Point> {
        vec![self.point]
    }
}
