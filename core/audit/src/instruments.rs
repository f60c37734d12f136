//! Could the instrument read this, and was its calibration still good?

use indexmap::IndexMap;
use jiff::civil::Date;

use super::point::Point;
use super::seen::{Look, Seen};
use standpipe_job::Event;
use standpipe_quantity::value::Value;

pub struct Instruments {
    point: Point,
}

impl Instruments {
    pub fn new(file: &str) -> Self {
        Self { point: Point::new("instruments", file) }
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

    fn wanted(&mut self, seen: &Seen<'_>, values: &IndexMap<String, Value>, with: &IndexMap<String, String>) {
        let Some(step) = seen.step() else { return };
        for field in step.kind.fields() {
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
                }
            }
        }
    }
}

impl Look for Instruments {
    fn see(&mut self, seen: &Seen<'_>) {
        match &seen.record.event {
            Event::Entered { values, with, .. } => {
                self.wanted(seen, values, with);
                for (name, id) in with {
                    if let Some(value) = values.get(name) {
                        self.read(seen, name, value, id, seen.record.at.date());
                    }
                }
            }
            Event::Corrected { entry, values, .. } => {
                for (name, value) in values {
                    let corrected = seen.before.readings.iter().find(|it| it.seq == *entry && it.name == *name);
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
