//! The manual: every page sound, every link held, nothing of anybody else written over.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use assert_cmd::Command;
use regex::Regex;

use super::{Page, all, is_sound, parsed, root, written};

fn pages(folder: &Path) -> Vec<Page> {
    written(&["manual", "--into", folder.to_str().unwrap()]);
    let mut pages = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            pages.push(Page { name, html: fs::read_to_string(&path).unwrap() });
        }
    }
    pages.sort_by(|a, b| a.name.cmp(&b.name));
    assert!(pages.len() > 10, "{}", pages.len());
    pages
}

#[test]
fn every_page_of_the_manual_is_sound_and_its_links_hold() {
    let folder = tempfile::tempdir().unwrap();
    let pages = pages(folder.path());
    let documents: BTreeMap<&str, _> =
        pages.iter().map(|page| (page.name.as_str(), parsed(&page.name, &page.html))).collect();
    let mut led = Vec::new();
    for page in &pages {
        is_sound(page);
        for link in all(&documents[page.name.as_str()], "a") {
            let to = link.attribute("href").unwrap();
            if to.starts_with("https://") {
                continue;
            }
            let (file, place) = to.split_once('#').unwrap_or((to, ""));
            let file = if file.is_empty() { page.name.as_str() } else { file };
            assert!(folder.path().join(file).is_file(), "{}: {to} leads nowhere", page.name);
            let there = |id: &str| documents[file].descendants().any(|node| node.attribute("id") == Some(id));
            assert!(place.is_empty() || there(place), "{}: {to} leads nowhere in its page", page.name);
            if page.name == "index.html" {
                led.push(file);
            }
        }
    }
    let alone: Vec<&&str> = documents.keys().filter(|name| **name != "index.html" && !led.contains(name)).collect();
    assert!(alone.is_empty(), "no link leads to {alone:?}");
    for kind in ["procedure", "record"] {
        let schema = fs::read_to_string(folder.path().join(format!("schemas/{kind}.json"))).unwrap();
        assert!(serde_json::from_str::<serde_json::Value>(&schema).unwrap()["properties"].is_object(), "{kind}");
    }
}

/// A link to what is no page becomes words in the manual, so what it leads to is looked for where it stands.
#[test]
fn links_of_texts_in_the_manual_lead_to_files() {
    let link = Regex::new(r"\]\(([^)#]+)").unwrap();
    let mut texts = vec![root().join("README.md"), root().join("scripts/README.md")];
    for entry in fs::read_dir(root().join("plugins")).unwrap() {
        texts.extend(Some(entry.unwrap().path()).filter(|path| path.extension().is_some_and(|end| end == "md")));
    }
    let mut count = 0;
    for text in &texts {
        for found in link.captures_iter(&fs::read_to_string(text).unwrap()) {
            let to = &found[1];
            count += 1;
            let there = to.starts_with("https://") || text.parent().unwrap().join(to).is_file();
            assert!(there, "{}: {to} is not there", text.display());
        }
    }
    assert!(count > 15, "{count} links");
}

#[test]
fn a_manual_takes_the_place_of_an_earlier_one_and_of_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("index.html");
    fs::write(&own, "<p>mine</p>").unwrap();
    let into = ["manual", "--into", folder.path().to_str().unwrap()];
    let output = Command::cargo_bin("standpipe").unwrap().args(into).output().unwrap();
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.contains("something else than a manual"), "{told}");
    assert_eq!(fs::read_to_string(&own).unwrap(), "<p>mine</p>");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    fs::remove_file(&own).unwrap();
    for _ in 0..2 {
        let told = written(&into);
        assert!(told.contains("index.html"), "{told}");
    }
}
