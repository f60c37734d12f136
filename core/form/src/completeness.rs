//! Whether a family says all that its form wants of it, and on whose authority.

use indexmap::IndexMap;

use super::field::Field;
use super::filling::{Filled, missing};
use super::sign::SignValue;
use super::source_note::{SourceNotes, is_within};
use super::variant::Variant;
use super::{Form, is_group, lookup, snake};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::Kind;
use standpipe_yaml::Node;

pub(super) fn report_missing(
    form: &Form,
    base: &Filled,
    variants: &IndexMap<String, (Variant, Filled)>,
    root: &Node,
    problems: &mut Problems,
) {
    let misspelt = misspelt(problems);
    let help = |path: &str, field: &Field| {
        format!("add `{path}`, {} ({}), or write `unknown`", field.expected(), field.question())
    };
    for (path, field) in missing(form, &form.fields, base) {
        let lacking: Vec<&Variant> =
            variants.values().filter(|(_, filled)| !filled.contains_key(&path)).map(|(variant, _)| variant).collect();
        if is_meant(&path, &misspelt) {
            continue;
        }
        if lacking.len() == variants.len() {
            problems.push(
                Diagnostic::error(Code::MissingField, &group_place(root, &path), format!("`{path}` is missing"))
                    .absent()
                    .help(help(&path, field)),
            );
        } else {
            for variant in lacking {
                let message = format!("`{path}` is missing in the variant `{}`", variant.id);
                let problem = Diagnostic::error(Code::MissingField, &variant.place, message);
                problems.push(problem.absent().help(help(&path, field)));
            }
        }
    }
    for (variant, filled) in variants.values() {
        for (path, field) in missing(form, &form.fields, filled) {
            // A record that only the variant has.
            let outer = path.rsplit_once('.').map_or("", |(outer, _)| outer);
            if matches!(lookup(&form.fields, outer).map(|f| &f.kind), Some(Kind::Record(_)))
                && !base.keys().any(|key| is_within(key, outer))
            {
                let message = format!("`{path}` is missing in the variant `{}`", variant.id);
                let problem = Diagnostic::error(Code::MissingField, &variant.place, message);
                problems.push(problem.absent().help(help(&path, field)));
            }
        }
    }
}

/// What unknown keys of this document were most likely meant to be: they are not missing as well.
pub(super) fn misspelt(problems: &[Diagnostic]) -> Vec<String> {
    let unknown = problems.iter().filter(|problem| problem.code == Code::UnknownField);
    unknown.filter_map(|problem| problem.meant.clone()).collect()
}

/// Whether one of the names is a field, or a part of its path.
pub(super) fn is_meant(path: &str, names: &[String]) -> bool {
    names.iter().any(|name| name == path || path.split('.').any(|part| part == name))
}

/// The key that a field would stand under, where that is written; else the head of the document.
pub(super) fn group_place(root: &Node, path: &str) -> Place {
    let entries = root.as_map().unwrap_or_default();
    let group = path.split_once('.').map_or("", |(group, _)| group);
    entries.iter().find(|(key, _)| snake(key) == group).map_or_else(|| root.head(), |(key, _)| key.place.clone())
}

/// One message for each group of fields, at the first value that nobody vouches for.
pub(super) fn report_without_source(
    base: &Filled,
    variants: &IndexMap<String, (Variant, Filled)>,
    notes: &SourceNotes,
    root: &Node,
    problems: &mut Problems,
) {
    // A source that covers something else by a slip covers nothing: that has been said.
    if problems.iter().any(|problem| problem.message.ends_with(COVERED)) {
        return;
    }
    let mut groups: IndexMap<String, Vec<(String, Place)>> = IndexMap::new();
    let of_variants =
        variants.values().flat_map(|(_, filled)| filled.iter().filter(|(_, given)| given.variant.is_some()));
    for (path, given) in base.iter().chain(of_variants) {
        if !given.value.is_unknown() && notes.of(path, given.variant.as_deref()).is_none() {
            let group = path.split('.').next().unwrap_or(path).to_string();
            groups.entry(group).or_default().push((path.clone(), given.place.clone()));
        }
    }
    if root.get("sources").is_none() && !groups.is_empty() {
        problems.push(
            Diagnostic::error(Code::MissingSource, &root.head(), "no value has a source: there are no `sources:`").help(
                "say where the values are from: `sources: [{ covers: all, from: ..., entered_by: ..., checked_by: ... }]`",
            ),
        );
        return;
    }
    for (group, found) in groups {
        let Some((path, place)) = found.first() else { continue };
        let message = match found.len() {
            1 => format!("`{path}` has no source"),
            more => format!("`{path}` and {} more of `{group}` have no source", more - 1),
        };
        problems.push(
            Diagnostic::error(Code::MissingSource, place, message).help(format!(
                "say where it is from: `sources: [{{ covers: [{group}], from: ..., entered_by: ... }}]`"
            )),
        );
    }
}

const COVERED: &str = "that a source could cover";

pub(super) fn report_covers(form: &Form, notes: &SourceNotes, problems: &mut Problems) {
    for covered in notes.covered() {
        let path = match covered.strip_prefix("variants.") {
            Some(rest) => match rest.split_once('.') {
                Some((_, path)) => path,
                None => continue,
            },
            None => covered.as_str(),
        };
        if path == "variants" || form.field(path).is_some() || is_group(&form.fields, path) {
            continue;
        }
        let groups = form.fields.keys().filter_map(|field| field.split('.').next());
        let known = form.fields.keys().map(String::as_str).chain(groups).chain(["all"]);
        let message = format!("the form `{}` has no field `{path}` {COVERED}", form.id);
        let problem = Diagnostic::error(Code::UnknownField, &covered.place, message);
        problems.push(problem.nearest(path, known, "name a field, a group of fields, or `all`"));
    }
}

pub(super) fn report_alike(variants: &IndexMap<String, (Variant, Filled)>, problems: &mut Problems) {
    for (index, (variant, _)) in variants.values().enumerate() {
        for (other, _) in variants.values().take(index) {
            if variant.signs.is_empty() || other.signs.is_empty() {
                continue;
            }
            let apart = |(name, sign): (&String, &SignValue)| {
                other.signs.get(name).is_some_and(|theirs| !sign.overlaps(theirs))
            };
            if !variant.signs.iter().any(apart) {
                let message = format!("the same thing could be `{}` and `{}`", other.id, variant.id);
                problems.push(
                    Diagnostic::error(Code::VariantWithoutSign, &variant.place, message)
                        .also(&other.place, "nothing seen here rules out the other")
                        .help("give both a value of the same sign, and not the same value"),
                );
            }
        }
    }
}
