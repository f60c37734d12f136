//! What a vehicle is called on screens, cards, tags and lists.

use standpipe_quantity::value::Value;

/// The vehicle in a few words: what the job file says of it that is text.
pub fn vehicle(job: &Value) -> String {
    let Some(Value::Record(facts)) = job.at(&["vehicle"]) else { return String::new() };
    let texts = facts.values().filter_map(|value| match value {
        Value::Text(text) => Some(text.as_str()),
        _ => None,
    });
    texts.take(2).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use indexmap::IndexMap;

    #[test]
    fn a_vehicle_is_called_by_its_first_texts() {
        let text = |text: &str| Value::Text(text.to_owned());
        let facts = IndexMap::from([
            ("plate".to_owned(), text("FL 417")),
            ("odometer".to_owned(), Value::Number(1.0)),
            ("description".to_owned(), text("Parcel van")),
            ("duty".to_owned(), text("hard")),
        ]);
        let job = Value::Record(IndexMap::from([("vehicle".to_owned(), Value::Record(facts))]));
        assert_eq!(vehicle(&job), "FL 417, Parcel van");
        assert_eq!(vehicle(&Value::Unknown), "");
    }
}
