//! A procedure: which steps came, went or moved, and what binds beside them.

use indexmap::IndexMap;

use super::documents::parsed;
use super::value::shown;
use super::{Found, Version, Way};
use standpipe_library::Document;
use standpipe_yaml::Node;

/// A step as written, with the id of the one around it.
struct Written<'a> {
    id: &'a str,
    around: &'a str,
    node: &'a Node,
}

fn steps<'a>(of: &'a Node, around: &'a str, all: &mut Vec<Written<'a>>) {
    for node in of.get("steps").and_then(Node::as_list).unwrap_or_default() {
        let id = node.get("id").and_then(Node::as_text).unwrap_or_default();
        all.push(Written { id, around, node });
        steps(node, id, all);
    }
}

/// Steps of all procedures, by procedure and id.
pub(super) type Steps = IndexMap<(String, String), Node>;

pub(super) fn all_steps(documents: &[&Document]) -> Steps {
    let mut all = Steps::new();
    for document in documents {
        let Some(node) = parsed(&document.source) else { continue };
        let mut written = Vec::new();
        steps(&node, "", &mut written);
        all.extend(written.iter().map(|one| ((document.id.clone(), one.id.to_owned()), one.node.clone())));
    }
    all
}

/// Where else a step of this id is, in a procedure that has none in the other version.
fn elsewhere<'a>(id: &str, own: &str, of: &'a Steps, other: &Steps) -> Option<(&'a str, &'a Node)> {
    let is_new = |procedure: &String| !other.contains_key(&(procedure.clone(), id.to_owned()));
    let mut found = of.iter().filter(|((procedure, step), _)| step == id && procedure != own && is_new(procedure));
    found.next().map(|((procedure, _), node)| (procedure.as_str(), node))
}

/// Keys that ask something of whoever works.
const ASKED: &[&str] = &["gate", "witness", "evidence", "keep", "sign", "await", "hold", "caution"];

/// Whether a step, or one inside it, has to be met, seen or waited for.
fn binds(node: &Node) -> bool {
    ASKED.iter().any(|key| node.get(key).is_some())
        || node.get("steps").and_then(Node::as_list).is_some_and(|inner| inner.iter().any(binds))
}

impl Found<'_> {
    pub(super) fn procedure(&mut self, old: &Node, new: &Node, version: &Version) {
        let (mut before, mut after) = (Vec::new(), Vec::new());
        steps(old, "", &mut before);
        steps(new, "", &mut after);
        let has = |of: &[Written<'_>], id: &str| of.iter().any(|one| one.id == id);
        let own = new.get("procedure").and_then(Node::as_text).unwrap_or_default().to_owned();
        for one in before.iter().filter(|one| !has(&after, one.id)) {
            if let Some((there, other)) = elsewhere(one.id, &own, &self.after, &self.before) {
                let (what, other) = (format!("the step `{}` is moved into `{there}`", one.id), other.clone());
                self.add(Way::Open, what, Some(&one.node.head()), Some(&other.head()));
                self.within(&format!("step {}", one.id), |found| found.step(one.node, &other, version));
                continue;
            }
            // What is inside went with it.
            if one.around.is_empty() || has(&after, one.around) {
                let way = if binds(one.node) { Way::Easier } else { Way::Open };
                self.add(way, format!("the step `{}` is dropped", one.id), Some(&one.node.head()), None);
            }
        }
        for one in after.iter().filter(|one| !has(&before, one.id)) {
            if elsewhere(one.id, &own, &self.before, &self.after).is_some() {
                continue;
            }
            if one.around.is_empty() || has(&before, one.around) {
                let way = if binds(one.node) { Way::Harder } else { Way::Open };
                self.add(way, format!("the step `{}` is added", one.id), None, Some(&one.node.head()));
            }
        }
        self.moved(&before, &after);
        for one in &before {
            if let Some(other) = after.iter().find(|other| other.id == one.id) {
                self.within(&format!("step {}", one.id), |found| found.step(one.node, other.node, version));
            }
        }
        for (key, value) in old.as_map().unwrap_or_default().iter().filter(|(key, _)| key.as_str() != "steps") {
            match (key.as_str(), new.entry(key)) {
                // What somebody may accept, a gate does not stop.
                ("may_accept", Some((_, other))) => self.list(value, other, "may accept what turned bad", Way::Harder),
                ("reachable", Some((_, other))) => self.list(value, other, "at any step", Way::Easier),
                ("points", Some((_, other))) => {
                    for (name, point) in value.as_map().unwrap_or_default() {
                        if other.get(name).is_none() {
                            let what = format!("audits no longer ask: `{}`", name.value);
                            self.add(Way::Easier, what, Some(&point.head()), None);
                        }
                    }
                    self.nodes(key, key, value, other);
                }
                (_, Some((_, other))) => self.nodes(key, key, value, other),
                ("points" | "cautions" | "on_pause" | "on_resume" | "abandon_when", None) => {
                    self.add(Way::Easier, format!("`{}` is gone: {}", key.value, shown(value)), Some(&key.place), None);
                }
                (_, None) => self.gone_key(key, key, value, &key.place),
            }
        }
        for (key, value) in new.as_map().unwrap_or_default().iter().filter(|(key, _)| old.entry(key).is_none()) {
            match key.as_str() {
                "may_accept" => self.add(
                    Way::Easier,
                    format!("may accept what turned bad: {}", shown(value)),
                    None,
                    Some(&key.place),
                ),
                _ => self.new_key(key, key, value, &key.place),
            }
        }
    }

    /// Steps of which the order changed, as few as will do.
    fn moved(&mut self, before: &[Written<'_>], after: &[Written<'_>]) {
        let old: Vec<&Written<'_>> = before.iter().filter(|one| after.iter().any(|it| it.id == one.id)).collect();
        let at = |id: &str| after.iter().position(|one| one.id == id).unwrap_or_default();
        // The longest run that kept its order; all others moved.
        let mut best: Vec<Vec<usize>> = Vec::new();
        for index in 0..old.len() {
            let longest =
                (0..index).filter(|earlier| at(old[*earlier].id) < at(old[index].id)).max_by_key(|it| best[*it].len());
            let mut run = longest.map(|earlier| best[earlier].clone()).unwrap_or_default();
            run.push(index);
            best.push(run);
        }
        let kept = best.into_iter().max_by_key(Vec::len).unwrap_or_default();
        for (index, one) in old.iter().enumerate() {
            let Some(other) = after.iter().find(|other| other.id == one.id) else { continue };
            let around = one.around != other.around;
            if around || !kept.contains(&index) {
                let before_it =
                    after[..at(one.id)].last().map_or("to the beginning".to_owned(), |it| format!("after `{}`", it.id));
                let what = format!("the step `{}` is moved {before_it}", one.id);
                self.add(Way::Open, what, Some(&one.node.head()), Some(&other.node.head()));
            }
        }
    }
}
