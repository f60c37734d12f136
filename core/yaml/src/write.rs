//! Writing YAML that our own reader takes back.

use serde::Serialize;

use super::number::is_two_faced;
use super::parse;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Problems};

/// A value as YAML text. The message of an error is for people; it arises for types that YAML can't hold.
pub fn write<T: Serialize>(value: &T) -> Result<String, String> {
    let text = serde_yaml::to_string(value).map_err(|fault| fault.to_string())?;
    Ok(quote_words(text))
}

/// serde_yaml leaves `no` and `on` unquoted, which our reader refuses, and rightly.
fn quote_words(text: String) -> String {
    let source = Source::new("<written>", text);
    let mut problems = Problems::new();
    parse::parse(&source, &mut problems);
    let mut text = source.text.clone();
    problems.retain(|problem| problem.code == Code::TwoFacedWord && is_two_faced(problem.place.text()));
    problems.sort_by_key(|problem| problem.place.range().start);
    for problem in problems.iter().rev() {
        let quoted = format!("\"{}\"", problem.place.text());
        text.replace_range(problem.place.range(), &quoted);
    }
    text
}
