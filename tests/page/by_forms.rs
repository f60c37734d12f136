//! A job of the examples by plain forms, up to a step that a test wants to look at.

use std::path::Path;
use std::time::{Duration, Instant};

use crate::form::{Device, between, words};
use crate::walk::{Deed, What, deeds};

/// Answers as the examples do until a step is asked, with whoever looks looking here. Panics where it never is.
pub fn walk_to(device: &Device, job: &str, answers: &str, step: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for deed in deeds(&root.join(format!("examples/answers/{answers}.yaml"))) {
        if deed.step == step {
            assert_eq!(asked(device, job).as_deref(), Some(step));
            return;
        }
        while !answer(device, job, &deed).0 {}
    }
    panic!("`{step}` is never asked: {}", words(&device.page(job)));
}

/// Does one thing, of a pass one item where it can't be answered as a whole. True once all of it is done; and how long the
/// server took to keep it.
pub fn answer(device: &Device, job: &str, deed: &Deed) -> (bool, Duration) {
    let keep = |page: &str, what: &str, fields: &[(&str, &str)]| {
        let begun = Instant::now();
        let kept = device.say_on(page, job, what, fields);
        let took = begun.elapsed();
        assert_eq!(kept.status, 303, "{what} {fields:?}: {}", words(&kept.text));
        took
    };
    let mut page = device.page(job);
    let (typed, bare, with, witness, photo) = match &deed.what {
        What::Enter { typed, bare, with, witness, photo } => (typed, bare, with, witness, photo),
        What::Call(procedure) => return (true, keep(&page, "call", &[("procedure", procedure)])),
        What::Note(text) => return (true, keep(&page, "note", &[("text", text)])),
    };
    // Where one is needed, nothing else can be answered before.
    if let Some(photo) = photo {
        assert_eq!(device.photo(job, &std::fs::read(photo).unwrap()).status, 303);
        page = device.page(job);
    }
    let mut fields: Vec<(String, String)> =
        typed.iter().map(|(name, value)| (format!("f.{name}"), value.clone())).collect();
    let only = between(&page, "name=\"f.", "\"").map(|name| format!("f.{name}"));
    fields.extend(only.zip(bare.clone()));
    // What the shop file has of a scale is taken as it is.
    if let Some((_, id)) = with.first().filter(|_| page.contains("name=\"scale\"")) {
        fields = vec![("scale".to_owned(), id.clone())];
    }
    fields.extend(with.iter().map(|(name, value)| (format!("w.{name}"), value.clone())));
    fields.extend(witness.as_ref().map(|who| ("witness".to_owned(), format!("{who}@here"))));
    let rest = page.contains("name=\"rest\"") && deed.item.is_none();
    if rest {
        fields.push(("rest".to_owned(), "yes".to_owned()));
    }
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let took = keep(&page, "enter", &fields);
    // An answer without an item stands for the whole pass.
    let whole = rest || deed.item.is_some() || !same_pass(&asks(&page), &asks(&device.page(job)));
    (whole, took)
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

/// Whether two addresses are items of one pass.
pub fn same_pass(first: &str, now: &str) -> bool {
    let pass = |asks: &str| {
        let (step, item) = asks.strip_suffix(']')?.rsplit_once('[')?;
        step.contains('[').then(|| (step.to_owned(), item.rsplit_once('/').map(|(pass, _)| pass.to_owned())))
    };
    pass(first).is_some_and(|pass_of| pass(now) == Some(pass_of))
}
