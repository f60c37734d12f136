//! Values of a family that an overlay sets.

use std::sync::Arc;

use super::{Action, Overlay};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::{Family, Form, Origin, SourceNote, written_values};
use standpipe_procedure::{Changed, Mark};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;

/// One value that was set, and what it was before.
#[derive(Clone, Debug)]
pub struct SetValue {
    pub path: String,
    pub value: Value,
    /// In this variant alone.
    pub variant: Option<String>,
    pub mark: Mark,
    pub source: String,
    /// What the family has, with the place where it says so.
    pub before: Vec<(Value, Option<Place>)>,
}

impl Overlay {
    /// Sets its values if they are for this family. What was set comes back, for a check of what it loosens.
    pub fn set_values(
        &self,
        form: &Form,
        family: &mut Family,
        units: &Units,
        problems: &mut Problems,
    ) -> Vec<SetValue> {
        let mut set = Vec::new();
        for change in &self.changes {
            let Action::Set { family: of, variant, values, source } = &change.action else { continue };
            if of.value != family.id {
                continue;
            }
            if let Some(variant) = variant
                && !family.variants.contains_key(variant.as_str())
            {
                let known = family.variants.keys().map(String::as_str);
                let message = format!("`{}` has no variant `{}`", family.id, variant.value);
                let problem = Diagnostic::error(Code::UnknownReference, &variant.place, message)
                    .expected(known.clone().collect::<Vec<_>>().join(", "));
                problems.push(problem.nearest(variant, known, "leave `variant:` out to set the values in all of them"));
                continue;
            }
            let note = Arc::new(SourceNote {
                from: source.value.clone(),
                entered_by: None,
                checked_by: None,
                place: source.place.clone(),
            });
            let variant = variant.as_ref().map(|variant| variant.as_str());
            let (written, tables) = written_values(form, units, values, problems);
            for table in tables {
                family.tables.push(table);
            }
            for given in written {
                let before = before(family, &given.path, variant);
                if variant.is_none() && family.unsettled.differs_by_variant(&given.path) {
                    let message = format!("`{}` differs between the variants of `{}`", given.path, family.id);
                    let mut problem = Diagnostic::error(Code::UnfitChange, &given.place, message)
                        .help("say for which one: `variant: ID` beside `family:`");
                    for (_, place) in &before {
                        if let Some(place) = place {
                            problem = problem.also(place, "one of them");
                        }
                    }
                    problems.push(problem);
                    continue;
                }
                let origin = Origin {
                    place: given.place.clone(),
                    written: given.written,
                    source: Some(note.clone()),
                    overrides: Vec::new(),
                };
                family.set(&given.path, &given.value, &origin, variant);
                set.push(SetValue {
                    path: given.path,
                    value: given.value,
                    variant: variant.map(str::to_owned),
                    mark: Mark {
                        overlay: self.id.clone(),
                        what: Changed::Value,
                        because: Some(source.value.clone()),
                        place: given.place,
                    },
                    source: source.value.clone(),
                    before,
                });
            }
        }
        set
    }
}

/// What the family says now, in the variants that are concerned.
fn before(family: &Family, path: &str, variant: Option<&str>) -> Vec<(Value, Option<Place>)> {
    let concerned = family.variants.values().filter(|other| variant.is_none_or(|id| id == other.id));
    let mut facts: Vec<_> = concerned.map(|variant| &variant.facts).collect();
    if facts.is_empty() {
        facts.push(&family.unsettled);
    }
    let mut before: Vec<(Value, Option<Place>)> = Vec::new();
    for facts in facts {
        let value = facts.value(path).cloned().unwrap_or(Value::Unknown);
        if !before.iter().any(|(known, _)| *known == value) {
            before.push((value, facts.origin(path).map(|origin| origin.place.clone())));
        }
    }
    before
}
