//! A job of the examples by plain forms, up to a step that a test wants to look at.

use std::path::Path;

use crate::by_taps::same_pass;
use crate::form::{Device, between, words};
use crate::walk::{What, deeds};

/// Answers as the examples do until a step is asked, with whoever looks looking here. Panics where it never is.
pub fn walk_to(device: &Device, job: &str, answers: &str, step: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for deed in deeds(&root.join(format!("examples/answers/{answers}.yaml"))) {
        if deed.step == step {
            assert_eq!(asked(device, job).as_deref(), Some(step));
            return;
        }
        let (typed, bare, with, witness, photo) = match deed.what {
            What::Enter { typed, bare, with, witness, photo } => (typed, bare, with, witness, photo),
            What::Call(procedure) => {
                device.keeps(job, "call", &[("procedure", &procedure)]);
                continue;
            }
            What::Note(text) => {
                device.keeps(job, "note", &[("text", &text)]);
                continue;
            }
        };
        // Where one is needed, nothing else can be answered before.
        if let Some(photo) = photo {
            assert_eq!(device.photo(job, &std::fs::read(photo).unwrap()).status, 303);
        }
        let witness = witness.map(|who| ("witness".to_owned(), format!("{who}@here")));
        loop {
            let page = device.page(job);
            let mut fields: Vec<(String, String)> =
                typed.iter().map(|(name, value)| (format!("f.{name}"), value.clone())).collect();
            let only = between(&page, "name=\"f.", "\"").map(|name| format!("f.{name}"));
            fields.extend(only.zip(bare.clone()));
            fields.extend(with.iter().map(|(name, value)| (format!("w.{name}"), value.clone())));
            fields.extend(witness.clone());
            let rest = page.contains("name=\"rest\"") && deed.item.is_none();
            if rest {
                fields.push(("rest".to_owned(), "yes".to_owned()));
            }
            let fields: Vec<(&str, &str)> =
                fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
            let first = asks(&page);
            device.keeps(job, "enter", &fields);
            // An answer without an item stands for the whole pass.
            if rest || deed.item.is_some() || !same_pass(&first, &asks(&device.page(job))) {
                break;
            }
        }
    }
    panic!("`{step}` is never asked: {}", words(&device.page(job)));
}

/// The step that a page asks.
pub fn asked(device: &Device, job: &str) -> Option<String> {
    let asks = asks(&device.page(job));
    asks.split('[').next().filter(|step| !step.is_empty()).map(str::to_owned)
}

/// The whole address.
fn asks(page: &str) -> String {
    let now = page.split_once("class=\"now\"").map_or("", |(_, now)| now);
    between(now, "name=\"asks\" value=\"", "\"").unwrap_or_default().replace("&#x2f;", "/")
}
