//! Questions asked one by one on the terminal; answers that do not fit are asked again at once.

use std::io::{BufRead, Write};

use crate::context::Context;
use standpipe_diagnostic::columns::fit;
use standpipe_form::Field;
use standpipe_job::plan::Parsed;
use standpipe_library::Kind;
use standpipe_quantity::{Style, Units};

/// Asks until the answer fits or is left open.
pub fn ask(context: &Context, field: &Field, units: &Units) -> Option<String> {
    let options = field.options();
    loop {
        context.note(&field.question());
        if let Some(help) = &field.help {
            context.note(&format!("  {help}"));
        }
        for (index, option) in options.iter().enumerate() {
            context.note(&format!("  {} {option}", index + 1));
        }
        let typed = read_line(&format!("  ({}; Enter leaves it unknown) ", field.expected()))?;
        if typed.is_empty() {
            return None;
        }
        let value = match typed.parse::<usize>().ok().and_then(|number| options.get(number.checked_sub(1)?)) {
            Some(option) => option.clone(),
            None => typed,
        };
        match field.read(&value, units) {
            Ok(read) => match field.usual(&read) {
                None => return Some(value),
                Some((low, high)) => {
                    let usual = units.show_range(low, high, &Style::default());
                    context.note(&format!("  That is far from the usual {usual}."));
                    context.note("  Enter it again to keep it.");
                    if read_line("  ")? == value {
                        return Some(value);
                    }
                }
            },
            Err(fault) => {
                context.note(&format!("  {}", fault.message));
                if let Some(help) = fault.help {
                    context.note(&format!("  {help}"));
                }
            }
        }
    }
}

/// One of a list, by its number or its id; asked again until it is one. `None` where nobody answers.
pub fn choose(context: &Context, kind: Kind, parsed: &Parsed, ids: &[&str]) -> Option<String> {
    let widest = ids.iter().map(|id| id.len()).max().unwrap_or(0);
    loop {
        context.note(&format!("Which {kind}?"));
        for (index, id) in ids.iter().enumerate() {
            let title = parsed.library.document(kind, id).and_then(|document| document.title()).unwrap_or_default();
            let line = format!("  {} {id:widest$}  {title}", index + 1);
            context.note(fit(&line, context.width()).trim_end());
        }
        let typed = read_line("  (its number) ")?;
        let chosen = typed.parse::<usize>().ok().and_then(|number| ids.get(number.checked_sub(1)?).copied());
        match chosen.or_else(|| ids.iter().copied().find(|id| *id == typed)) {
            Some(id) => return Some(id.to_owned()),
            None => context.note(&format!("  `{typed}` is not one of them")),
        }
    }
}

pub fn read_line(prompt: &str) -> Option<String> {
    let mut err = std::io::stderr().lock();
    let _ = write!(err, "{prompt}").and_then(|()| err.flush());
    let mut line = String::new();
    match std::io::stdin().lock().read_line(&mut line) {
        Ok(0) | Err(_) => None,
        Ok(_) => Some(line.trim().to_owned()),
    }
}
