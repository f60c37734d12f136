//! A job of the examples by plain forms, up to a step that a test wants to look at.

use std::path::Path;

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
        let What::Enter { typed, bare, with, witness, photo } = deed.what else {
            panic!("{deed:?} is no entry");
        };
        // Where one is needed, nothing else can be answered before.
        if let Some(photo) = photo {
            assert_eq!(device.photo(job, &std::fs::read(photo).unwrap()).status, 303);
        }
        let page = device.page(job);
        let mut fields: Vec<(String, String)> =
            typed.into_iter().map(|(name, value)| (format!("f.{name}"), value)).collect();
        let only = between(&page, "name=\"f.", "\"").map(|name| format!("f.{name}"));
        fields.extend(only.zip(bare));
        fields.extend(with.into_iter().map(|(name, value)| (format!("w.{name}"), value)));
        fields.extend(witness.map(|who| ("witness".to_owned(), format!("{who}@here"))));
        if page.contains("name=\"rest\"") && deed.item.is_none() {
            fields.push(("rest".to_owned(), "yes".to_owned()));
        }
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        device.keeps(job, "enter", &fields);
    }
    panic!("`{step}` is never asked: {}", words(&device.page(job)));
}

/// The step that a page asks.
pub fn asked(device: &Device, job: &str) -> Option<String> {
    let page = device.page(job);
    let (_, now) = page.split_once("class=\"now\"")?;
    let asks = between(now, "name=\"asks\" value=\"", "\"")?;
    Some(asks.split('[').next().unwrap_or(asks).to_owned())
}
