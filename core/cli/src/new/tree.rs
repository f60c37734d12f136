//! Keys of a file that is written, as they lie within one another.

use indexmap::IndexMap;

use standpipe_yaml as yaml;

/// The key of a group's own comment; no field can be called so.
pub const REMARK: &str = "#";

/// One key of the file: a value under its question, or a group of keys.
pub enum Tree {
    Value { comment: Vec<String>, value: String },
    Group(IndexMap<String, Tree>),
}

pub fn put(tree: &mut IndexMap<String, Tree>, path: &str, value: Tree) {
    match path.split_once('.') {
        None => {
            tree.insert(path.to_owned(), value);
        }
        Some((first, rest)) => {
            let inner = tree.entry(first.to_owned()).or_insert_with(|| Tree::Group(IndexMap::new()));
            if let Tree::Group(inner) = inner {
                put(inner, rest, value);
            }
        }
    }
}

pub fn lines(tree: &IndexMap<String, Tree>, depth: usize, text: &mut String) {
    let indent = "  ".repeat(depth);
    for (key, node) in tree {
        match node {
            Tree::Value { comment, value } => {
                for line in comment {
                    text.push_str(&format!("{indent}# {line}\n"));
                }
                if key != REMARK {
                    text.push_str(&format!("{indent}{key}: {value}\n"));
                }
            }
            Tree::Group(inner) => {
                text.push_str(&format!("{indent}{key}:\n"));
                lines(inner, depth + 1, text);
            }
        }
    }
}

/// A text that YAML can't take for anything else, inside of braces too.
pub fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, ' ' | '-' | '_' | '.' | '/');
    let written = yaml::write(&text).unwrap_or_default();
    let written = written.trim_end();
    if written == text && text.chars().all(plain) && !text.contains(" #") {
        return text.to_owned();
    }
    if written.starts_with(['"', '\'']) && !written.contains('\n') {
        return written.to_owned();
    }
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
