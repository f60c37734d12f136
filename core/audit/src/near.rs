//! Are two events the same, but for the last digits of a computation?
//!
//! Another processor or another version may round differently in the last bits. Numbers are compared to 1e-9 of their
//! size; everything else has to be the same.

use serde_json::Value as Json;

use standpipe_job::Record;

const NEAR: f64 = 1e-9;
/// Nothing that is measured or computed here is so small and not zero: what is left when two equal numbers are taken
/// from each other.
const NOTHING: f64 = 1e-15;

/// Said by interpreter, sheets and templates for people to read; another version may say it in other words.
const WORDS: &[&str] = &["warnings", "tag", "place"];
/// Where a message stands among codes: only its words may be others.
const FAILURES: &[&str] = &["missing", "fault"];
/// Who wrote it, not what was decided.
const VERSIONS: &[&str] = &["tool", "interpreter"];

#[derive(Clone, Debug, PartialEq)]
pub struct Differs {
    /// `value.quantity.si`
    pub path: String,
    pub recorded: String,
    pub again: String,
    pub only_words: bool,
}

/// Differences that matter, in the order of the keys.
pub fn differences(recorded: &Record, again: &Record) -> Vec<Differs> {
    // Most are written alike. Equal values need not be: a quantity is equal to one that was typed in other units.
    let text = |record: &Record| serde_json::to_string(record).ok();
    if text(recorded).is_some_and(|recorded| text(again) == Some(recorded)) {
        return Vec::new();
    }
    let json = |record: &Record| serde_json::to_value(record).unwrap_or_default();
    let mut found = Vec::new();
    compare(&json(recorded), &json(again), String::new(), false, &mut found);
    found
}

fn compare(recorded: &Json, again: &Json, path: String, words: bool, found: &mut Vec<Differs>) {
    let says = |key: &str| match path.split('.').next().unwrap_or_default() {
        "" => WORDS.contains(&key),
        top => key == "message" && FAILURES.contains(&top),
    };
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match (recorded, again) {
        (Json::Object(a), Json::Object(b)) => {
            for (key, value) in a {
                if path.is_empty() && VERSIONS.contains(&key.as_str()) {
                    continue;
                }
                let words = words || says(key);
                compare(value, b.get(key).unwrap_or(&Json::Null), below(key), words, found);
            }
            for (key, value) in b.iter().filter(|(key, _)| !a.contains_key(*key)) {
                let words = words || says(key);
                compare(&Json::Null, value, below(key), words, found);
            }
        }
        (Json::Array(a), Json::Array(b)) if a.len() == b.len() => {
            for (index, (a, b)) in a.iter().zip(b).enumerate() {
                compare(a, b, below(&index.to_string()), words, found);
            }
        }
        (Json::Number(a), Json::Number(b)) if near(a.as_f64(), b.as_f64()) => {}
        (a, b) if a == b => {}
        (a, b) => found.push(Differs { path, recorded: short(a), again: short(b), only_words: words }),
    }
}

fn near(a: Option<f64>, b: Option<f64>) -> bool {
    let (Some(a), Some(b)) = (a, b) else { return false };
    (a - b).abs() <= (NEAR * a.abs().max(b.abs())).max(NOTHING)
}

fn short(value: &Json) -> String {
    const LONGEST: usize = 60;
    let text = match value {
        Json::Null => "nothing".to_owned(),
        Json::String(text) => text.clone(),
        other => other.to_string(),
    };
    if text.chars().count() > LONGEST { format!("{}…", text.chars().take(LONGEST).collect::<String>()) } else { text }
}

/// By how much the values that a verdict looked at are moved to see whether it hangs by a thread.
pub const NUDGE: f64 = NEAR;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_near_to_a_billionth_of_their_size() {
        assert!(near(Some(8.5), Some(8.5 * (1.0 + 9e-10))));
        assert!(!near(Some(8.5), Some(8.5 * (1.0 + 2e-9))));
        assert!(near(Some(1e-17), Some(0.0)));
        assert!(!near(Some(1e-9), Some(0.0)));
        assert!(!near(Some(f64::NAN), Some(f64::NAN)));
    }

    #[test]
    fn differences_have_a_path_and_words_are_told_apart() {
        let a = serde_json::json!({"event": "computed", "value": {"si": 1.0}, "warnings": ["a"], "tool": "1"});
        let b = serde_json::json!({"event": "computed", "value": {"si": 2.0}, "warnings": ["b"], "tool": "2"});
        let mut found = Vec::new();
        compare(&a, &b, String::new(), false, &mut found);
        let paths: Vec<_> = found.iter().map(|it| (it.path.as_str(), it.only_words)).collect();
        assert_eq!(paths, [("value.si", false), ("warnings.0", true)]);
    }

    #[test]
    fn what_stands_on_one_side_only_or_elsewhere_in_a_list_is_a_difference() {
        let found = |a: Json, b: Json| {
            let mut found = Vec::new();
            compare(&a, &b, String::new(), false, &mut found);
            found.into_iter().map(|it| (it.path, it.recorded, it.again, it.only_words)).collect::<Vec<_>>()
        };
        let one = |path: &str, recorded: &str, again: &str, words: bool| {
            vec![(path.to_owned(), recorded.to_owned(), again.to_owned(), words)]
        };
        use serde_json::json;
        assert_eq!(found(json!({"a": 1.0, "tool": "1"}), json!({"a": 1.0 + 1e-12, "tool": "2"})), []);
        assert_eq!(found(json!({"a": "x"}), json!({})), one("a", "x", "nothing", false));
        assert_eq!(found(json!({}), json!({"a": true})), one("a", "nothing", "true", false));
        assert_eq!(found(json!({}), json!({"tag": ["x"]})), one("tag", "nothing", "[\"x\"]", true));
        assert_eq!(found(json!({"a": [1, 2]}), json!({"a": [1]})), one("a", "[1,2]", "[1]", false));
        assert_eq!(found(json!({"a": [1, 2]}), json!({"a": [1, 3]})), one("a.1", "2", "3", false));
        // Words are words where they are said to be, and nowhere else.
        let message = |key: &str, text: &str| json!({ key: [{ "message": text, "code": 1 }] });
        assert_eq!(found(message("missing", "x"), message("missing", "y")), one("missing.0.message", "x", "y", true));
        assert_eq!(found(message("fault", "x"), message("fault", "y")), one("fault.0.message", "x", "y", true));
        assert_eq!(found(message("found", "x"), message("found", "y")), one("found.0.message", "x", "y", false));
        let code = json!({ "missing": [{ "message": "x", "code": 2 }] });
        assert_eq!(found(message("missing", "x"), code), one("missing.0.code", "1", "2", false));
        assert_eq!(found(json!({"a": {"tag": "x"}}), json!({"a": {"tag": "y"}})), one("a.tag", "x", "y", false));
        let tool = |it: &str| json!({"value": {"tool": it}});
        assert_eq!(found(tool("1"), tool("2")), one("value.tool", "1", "2", false), "only of the event itself");
    }

    #[test]
    fn what_is_long_is_cut_off() {
        for (length, shown) in [(60, 60), (61, 61)] {
            let text = short(&Json::String("ä".repeat(length)));
            assert_eq!((text.chars().count(), text.ends_with('…')), (shown, length > 60));
        }
    }
}
