//! Messages for programs.

use serde_json::Value;

use super::{Diagnostic, sorted};

/// A list of messages, each with `code`, `severity`, `message`, `place` and, where there are any, `label`, `also`,
/// `expected` and `help`.
pub fn json(problems: &[Diagnostic]) -> Value {
    let list = sorted(problems).into_iter().map(serde_json::to_value);
    // Nothing in a diagnostic can fail to be written; a message is not lost if that ever changes.
    Value::Array(list.map(|value| value.unwrap_or_else(|fault| Value::String(fault.to_string()))).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Code;
    use crate::source::{Place, Source};

    #[test]
    fn a_message_carries_its_place_and_leaves_out_what_it_has_not() {
        let source = Source::new("a.yaml", "x: 1\n");
        let problem = Diagnostic::error(Code::UnknownKey, &Place::new(&source, 3..4), "unknown key").help("remove it");
        assert_eq!(
            json(&[problem]),
            serde_json::json!([{
                "code": "unknown-key", "severity": "error", "message": "unknown key",
                "place": {"file": "a.yaml", "line": 1, "column": 4}, "help": "remove it"
            }])
        );
    }
}
