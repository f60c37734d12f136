//! Values of keys: the same in other words, another figure, a limit that takes more or less.

use super::{Found, Way};
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_yaml::Node;
use std::cmp::Ordering;

/// A value as its two ends; those of a single one are alike.
fn ends(text: &str, units: &Units) -> Option<(Quantity, Quantity)> {
    match units.read(text, None, None).or_else(|_| units.read_range(text, None, None)).ok()? {
        Value::Number(number) => Some((Quantity::number(number), Quantity::number(number))),
        Value::Quantity(one) => Some((one.clone(), one)),
        Value::Range(low, high) => Some((low, high)),
        _ => None,
    }
}

/// Two texts that say the same: but for spaces, or the same quantity in another unit.
pub(super) fn same(old: &str, new: &str, units: &Units) -> bool {
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let equal = |one: &Quantity, other: &Quantity| units.compare(one, other).is_ok_and(Ordering::is_eq);
    match (ends(old, units), ends(new, units)) {
        _ if words(old) == words(new) => true,
        (Some((low, high)), Some((new_low, new_high))) => equal(&low, &new_low) && equal(&high, &new_high),
        _ => false,
    }
}

/// Whether a limit takes more than before: `None` where that can't be told.
fn takes_more(key: &str, old: &str, new: &str, units: &Units) -> Option<bool> {
    let ((low, high), (new_low, new_high)) = (ends(old, units)?, ends(new, units)?);
    let (low, high) = (units.compare(&new_low, &low).ok()?, units.compare(&new_high, &high).ok()?);
    match key {
        "at_least" => Some(low.is_lt()),
        "at_most" | "tolerance" | "stale_after" => Some(high.is_gt()),
        "plausible" | "valid" | "within" if low.is_le() && high.is_ge() => Some(true),
        "plausible" | "valid" | "within" if low.is_ge() && high.is_le() => Some(false),
        // What has to last is easier when it lasts less long.
        "for" => Some(high.is_lt()),
        _ => None,
    }
}

/// Keys that bound what is taken, and so loosen when they go.
const BOUNDS: &[&str] =
    &["at_least", "at_most", "plausible", "valid", "instrument", "other_than", "required", "within", "of"];

/// Keys that are only words.
const WORDS: &[&str] = &[
    "title",
    "why",
    "show",
    "do",
    "text",
    "ask",
    "help",
    "label",
    "name",
    "note",
    "notes",
    "because",
    "source",
    "sources",
    "from",
    "entered_by",
    "checked_by",
    "intro",
    "heading",
    "card",
    "record",
    "pictures",
    "learned",
    "proposes",
    "tag",
    "description",
    "lines",
];

fn plain(node: &Node) -> String {
    match (node.as_text(), node.as_list(), node.as_map()) {
        (Some(text), ..) => text.split_whitespace().collect::<Vec<_>>().join(" "),
        (_, Some(items), _) => format!("[{}]", items.iter().map(plain).collect::<Vec<_>>().join(", ")),
        (_, _, Some(entries)) => {
            let told = entries.iter().map(|(key, value)| format!("{}: {}", key.value, plain(value)));
            format!("{{ {} }}", told.collect::<Vec<_>>().join(", "))
        }
        _ => String::new(),
    }
}

/// As it stands there, short enough for a line.
pub(super) fn shown(node: &Node) -> String {
    short(&plain(node))
}

pub(super) fn short(text: &str) -> String {
    match text.char_indices().nth(90) {
        Some((cut, _)) => format!("{}...", &text[..cut]),
        None => text.to_owned(),
    }
}

/// By what an item of a list is known: its id, or the first thing that it says.
fn name(node: &Node) -> String {
    let of = |key: &str| node.get(key).and_then(Node::as_text).map(str::to_owned);
    let known = ["id", "as", "variant", "sheet", "step"].iter().find_map(|key| of(key));
    known.unwrap_or_else(|| match node.as_map().and_then(|entries| entries.first()) {
        Some((key, value)) => format!("{} {}", key.value, plain(value)),
        None => plain(node),
    })
}

impl Found<'_> {
    /// What differs between two values of a key, down to the single texts.
    pub(super) fn nodes(&mut self, key: &str, path: &str, old: &Node, new: &Node) {
        if let (Some(before), Some(after)) = (old.as_map(), new.as_map()) {
            for (name, value) in before {
                match new.entry(name) {
                    Some((_, other)) => self.nodes(name, &join(path, name), value, other),
                    None => self.gone_key(name, &join(path, name), value, &name.place),
                }
            }
            for (name, value) in after.iter().filter(|(name, _)| old.entry(name).is_none()) {
                self.new_key(name, &join(path, name), value, &name.place);
            }
        } else if let (Some(before), Some(after)) = (old.as_list(), new.as_list()) {
            for item in before {
                match after.iter().find(|other| name(other) == name(item)) {
                    Some(other) if item.as_map().is_some() => self.nodes(key, &join(path, &name(item)), item, other),
                    Some(_) => {}
                    None if item.as_text().is_none() => self.gone_key(key, path, item, &item.head()),
                    None => {}
                }
            }
            let apart = |of: &[Node], other: &[Node]| -> Vec<Node> {
                of.iter().filter(|item| !other.iter().any(|it| name(it) == name(item))).cloned().collect()
            };
            for item in apart(after, before).iter().filter(|item| item.as_text().is_none()) {
                self.new_key(key, path, item, &item.head());
            }
            // Plain texts are told together.
            let texts = |of: &[Node]| of.iter().filter_map(Node::as_text).collect::<Vec<_>>().join(", ");
            let (gone, came) = (texts(&apart(before, after)), texts(&apart(after, before)));
            if !gone.is_empty() {
                self.gone_key(key, path, &Node::text(gone), &old.head());
            }
            if !came.is_empty() {
                self.new_key(key, path, &Node::text(came), &new.head());
            }
            let kept = |of: &[Node], other: &[Node]| -> Vec<String> {
                of.iter().map(name).filter(|one| other.iter().any(|it| name(it) == *one)).collect()
            };
            if kept(before, after) != kept(after, before) {
                self.add(
                    way_of(key, Way::Open),
                    format!("`{path}` has another order"),
                    Some(&old.head()),
                    Some(&new.head()),
                );
            }
        } else {
            let (was, is) = (plain(old), plain(new));
            if !same(&was, &is, self.units) {
                let way = match takes_more(key, &was, &is, self.units) {
                    Some(true) => Way::Easier,
                    Some(false) => Way::Harder,
                    None => way_of(key, Way::Open),
                };
                let what = format!("`{path}` changed: {} -> {}", short(&was), short(&is));
                self.add(way, what, Some(&old.head()), Some(&new.head()));
            }
        }
    }

    pub(super) fn gone_key(&mut self, key: &str, path: &str, old: &Node, place: &Place) {
        let way = if BOUNDS.contains(&key) { Way::Easier } else { way_of(key, Way::Open) };
        self.add(way, format!("`{path}` is gone: {}", shown(old)), Some(place), None);
    }

    pub(super) fn new_key(&mut self, key: &str, path: &str, new: &Node, place: &Place) {
        let way = match key {
            _ if BOUNDS.contains(&key) => Way::Harder,
            // What may be left out need not be answered.
            "optional" => Way::Easier,
            _ => way_of(key, Way::Open),
        };
        self.add(way, format!("`{path}` is new: {}", shown(new)), None, Some(place));
    }
}

fn way_of(key: &str, otherwise: Way) -> Way {
    if WORDS.contains(&key) { Way::Words } else { otherwise }
}

fn join(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
}
