//! Rules of the house that a compiler can't hold.

// A test says by failing what was wrong.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

/// Words of the trade that `core/` must not know: a new trade is a plugin, never Rust.
const TRADE: &[&str] = &[
    "transmission",
    "gearbox",
    "fluid",
    "oil",
    "bolt",
    "fastener",
    "torque",
    "wrench",
    "viscosity",
    "engine",
    "selector",
    "dipstick",
    "standpipe_",
    "drain",
    "sump",
    "gasket",
    "lubric",
];

/// Modules in their order: one imports only those above it.
const ORDER: &[&str] = &[
    "source",
    "columns",
    "diagnostic",
    "yaml",
    "value",
    "quantity",
    "series",
    "table",
    "script",
    "sheet",
    "form",
    "procedure",
    "overlay",
    "library",
    "plan",
    "job",
    "log",
    "live",
    "earlier",
    "ask",
    "audit",
    "check",
    "render",
    "case",
    "cli",
];

/// Pairs that may look at each other although they stand in no order: a value holds quantities, a quantity is read
/// as a value.
const FRIENDS: &[(&str, &str)] = &[("value", "quantity")];

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|it| ["rs", "md", "html", "css"].iter().any(|known| it == *known)) {
            found.push(path);
        }
    }
}

fn core_files() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("core");
    let mut found = Vec::new();
    rust_files(&root, &mut found);
    assert!(found.len() > 20, "the core has moved");
    found
        .into_iter()
        .map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            (path.strip_prefix(&root).unwrap().to_owned(), text)
        })
        .collect()
}

/// Code without its comments: documentation may give an example of the trade.
fn without_comments(text: &str) -> Vec<(usize, String)> {
    text.lines()
        .enumerate()
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
        .map(|(number, line)| (number + 1, line.to_lowercase()))
        .collect()
}

fn has_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        // `boil` and `spoil` are not of the trade; `engine_running` is.
        !before.is_some_and(|c| c.is_ascii_alphabetic())
    })
}

#[test]
fn the_core_knows_no_trade() {
    let mut found = Vec::new();
    for (path, text) in core_files() {
        for (number, line) in without_comments(&text) {
            // The interpreter's own type is called so by its library, and a method of lists by the standard one.
            let line = line.replace("rhai::engine", "").replace("engine::new_raw", "").replace(".drain(", "");
            for word in TRADE {
                if has_word(&line, word) && !(*word == "engine" && path.starts_with("script")) {
                    found.push(format!("core/{}:{number}: {word}", path.display()));
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn modules_import_only_those_above_them() {
    let place = |name: &str| ORDER.iter().position(|module| *module == name);
    let mut found = Vec::new();
    for (path, text) in core_files() {
        let first = path.components().next().unwrap().as_os_str().to_string_lossy().replace(".rs", "");
        let Some(own) = place(&first) else {
            assert!(
                ["build", "lib", "main"].contains(&first.as_str()),
                "core/{} is in no place of the order",
                path.display()
            );
            continue;
        };
        for (number, line) in without_comments(&text) {
            for (at, _) in line.match_indices("crate::") {
                let name: String =
                    line[at + 7..].chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
                let Some(other) = place(&name) else { continue };
                let friends = FRIENDS.iter().any(|(a, b)| (*a == first && *b == name) || (*b == first && *a == name));
                if other > own && !friends {
                    found.push(format!("core/{}:{number}: {first} imports {name}", path.display()));
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn no_file_of_the_core_is_too_long() {
    let long: Vec<String> = core_files()
        .into_iter()
        .map(|(path, text)| (path, text.lines().count()))
        .filter(|(_, lines)| *lines > 600)
        .map(|(path, lines)| format!("core/{}: {lines} lines", path.display()))
        .collect();
    assert!(long.is_empty(), "{}", long.join("\n"));
}
