//! YAML documents: whatever the bytes, they are read or refused with a place; what was read is the same when written anew.

use standpipe::diagnostic::{Look, Problems, has_errors, human};
use standpipe::drivers::answers::Answers;
use standpipe::form::{Form, RawFamily};
use standpipe::library::Shop;
use standpipe::overlay::Overlay;
use standpipe::quantity::{Units, UnitsFile};
use standpipe::sheet::Sheet;
use standpipe::source::Source;
use standpipe::yaml::{Kind, Node, parse};

pub fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let units = Units::standard();
    let mut problems = Problems::new();
    let source = Source::new("document.yaml", text);
    let node = parse(&source, &mut problems);
    assert!(node.is_some() || has_errors(&problems), "refused without a word");
    if let Some(node) = &node {
        inside(node, text.len());
        if !has_errors(&problems) {
            same_when_written(node);
        }
    }
    Answers::read(&source, &mut problems);
    Shop::read(&source, &units, &mut problems);
    Sheet::read(&source, "any", &units, &mut problems);
    RawFamily::read(&source, &mut problems);
    Overlay::read(&source, &mut problems);
    Form::read(&source, &units, &mut problems);
    problems.extend(UnitsFile::read(&source).err().into_iter().flatten());
    problems.truncate(50);
    human(&problems, Look { color: false, width: 80, folded: false });
}

/// Every place lies in the text, and in that of what it is part of.
fn inside(node: &Node, length: usize) {
    let range = node.place.range();
    assert!(range.start <= range.end && range.end <= length, "{range:?} of {length}");
    let parts: Vec<&Node> = match &node.kind {
        Kind::Scalar(_) => return,
        Kind::List(items) => items.iter().collect(),
        Kind::Map(entries) => entries.iter().map(|(_, value)| value).collect(),
    };
    for part in parts {
        let own = part.place.range();
        assert!(range.start <= own.start && own.end <= range.end, "{own:?} is no part of {range:?}");
        inside(part, length);
    }
}

/// Written as JSON, which is YAML as well, it reads as the same tree of texts.
fn same_when_written(node: &Node) {
    let written = serde_json::to_string(&plain(node)).unwrap();
    let mut problems = Problems::new();
    let Some(again) = parse(&Source::new("again.yaml", written.as_str()), &mut problems) else {
        panic!("{problems:?}\n{written}");
    };
    assert_eq!(plain(node), plain(&again), "{written}");
}

fn plain(node: &Node) -> serde_json::Value {
    match &node.kind {
        Kind::Scalar(scalar) => scalar.text.clone().into(),
        Kind::List(items) => items.iter().map(plain).collect(),
        Kind::Map(entries) => {
            serde_json::Value::Object(entries.iter().map(|(key, value)| (key.value.clone(), plain(value))).collect())
        }
    }
}
