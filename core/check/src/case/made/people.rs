//! Everybody under another name, each always under the same.

use std::sync::Arc;

use indexmap::IndexMap;

use super::written::{quoted, scalar};
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Source;
use standpipe_job::plan::Plan;
use standpipe_job::{Event, Record, Witness};
use standpipe_yaml::{self as yaml, Node, Style};

pub struct People {
    /// New ids by old ones.
    ids: IndexMap<String, String>,
    /// New ids by the names that the shop calls them.
    names: IndexMap<String, String>,
}

/// Of the shop file, what a case has no use for: plugins are those that are in force when it runs.
const NOT_KEPT: [&str; 5] = ["shop", "title", "people", "plugins", "journals"];

impl People {
    pub fn of(plan: &Plan, records: &[Record]) -> Self {
        let mut people = Self { ids: IndexMap::new(), names: IndexMap::new() };
        for (id, person) in &plan.shop.people {
            let role = person.roles.first().map_or("person", String::as_str);
            let new = people.add(id, role);
            people.names.insert(person.name.clone(), new);
        }
        for record in records {
            if !record.by.is_empty() {
                people.add(&record.by, "person");
            }
            if let Event::Entered { witness: Some(Witness::By(by)), .. } = &record.event {
                people.add(by, "person");
            }
        }
        people
    }

    fn add(&mut self, id: &str, role: &str) -> String {
        if let Some(known) = self.ids.get(id) {
            return known.clone();
        }
        let number = self.ids.values().filter(|known| known.starts_with(&format!("{role}-"))).count() + 1;
        let new = format!("{role}-{number}");
        self.ids.insert(id.to_owned(), new.clone());
        new
    }

    /// Somebody the shop does not know was somebody else.
    pub fn id(&self, written: &str) -> String {
        let known = self.ids.get(written).or_else(|| self.names.get(written));
        known.cloned().unwrap_or_else(|| "somebody-else".to_owned())
    }

    /// The shop file with other names.
    pub fn shop(&self, id: &str, source: &Arc<Source>) -> String {
        let mut text = format!("# Keys: standpipe schema shop\nshop: {id}\n");
        let root = yaml::parse(source, &mut Problems::new());
        for (key, value) in root.as_ref().and_then(Node::as_map).unwrap_or_default() {
            if key.value == "people" {
                text.push_str("people:\n");
                for (person, said) in value.as_map().unwrap_or_default() {
                    let id = self.id(person);
                    let roles = said.get("roles").map_or_else(|| "[]".to_owned(), flow);
                    text.push_str(&format!("  {id}: {{ name: {}, roles: {roles} }}\n", id.replace('-', " ")));
                }
            }
            if NOT_KEPT.contains(&key.as_str()) {
                continue;
            }
            match value.as_map() {
                Some(entries) if !entries.is_empty() => {
                    text.push_str(&format!("{}:\n", scalar(key)));
                    for (name, value) in entries {
                        text.push_str(&format!("  {}: {}\n", scalar(name), flow(value)));
                    }
                }
                _ => text.push_str(&format!("{}: {}\n", scalar(key), flow(value))),
            }
        }
        text
    }
}

/// In one line; what was in quotes stays a text.
fn flow(node: &Node) -> String {
    if let Some(entries) = node.as_map() {
        let entries: Vec<String> =
            entries.iter().map(|(key, value)| format!("{}: {}", scalar(key), flow(value))).collect();
        return format!("{{ {} }}", entries.join(", "));
    }
    if let Some(items) = node.as_list() {
        return format!("[{}]", items.iter().map(flow).collect::<Vec<_>>().join(", "));
    }
    match node.as_scalar() {
        // A number with its sign, a range from below zero.
        Some(plain) if plain.style == Style::Plain && !plain.text.contains([',', '[', ']', '{', '}', '"', '\'']) => {
            plain.text.clone()
        }
        Some(other) => quoted(&other.text),
        None => "{}".to_owned(),
    }
}
