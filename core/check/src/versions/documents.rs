//! Documents as a whole: which came, which went, and who looks at those that are in both versions.

use indexmap::IndexSet;

use super::value::short;
use super::{Found, Version, Way};
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_library::{Document, Kind};
use standpipe_yaml::{self as yaml, Node};
use std::sync::Arc;

pub(super) fn parsed(source: &Arc<Source>) -> Option<Node> {
    let mut problems = Problems::new();
    yaml::parse(source, &mut problems).filter(|_| !standpipe_diagnostic::has_errors(&problems))
}

impl Found<'_> {
    pub(super) fn document(&mut self, before: &Document, after: &Document, old: &Version, new: &Version) {
        match before.kind {
            Kind::Script => return self.script(before, after),
            Kind::Table => return self.table(before, after),
            _ => {}
        }
        let (Some(was), Some(is)) = (parsed(&before.source), parsed(&after.source)) else {
            return self.unread(before, after);
        };
        match before.kind {
            Kind::Procedure => self.procedure(&was, &is, new),
            Kind::Overlay => self.overlay(&was, &is, new),
            Kind::Family => match (old.stock.families.get(&before.id), new.stock.families.get(&after.id)) {
                (Some(before), Some(after)) => self.family(before, after),
                _ => self.unread(before, after),
            },
            _ => self.nodes("", "", &was, &is),
        }
    }

    fn unread(&mut self, before: &Document, after: &Document) {
        let what = "it can't be read in both versions, so what differs is not known";
        self.add(Way::Open, what, Some(&before.place()), Some(&after.place()));
    }

    pub(super) fn gone(&mut self, document: &Document) {
        let (way, what) = match document.kind {
            Kind::Case => (Way::Easier, "the worked example is taken away"),
            Kind::Overlay => (Way::Easier, "the overlay is taken away, with what it adds and tightens"),
            _ => (Way::Open, "it is gone"),
        };
        self.add(way, what, Some(&document.place()), None);
    }

    pub(super) fn came(&mut self, document: &Document) {
        let way = if document.kind == Kind::Case { Way::Harder } else { Way::Open };
        self.add(way, "it is new", None, Some(&document.place()));
    }

    pub(super) fn manifests(&mut self, old: &Version, new: &Version, plugins: &IndexSet<String>) {
        for id in plugins {
            let of = |version: &Version| version.parsed.library.plugins.get(id).map(|plugin| plugin.version.clone());
            self.of = format!("plugin {id}");
            match (of(old), of(new)) {
                (Some(was), Some(is)) if was != is => {
                    self.add(Way::Words, format!("version {was} -> {is}"), None, None)
                }
                (Some(_), None) => self.add(Way::Open, "the plugin is gone", None, None),
                (None, Some(_)) => self.add(Way::Open, "the plugin is new", None, None),
                _ => {}
            }
        }
    }

    /// Which functions say something else.
    fn script(&mut self, before: &Document, after: &Document) {
        let (was, is) = (functions(&before.source), functions(&after.source));
        for (name, text, place) in &was {
            match is.iter().find(|(other, ..)| other == name) {
                Some((_, other, _)) if other == text => {}
                Some((_, _, now)) => {
                    let what = format!("{name} works something out differently");
                    self.add(Way::Open, what, Some(place), Some(now));
                }
                None => self.add(Way::Open, format!("{name} is gone"), Some(place), None),
            }
        }
        for (name, _, place) in is.iter().filter(|(name, ..)| !was.iter().any(|(other, ..)| other == name)) {
            self.add(Way::Open, format!("{name} is new"), None, Some(place));
        }
    }

    fn overlay(&mut self, was: &Node, is: &Node, version: &Version) {
        let changes = |of: &'_ Node| -> Vec<Node> {
            of.get("changes").and_then(Node::as_list).map(<[Node]>::to_vec).unwrap_or_default()
        };
        let (before, after) = (changes(was), changes(is));
        for change in before.iter().filter(|change| !after.iter().any(|other| head(other) == head(change))) {
            // What it left out is done again.
            let way = if change.get("leave_out").is_some() { Way::Harder } else { Way::Easier };
            self.add(way, format!("the change is taken away: {}", head(change)), Some(&change.head()), None);
        }
        for change in &after {
            match before.iter().find(|other| head(other) == head(change)) {
                Some(other) => {
                    let path = head(change);
                    self.within(&path, |found| found.every_key(other, change, version));
                }
                None => {
                    let way = match change.get("leave_out").is_some() {
                        true => Way::Easier,
                        false
                            if ["tighten_gate", "add_evidence", "add"].iter().any(|key| change.get(key).is_some()) =>
                        {
                            Way::Harder
                        }
                        false => Way::Open,
                    };
                    self.add(way, format!("a change is new: {}", head(change)), None, Some(&change.head()));
                }
            }
        }
        for (key, value) in was.as_map().unwrap_or_default().iter().filter(|(key, _)| key.as_str() != "changes") {
            match is.entry(key) {
                Some((_, other)) => self.nodes(key, key, value, other),
                None => self.gone_key(key, key, value, &key.place),
            }
        }
    }
}

/// By what a change of an overlay is known.
fn head(change: &Node) -> String {
    match change.as_map().and_then(|entries| entries.first()) {
        Some((key, value)) => match value.as_text() {
            Some(text) => format!("{} {text}", key.value),
            None => key.value.clone(),
        },
        None => short(change.place.text()),
    }
}

/// Every function of a script: its name, its text without comments and idle spaces, its place.
fn functions(source: &Arc<Source>) -> Vec<(String, String, Place)> {
    let text = &source.text;
    let starts: Vec<usize> = text.match_indices("fn ").map(|(at, _)| at).filter(|at| begins_line(text, *at)).collect();
    let mut all = Vec::new();
    for (index, start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(text.len());
        let name = text[start + 3..].split('(').next().unwrap_or_default().trim();
        let code: Vec<&str> =
            text[*start..end].lines().map(|line| line.split("//").next().unwrap_or_default()).collect();
        let code = code.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
        // What lies between two functions belongs to the later one, or is a comment.
        let code = code.strip_suffix("private").unwrap_or(&code).trim().to_owned();
        all.push((format!("`{name}`"), code, Place::new(source, *start..start + 3 + name.len())));
    }
    let before = starts.first().copied().unwrap_or(text.len());
    let code: Vec<&str> = text[..before].lines().map(|line| line.split("//").next().unwrap_or_default()).collect();
    all.push((
        "what stands above the functions".to_owned(),
        code.join(" ").trim().to_owned(),
        Place::new(source, 0..0),
    ));
    all
}

fn begins_line(text: &str, at: usize) -> bool {
    let line = &text[text[..at].rfind('\n').map_or(0, |newline| newline + 1)..at];
    line.trim().is_empty() || line.trim() == "private"
}
