//! Ends of scales: what the shop file says of an instrument may stand for what is read off it, and is no measurement.

use indexmap::IndexMap;

use super::Plan;
use crate::state::Reading;
use standpipe_procedure::{Field, ScaleEnd};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

impl Plan {
    pub fn field(&self, step: &str, name: &str) -> Option<&Field> {
        self.step(step)?.kind.fields().iter().find(|field| field.name.as_str() == name)
    }

    /// The instrument that a value was measured with: how far that may be off says nothing of an end of its own scale.
    pub fn measured_with<'a>(&self, reading: &'a Reading) -> Option<&'a str> {
        let is_end = self.field(&reading.address.step, &reading.name).is_some_and(|field| field.end.is_some());
        reading.with.as_deref().filter(|_| !is_end)
    }

    /// Whether this is where the scale of an instrument ends, as the shop file has it; `None` where that does not say.
    pub fn is_end_of(&self, instrument: &str, end: &ScaleEnd, value: &Value) -> Option<bool> {
        let (known, Value::Quantity(value)) = (self.shop.instruments.get(instrument)?.end(end.highest)?, value) else {
            return None;
        };
        Some(known.dimension == value.dimension && standpipe_quantity::close(known.si, value.si))
    }

    /// For each instrument of the kind that a field is an end of: what to type for it. What the shop file does not say of one
    /// is asked as ever.
    pub fn ends(&self, field: &Field) -> IndexMap<String, String> {
        let Some(end) = &field.end else { return IndexMap::new() };
        let known = |id: &str| {
            let typed = as_written(self.shop.instruments.get(id)?.end(end.highest)?)?;
            // One that the field does not take would be refused.
            let fits =
                field.read(&typed, &self.units, None).is_ok_and(|value| self.is_end_of(id, end, &value) == Some(true));
            fits.then(|| (id.to_owned(), typed))
        };
        self.shop.instruments_of(&end.of).into_iter().filter_map(known).collect()
    }
}

fn as_written(quantity: &Quantity) -> Option<String> {
    quantity.written.as_ref().map(|written| format!("{} {}", written.value, written.unit))
}
