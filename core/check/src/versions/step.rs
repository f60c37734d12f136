//! One step: its gate, who looks, what ends an entry, and what it asks.

use indexmap::IndexSet;

use super::condition::{self, Change};
use super::value::{same, short, shown};
use super::{Found, Version, Way};
use standpipe_procedure::WORDS;
use standpipe_yaml::Node;

/// Keys that ask something of whoever works, and what they ask.
const ASKED: &[(&str, &str)] = &[("witness", "a second person who looks"), ("evidence", "a photo")];

/// What follows when a gate is not met, the hardest first.
const OTHERWISE: &[&str] = &["stop", "next-round", "wait", "ask"];

/// The items of a list, or one text by itself.
fn items(node: &Node) -> Vec<String> {
    match node.as_list() {
        Some(items) => items.iter().map(shown).collect(),
        None => vec![shown(node)],
    }
}

impl Found<'_> {
    pub(super) fn step(&mut self, old: &Node, new: &Node, version: &Version) {
        let (was_kind, is_kind) = (kind(old), kind(new));
        if was_kind != is_kind {
            let what = format!("it was `{}` and is `{}`", was_kind.unwrap_or("nothing"), is_kind.unwrap_or("nothing"));
            self.add(Way::Open, what, Some(&old.head()), Some(&new.head()));
        }
        let keys = old.as_map().unwrap_or_default().iter().chain(new.as_map().unwrap_or_default());
        let mut done: Vec<&str> = vec!["id", "steps"];
        for (key, _) in keys {
            let key = key.as_str();
            if done.contains(&key) || was_kind != is_kind && (Some(key) == was_kind || Some(key) == is_kind) {
                continue;
            }
            done.push(key);
            self.key(key, old, new, version);
        }
    }

    /// A change of an overlay has the same keys, one by one.
    pub(super) fn every_key(&mut self, old: &Node, new: &Node, version: &Version) {
        let keys = old.as_map().unwrap_or_default().iter().chain(new.as_map().unwrap_or_default());
        let keys: IndexSet<&str> = keys.map(|(key, _)| key.as_str()).collect();
        keys.into_iter().for_each(|key| self.key(key, old, new, version));
    }

    fn key(&mut self, key: &str, old: &Node, new: &Node, version: &Version) {
        let (was, is) = (old.get(key), new.get(key));
        let places = (old.entry(key).map(|(key, _)| &key.place), new.entry(key).map(|(key, _)| &key.place));
        match (key, was, is) {
            ("gate", Some(was), Some(is)) => self.gate(was, is, version),
            ("gate", Some(was), None) => {
                self.add(Way::Easier, format!("the gate is taken away: {}", must(was)), places.0, None)
            }
            ("gate", None, Some(is)) => self.add(Way::Harder, format!("a gate is added: {}", must(is)), None, places.1),
            ("must", Some(was), Some(is)) => {
                let (before, after) = (shown_whole(was), shown_whole(is));
                let (way, word) = match condition::change(&before, &after, version) {
                    Change::Same => return,
                    Change::Loosened => (Way::Easier, "it asks for less"),
                    Change::Tightened => (Way::Harder, "it asks for more"),
                    Change::Other => (Way::Open, "it asks for something else"),
                };
                self.add(way, format!("{word}: {} -> {}", short(&before), short(&after)), places.0, places.1);
            }
            ("when", was, is) => self.when(was, is, version),
            ("keep", was, is) => {
                let kept = |of: Option<&Node>| of.and_then(Node::as_text) == Some("true");
                match (kept(was), kept(is)) {
                    (true, false) => self.add(Way::Easier, "overlays may now remove or loosen it", places.0, places.1),
                    (false, true) => {
                        self.add(Way::Harder, "overlays may no longer remove or loosen it", places.0, places.1)
                    }
                    _ => {}
                }
            }
            ("evidence", Some(was), Some(is)) if shown(was) != shown(is) => {
                let way = if shown(is) == "photo" { Way::Harder } else { Way::Easier };
                self.add(way, format!("`evidence` changed: {} -> {}", shown(was), shown(is)), places.0, places.1);
            }
            ("witness" | "evidence", Some(was), None) => {
                let what = asked(key);
                self.add(Way::Easier, format!("{what} is taken away: {}", shown(was)), places.0, None);
            }
            ("witness" | "evidence", None, Some(is)) => {
                let what = asked(key);
                self.add(Way::Harder, format!("{what} is added: {}", shown(is)), None, places.1);
            }
            ("stale" | "starts_over" | "caution" | "raises" | "undoes", was, is) => {
                let words = match key {
                    "stale" => "an entry ends with",
                    "caution" => "it shows the caution",
                    "starts_over" => "it starts over after",
                    "raises" => "it raises",
                    _ => "it undoes",
                };
                let empty = Node::text("");
                let (one, other) = (was.unwrap_or(&empty), is.unwrap_or(&empty));
                self.list(one, other, words, Way::Easier);
            }
            ("witness", Some(was), Some(is)) if shown(was) != shown(is) => {
                let what = format!("the second person looks at something else: {} -> {}", shown(was), shown(is));
                self.add(Way::Open, what, places.0, places.1);
            }
            ("repeat", Some(was), Some(is)) => self.repeat(was, is, version),
            (key, Some(was), Some(is)) => self.nodes(key, key, was, is),
            (key, Some(was), None) => self.gone_key(key, key, was, &old.head()),
            (key, None, Some(is)) => self.new_key(key, key, is, &new.head()),
            (_, None, None) => {}
        }
    }

    /// Lists of which each item asks for something; `gone` is the way that it goes when one is taken out.
    pub(super) fn list(&mut self, old: &Node, new: &Node, words: &str, gone: Way) {
        let came = if gone == Way::Easier { Way::Harder } else { Way::Easier };
        let (was, is) = (items(old), items(new));
        let place = |node: &Node| (!node.place.name().starts_with('<')).then(|| node.head());
        for item in was.iter().filter(|item| !item.is_empty() && !is.iter().any(|it| same(it, item, self.units))) {
            let what = format!("{words} `{item}` no longer");
            self.list.push(self.one(gone, what, place(old), place(new)));
        }
        for item in is.iter().filter(|item| !item.is_empty() && !was.iter().any(|it| same(it, item, self.units))) {
            let what = format!("{words} `{item}` now");
            self.list.push(self.one(came, what, place(old), place(new)));
        }
    }

    fn gate(&mut self, old: &Node, new: &Node, version: &Version) {
        let (was, is) = (must(old), must(new));
        let change = condition::change(&was, &is, version);
        let (way, word) = match change {
            Change::Same => (Way::Words, ""),
            Change::Loosened => (Way::Easier, "the gate is loosened"),
            Change::Tightened => (Way::Harder, "the gate is tightened"),
            Change::Other => (Way::Open, "the gate changed, and which of the two lets more through is not known"),
        };
        if change != Change::Same {
            self.add(way, format!("{word}: {} -> {}", short(&was), short(&is)), Some(&old.head()), Some(&new.head()));
        }
        let rank = |node: &Node| {
            let written = node.get("otherwise").map_or("stop".to_owned(), shown);
            let word = if written.contains("ask") { "ask".to_owned() } else { written.clone() };
            (OTHERWISE.iter().position(|known| *known == word), written)
        };
        let ((before, was), (after, is)) = (rank(old), rank(new));
        if was != is {
            let way = match before.cmp(&after) {
                std::cmp::Ordering::Less => Way::Easier,
                std::cmp::Ordering::Greater => Way::Harder,
                std::cmp::Ordering::Equal => Way::Open,
            };
            self.add(way, format!("where the gate is not met: {was} -> {is}"), Some(&old.head()), Some(&new.head()));
        }
        let share = |node: &Node| node.get("confidence").map(shown);
        if share(old) != share(new) {
            let number = |node| share(node).and_then(|text| text.trim_end_matches('%').trim().parse::<f64>().ok());
            let way = if number(old) > number(new) { Way::Easier } else { Way::Harder };
            let told = |node| share(node).unwrap_or_else(|| "none".to_owned());
            let what = format!("how sure the gate has to be: {} -> {}", told(old), told(new));
            self.add(way, what, Some(&old.head()), Some(&new.head()));
        }
        if let (Some(was), Some(is)) = (old.get("at_stake"), new.get("at_stake")) {
            self.nodes("why", "at_stake", was, is);
        }
    }

    /// A step that is done in fewer cases asks for less.
    fn when(&mut self, old: Option<&Node>, new: Option<&Node>, version: &Version) {
        let (was, is) = (old.map(shown_whole), new.map(shown_whole));
        let change = match (&was, &is) {
            (Some(was), Some(is)) => condition::change(was, is, version),
            (None, Some(_)) => Change::Tightened,
            (Some(_), None) => Change::Loosened,
            (None, None) => Change::Same,
        };
        let (way, word) = match change {
            Change::Same => return,
            Change::Loosened => (Way::Harder, "it is done in more cases"),
            Change::Tightened => (Way::Easier, "it is done in fewer cases"),
            Change::Other => (Way::Open, "it is done in other cases"),
        };
        let told = |text: &Option<String>| text.as_ref().map_or("always".to_owned(), |text| short(text));
        let what = format!("{word}: {} -> {}", told(&was), told(&is));
        let (was, is) = (old.map(Node::head), new.map(Node::head));
        self.add(way, what, was.as_ref(), is.as_ref());
    }

    fn repeat(&mut self, old: &Node, new: &Node, version: &Version) {
        let text = |node: &Node, key: &str| node.get(key).map(shown_whole).unwrap_or_default();
        let change = condition::change(&text(old, "until"), &text(new, "until"), version);
        let way = match change {
            Change::Same => Way::Words,
            Change::Loosened => Way::Easier,
            Change::Tightened => Way::Harder,
            Change::Other => Way::Open,
        };
        if change != Change::Same {
            let what = format!("it ends differently: {} -> {}", short(&text(old, "until")), short(&text(new, "until")));
            self.add(way, what, Some(&old.head()), Some(&new.head()));
        }
        for key in ["at_most", "otherwise"] {
            if let (Some(was), Some(is)) = (old.get(key), new.get(key)) {
                self.nodes(key, key, was, is);
            }
        }
    }

    fn one(
        &self,
        way: Way,
        what: String,
        was: Option<standpipe_diagnostic::source::Place>,
        is: Option<standpipe_diagnostic::source::Place>,
    ) -> super::Difference {
        super::Difference { way, of: self.of.clone(), what, was, is }
    }
}

fn asked(key: &str) -> &'static str {
    ASKED.iter().find(|(name, _)| *name == key).map_or("something", |(_, words)| words)
}

fn kind(step: &Node) -> Option<&str> {
    step.as_map()?.iter().map(|(key, _)| key.as_str()).find(|key| WORDS.contains(key))
}

fn must(gate: &Node) -> String {
    gate.get("must").map_or_else(|| shown_whole(gate), shown_whole)
}

fn shown_whole(node: &Node) -> String {
    node.as_text().map_or_else(|| shown(node), |text| text.split_whitespace().collect::<Vec<_>>().join(" "))
}
