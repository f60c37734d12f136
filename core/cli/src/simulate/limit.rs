//! `--at-most "level 1 in 1000"`: a harm and a share that must not be passed.

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::plan::typed;
use standpipe_simulate::Model;

/// Number of the harm, or none for any, and the share.
pub fn limit(text: &str, model: &Model) -> Result<(Option<usize>, f64), Box<Diagnostic>> {
    let (word, rest) = match text.trim().split_once(' ') {
        Some((word, rest)) if word.starts_with(|one: char| one.is_ascii_alphabetic()) => (word, rest.trim()),
        _ => ("any", text.trim()),
    };
    let harm = match word {
        "any" => None,
        word => Some(model.harms.get_index_of(word).ok_or_else(|| unknown(word, model))?),
    };
    match share(rest) {
        Some(share) if (0.0..=1.0).contains(&share) => Ok((harm, share)),
        _ => {
            let at = typed("--at-most", text);
            Err(Box::new(
                Diagnostic::error(Code::WrongArguments, &at.place, format!("`{rest}` is no share of jobs"))
                    .expected("such as `1 in 1000`, `0.1 %` or `0.001`, behind a harm or `any`"),
            ))
        }
    }
}

fn share(text: &str) -> Option<f64> {
    if let Some((count, of)) = text.split_once(" in ") {
        return Some(count.trim().parse::<f64>().ok()? / of.trim().replace(',', "").parse::<f64>().ok()?);
    }
    match text.strip_suffix('%') {
        Some(percent) => Some(percent.trim().parse::<f64>().ok()? / 100.0),
        None => text.parse().ok(),
    }
}

fn unknown(word: &str, model: &Model) -> Box<Diagnostic> {
    let at = typed("--at-most", word);
    let known: Vec<&str> = model.harms.keys().map(String::as_str).chain(["any"]).collect();
    let problem = Diagnostic::error(Code::UnknownReference, &at.place, format!("the model knows no harm `{word}`"))
        .expected(known.join(", "));
    Box::new(problem.nearest(word, known, "a harm and a share, such as `level 1 in 1000`"))
}
