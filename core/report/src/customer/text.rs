//! The page for who brought the work in, as text.

use super::CustomerView;
use crate::shown::{banner, headline, page, painted, section};
use standpipe_diagnostic::columns::{hang, wrap};

pub fn text(view: &CustomerView, width: usize, colour: bool) -> String {
    let mut out = vec![headline(&view.shop, banner(view.simulated, view.invented), width)];
    for line in [&view.subject, &view.on, &view.work, &format!("Job {}", view.job)] {
        out.extend(wrap(line, width));
    }
    out.push(String::new());
    out.extend(wrap(&view.checked, width));
    out.extend(view.answers.iter().flat_map(|(word, text)| wrap(&format!("{}: {text}", word.to_uppercase()), width)));
    out.extend(wrap(&view.outcome, width));
    if !view.otherwise.is_empty() {
        section(&mut out, "Not as planned");
        out.extend(view.otherwise.iter().flat_map(|line| hang("- ", line, width)));
    }
    for (title, sentences) in &view.told {
        section(&mut out, title);
        out.extend(sentences.iter().flat_map(|line| hang("  ", line, width)));
    }
    section(&mut out, "What was done");
    out.extend(view.done.iter().flat_map(|(part, how)| hang("- ", &format!("{part}: {how}"), width)));
    out.push(String::new());
    if let Some(seal) = &view.seal {
        out.extend(wrap("With this seal anybody can tell later whether the record is still the same:", width));
        out.extend(wrap(seal, width));
    }
    out.extend(wrap(view.notice, width));
    painted(&page(&out), colour)
}
