//! `level 1 in 1000`: a harm and the share of jobs that may be harmed though their record claims that all is shown.

use crate::model::Model;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_yaml::At;

/// Number of the harm, or none for any, and the share of 1.
///
/// Errors: a harm that the model does not know; no share.
pub fn limit(text: &At<String>, model: &Model) -> Result<(Option<usize>, f64), Box<Diagnostic>> {
    let (word, rest) = word_first(text);
    let harm = match word {
        None | Some("any") => None,
        Some(word) => Some(model.harms.get_index_of(word).ok_or_else(|| unknown(text, word, model))?),
    };
    Ok((harm, share(text, rest, "after a harm or `any`")?))
}

/// What stands before a share, if anything does.
pub fn word_first(text: &str) -> (Option<&str>, &str) {
    let text = text.trim();
    let begins =
        |(at, one): (usize, char)| one.is_ascii_digit() && !text[..at].ends_with(|one: char| !one.is_whitespace());
    let at = text.char_indices().find(|one| begins(*one)).map_or(text.len(), |(at, _)| at);
    let (word, rest) = text.split_at(at);
    (Some(word.trim()).filter(|word| !word.is_empty()), rest)
}

/// `1 in 1000`, `0.1 %` or `0.001`, from 0 to 1. `behind`: what may stand before it.
///
/// Errors: anything else.
pub fn share(text: &At<String>, written: &str, behind: &str) -> Result<f64, Box<Diagnostic>> {
    let read = || -> Option<f64> {
        if let Some((count, of)) = written.split_once(" in ") {
            return Some(count.trim().parse::<f64>().ok()? / of.trim().replace(',', "").parse::<f64>().ok()?);
        }
        match written.trim().strip_suffix('%') {
            Some(percent) => Some(percent.trim().parse::<f64>().ok()? / 100.0),
            None => written.trim().parse().ok(),
        }
    };
    read().filter(|share| (0.0..=1.0).contains(share)).ok_or_else(|| {
        let message = format!("`{}` is not a share of jobs", written.trim());
        let problem = Diagnostic::error(Code::WrongArguments, &text.place, message);
        Box::new(problem.expected(format!("such as `1 in 1000`, `0.1 %` or `0.001`, {behind}")))
    })
}

fn unknown(text: &At<String>, word: &str, model: &Model) -> Box<Diagnostic> {
    let known: Vec<&str> = model.harms.keys().map(String::as_str).chain(["any"]).collect();
    let problem = Diagnostic::error(Code::UnknownReference, &text.place, format!("the model knows no harm `{word}`"))
        .expected(known.join(", "));
    Box::new(problem.nearest(word, known, "a harm and a share, such as `level 1 in 1000`"))
}
