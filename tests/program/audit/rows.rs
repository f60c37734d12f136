//! Readings that claim to come from rows, forged: the claim without the rows, and the rows without the claim.

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::audit::bench::{audit, example, forge, point};
use crate::folders::copy;

/// What becomes of an entry, and what the readings of the job come to then.
type Change = (&'static str, fn(&mut Json));

/// Changes the entries that took values from a log, in a copy of one job for each change.
fn forged(changes: &[Change]) -> Vec<Json> {
    let temp = TempDir::new().unwrap();
    let sound = temp.path().join("sound");
    example("plover-pickup", &sound);
    let variants = temp.path().join("variants");
    for (index, (_, change)) in changes.iter().enumerate() {
        let into = variants.join(format!("{index:02}"));
        copy(&sound, &into);
        forge(&into, |_, line| {
            let mut event: Json = serde_json::from_str(&format!("{line}}}")).unwrap();
            if event["event"] == "entered" && event["read"]["values"].is_object() {
                change(&mut event);
            }
            let text = event.to_string();
            text[..text.len() - 1].to_owned()
        });
    }
    audit(&variants, &[]).1
}

fn each_value(event: &mut Json, change: impl Fn(&mut Json)) {
    event["read"]["values"].as_object_mut().unwrap().values_mut().for_each(change);
}

fn without(event: &mut Json, key: &str) {
    event.as_object_mut().unwrap().remove(key);
}

#[test]
fn a_claim_without_rows_is_not_shown_and_rows_that_say_otherwise_refute_it() {
    let changes: &[Change] = &[
        ("holds", |_| {}),
        ("not shown", |event| without(event, "read")),
        ("not shown", |event| {
            without(event, "read");
            event["origin"] = "answers".into();
        }),
        ("not shown", |event| without(&mut event["read"], "values")),
        ("not shown", |event| each_value(event, |taken| without(taken, "row"))),
        ("not shown", |event| without(&mut event["read"], "zero")),
        ("does not hold", |event| event["read"]["zero"] = "2026-11-24T00:01:00+00:00".into()),
        ("does not hold", |event| each_value(event, |taken| taken["row"] = 1.0.into())),
        ("does not hold", |event| event["origin"] = "answers".into()),
        ("does not hold", |event| event["origin"] = "typed".into()),
    ];
    let journals = forged(changes);
    assert_eq!(journals.len(), changes.len());
    for (index, (journal, (verdict, _))) in journals.iter().zip(changes).enumerate() {
        assert_eq!(point(journal, "chain of hashes")["verdict"], "holds", "{index}: {journal}");
        assert_eq!(point(journal, "readings")["verdict"], *verdict, "{index}: {}", point(journal, "readings"));
    }
}
