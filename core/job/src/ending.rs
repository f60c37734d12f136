//! What ended an entry, in words.

use standpipe_procedure::model::{PAUSE, PERSON};

/// `a pause` for `pause`; the name of an event of the procedure as words.
pub fn ended_by(event: &str) -> String {
    match event {
        PAUSE => "a pause".to_owned(),
        PERSON => "a change of hands".to_owned(),
        "age" => "its age".to_owned(),
        other => other.replace('-', " "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_read_as_words() {
        assert_eq!(ended_by("person"), "a change of hands");
        assert_eq!(ended_by("water-shut-off"), "water shut off");
    }
}
