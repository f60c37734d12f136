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
    "vehicle",
];

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

/// The crates under `core/`, by the names of their folders.
fn crates() -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("core");
    let folders = fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_dir());
    let mut names: Vec<String> = folders.map(|path| path.file_name().unwrap().to_string_lossy().into_owned()).collect();
    names.sort();
    names
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
    let own: Vec<String> = crates().iter().map(|name| format!("standpipe_{name}")).collect();
    for (path, text) in core_files() {
        for (number, line) in without_comments(&text) {
            let line = own.iter().fold(line, |line, name| line.replace(name.as_str(), ""));
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
fn no_file_of_the_core_is_too_long() {
    let long: Vec<String> = core_files()
        .into_iter()
        .map(|(path, text)| (path, text.lines().count()))
        .filter(|(_, lines)| *lines > 600)
        .map(|(path, lines)| format!("core/{}: {lines} lines", path.display()))
        .collect();
    assert!(long.is_empty(), "{}", long.join("\n"));
}

/// What a crate may import is what its Cargo.toml lists, and the compiler holds that; its page says the same to people.
#[test]
fn the_page_of_every_crate_says_what_it_imports() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("core");
    for name in crates() {
        let folder = root.join(&name);
        let manifest = fs::read_to_string(folder.join("Cargo.toml")).unwrap();
        let dependencies = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
        let imports: Vec<&str> = dependencies
            .lines()
            .filter_map(|line| line.strip_prefix("standpipe-")?.strip_suffix(".workspace = true"))
            .collect();
        let page = fs::read_to_string(folder.join("README.md")).unwrap_or_else(|_| panic!("core/{name} has no page"));
        let said = page.lines().find_map(|line| line.strip_prefix("Imports: ")).unwrap_or_default();
        let said: Vec<&str> = said
            .trim_end_matches('.')
            .split(", ")
            .map(|it| it.trim_matches('`'))
            .filter(|it| *it != "nothing")
            .collect();
        assert_eq!(said, imports, "core/{name}/README.md");
    }
}

/// What comes from outside and may go some day is used in one place.
#[test]
fn one_crate_uses_each_library_that_may_have_to_be_replaced() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("core");
    for (library, only) in [("serde_yaml", "yaml"), ("saphyr-parser", "yaml"), ("rhai", "script")] {
        let users: Vec<String> = crates()
            .into_iter()
            .filter(|name| {
                let manifest = fs::read_to_string(root.join(name).join("Cargo.toml")).unwrap();
                manifest
                    .lines()
                    .any(|line| line.starts_with(&format!("{library}.")) || line.starts_with(&format!("{library} ")))
            })
            .collect();
        assert_eq!(users, [only], "{library}");
    }
}

/// The job is what everything else leans on, so it has to be small enough to be read in a day.
#[test]
fn the_job_is_small() {
    let lines: usize = core_files()
        .into_iter()
        .filter(|(path, _)| path.starts_with("job") && !path.components().any(|part| part.as_os_str() == "tests.rs"))
        .map(|(_, text)| without_comments(&text).into_iter().filter(|(_, line)| !line.trim().is_empty()).count())
        .sum();
    assert!((1_000..8_000).contains(&lines), "core/job has {lines} lines of code");
}

/// Files are opened in one place, which knows what may lie in the way; tests may do as they like.
#[test]
fn files_are_opened_in_one_place() {
    let opening = [
        "File::open",
        "File::create",
        "File::options",
        "OpenOptions",
        "fs::read(",
        "fs::read_to_string",
        "fs::write(",
        "fs::copy(",
    ];
    let mut looked_at = 0;
    let mut found = Vec::new();
    for (path, text) in core_files() {
        let is_test = path.components().any(|part| part.as_os_str() == "tests" || part.as_os_str() == "tests.rs");
        if is_test || path.starts_with("disk") || path.extension().is_none_or(|it| it != "rs") {
            continue;
        }
        looked_at += 1;
        let code = text.split("#[cfg(test)]").next().unwrap();
        for (number, line) in code.lines().enumerate().filter(|(_, line)| !line.trim_start().starts_with("//")) {
            for word in opening.iter().filter(|word| line.contains(**word)) {
                found.push(format!("core/{}:{}: {word}", path.display(), number + 1));
            }
        }
    }
    assert!(looked_at > 200, "the core has moved");
    assert!(found.is_empty(), "use `standpipe_disk` instead:\n{}", found.join("\n"));
}

/// A page that names a file has a reader look for it.
#[test]
fn files_that_pages_name_are_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut pages = Vec::new();
    for folder in ["core", "plugins"] {
        rust_files(&root.join(folder), &mut pages);
    }
    pages.retain(|path| path.extension().is_some_and(|it| it == "md"));
    let more = ["README.md", "DEVELOPERS.md", "SECURITY.md", "CHANGELOG.md", "examples/README.md"];
    pages.extend(more.map(|page| root.join(page)));
    let (mut named, mut gone) = (0, Vec::new());
    for page in pages {
        let text = fs::read_to_string(&page).unwrap();
        for name in text.split('`').skip(1).step_by(2) {
            let inside =
                ["core/", "plugins/", "tests/", "examples/", "scripts/", ".ci/"].iter().any(|it| name.starts_with(it));
            // `NAME` stands for any.
            let plain = name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "/._-".contains(c));
            if inside && plain {
                named += 1;
                if !root.join(name).exists() {
                    gone.push(format!("{}: {name}", page.strip_prefix(root).unwrap().display()));
                }
            }
        }
    }
    assert!(named > 60, "{named}");
    assert!(gone.is_empty(), "not there:\n{}", gone.join("\n"));
}
