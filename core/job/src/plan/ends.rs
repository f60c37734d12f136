//! Ends of scales: what the shop file says of an instrument may stand for what is read off it, and is no measurement.

use indexmap::IndexMap;

use super::Plan;
use crate::state::Reading;
use standpipe_procedure::{Field, ScaleEnd};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

impl Plan {
    /// Of which scale a value that a step asks for is an end; `None` for everything else.
    pub fn scale_end(&self, step: &str, name: &str) -> Option<&ScaleEnd> {
        self.step(step)?.kind.fields().iter().find(|field| field.name.as_str() == name)?.end.as_ref()
    }

    /// The instrument that a value was measured with: how far that may be off says nothing of an end of its own scale.
    pub fn measured_with<'a>(&self, reading: &'a Reading) -> Option<&'a str> {
        reading.with.as_deref().filter(|_| self.scale_end(&reading.address.step, &reading.name).is_none())
    }

    /// Whether this is where the scale of an instrument ends, as the shop file has it.
    pub fn is_end_of(&self, instrument: &str, end: &ScaleEnd, value: &Value) -> bool {
        let known = self.shop.instruments.get(instrument).and_then(|instrument| instrument.end(end.highest));
        known.is_some_and(|known| match value {
            Value::Quantity(value) => {
                known.dimension == value.dimension && standpipe_quantity::close(known.si, value.si)
            }
            _ => false,
        })
    }

    /// For each instrument of the kind that a field is an end of: what to type for it. What the shop file does not say of one
    /// is asked as ever.
    pub fn ends(&self, field: &Field) -> IndexMap<String, String> {
        let Some(end) = &field.end else { return IndexMap::new() };
        let known = |id: &str| {
            let typed = as_written(self.shop.instruments.get(id)?.end(end.highest)?)?;
            // One that the field does not take would be refused.
            let fits = field.read(&typed, &self.units, None).is_ok_and(|value| self.is_end_of(id, end, &value));
            fits.then(|| (id.to_owned(), typed))
        };
        self.shop.instruments_of(&end.of).into_iter().filter_map(known).collect()
    }
}

fn as_written(quantity: &Quantity) -> Option<String> {
    quantity.written.as_ref().map(|written| format!("{} {}", written.value, written.unit))
}
