//! Cards and records as pages: sound, by themselves, readable by everyone, and safe from what was typed into a job.

mod browser;
mod colours;
mod hostile;
mod manual;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use roxmltree::{Document, Node, ParsingOptions};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// What the program writes; on the example workshop, so that no page depends on where it is made.
fn written(args: &[&str]) -> String {
    let output = Command::cargo_bin("standpipe").unwrap().current_dir(root()).args(args).output().unwrap();
    assert!(!output.stdout.is_empty(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

struct Page {
    name: String,
    html: String,
}

/// Card and record of every example job.
fn pages(folder: &Path) -> Vec<Page> {
    let mut names: Vec<String> = fs::read_dir(root().join("examples/answers"))
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    names.sort();
    let mut pages = Vec::new();
    for name in names {
        let job = format!("examples/jobs/{name}.yaml");
        if !root().join(&job).exists() {
            continue;
        }
        let journal = folder.join(&name);
        let journal = journal.to_str().unwrap();
        written(&["run", &job, "--answers", &format!("examples/answers/{name}.yaml"), "--journal", journal]);
        pages.push(Page { html: written(&["card", &job, "--format", "html"]), name: format!("card of {name}") });
        pages.push(Page { html: written(&["report", journal, "--format", "html"]), name: format!("record of {name}") });
        let html = written(&["report", journal, "--for", "customer", "--format", "html"]);
        pages.push(Page { html, name: format!("customer of {name}") });
    }
    assert!(pages.len() >= 20, "the examples have moved");
    let kiln = ["firing", "--family", "north", "--plugins", "tests/simulated/small-kiln", "--model", "small-kiln"];
    let asked = ["--jobs", "120", "--gates", "--inputs", "--at-most", "any 1 %"];
    for (name, args) in [
        ("simulation of pans", &["pan-service-overflow", "--family", "heron", "--jobs", "12"][..]),
        ("simulation of kilns", &[&kiln[..], &asked].concat()),
    ] {
        let html = written(&[&["simulate"], args, &["--format", "html"]].concat());
        pages.push(Page { html, name: name.to_owned() });
    }
    pages
}

/// The pages are written so that a reader of XML takes them too: every element closed, every attribute quoted.
fn parsed<'a>(name: &str, html: &'a str) -> Document<'a> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(html, options).unwrap_or_else(|fault| panic!("{name}: {fault}"))
}

fn all<'a>(document: &'a Document<'_>, tag: &'a str) -> impl Iterator<Item = Node<'a, 'a>> {
    document.descendants().filter(move |node| node.has_tag_name(tag))
}

fn text_of(node: Node<'_, '_>) -> String {
    node.descendants().filter_map(|node| node.text()).collect()
}

/// A page that stands by itself leads nowhere.
fn check(page: &Page) {
    let document = parsed(&page.name, &page.html);
    for node in document.descendants() {
        for outward in ["src", "href", "srcset", "action", "data", "poster"] {
            assert!(!node.has_attribute(outward), "{}: {outward} leads outward", page.name);
        }
    }
    is_sound(page);
}

fn is_sound(page: &Page) {
    let name = &page.name;
    let document = parsed(name, &page.html);
    assert_eq!(document.root_element().attribute("lang"), Some("en"), "{name}");
    assert_eq!(all(&document, "h1").count(), 1, "{name}");
    assert_eq!(all(&document, "main").count(), 1, "{name}");
    assert!(!text_of(all(&document, "title").next().unwrap()).trim().is_empty(), "{name}");
    assert_eq!(all(&document, "script").count(), 0, "{name}: it must work without scripts");
    let mut level = 1;
    for heading in document.descendants().filter(|node| ["h1", "h2", "h3", "h4"].contains(&node.tag_name().name())) {
        let own: u32 = heading.tag_name().name()[1..].parse().unwrap();
        assert!(own <= level + 1, "{name}: {:?} skips a level", text_of(heading));
        assert!(!text_of(heading).trim().is_empty(), "{name}: an empty heading");
        level = own;
    }
    for table in all(&document, "table") {
        assert!(table.children().any(|node| node.has_tag_name("caption")), "{name}: a table without a caption");
    }
    for cell in all(&document, "th") {
        assert!(matches!(cell.attribute("scope"), Some("col" | "row")), "{name}: a heading of nothing");
    }
    let ids: Vec<&str> = document.descendants().filter_map(|node| node.attribute("id")).collect();
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "{name}: an id twice in {ids:?}");
    for node in document.descendants() {
        for id in node.attribute("aria-labelledby").into_iter().flat_map(str::split_whitespace) {
            assert!(ids.contains(&id), "{name}: `{id}` is not there");
        }
        for attribute in node.attributes() {
            assert!(!attribute.name().starts_with("on"), "{name}: {} is a script", attribute.name());
        }
    }
    for drawing in all(&document, "svg") {
        assert_eq!(drawing.attribute("role"), Some("img"), "{name}");
        for part in ["title", "desc"] {
            let told = drawing.children().find(|node| node.has_tag_name(part)).map(text_of).unwrap_or_default();
            assert!(!told.trim().is_empty(), "{name}: a picture without a {part}");
        }
        let figure = drawing.ancestors().find(|node| node.has_tag_name("figure")).unwrap();
        let rows = figure.descendants().filter(|node| node.has_tag_name("tr")).count();
        assert!(rows > 1, "{name}: a picture without its numbers");
        for number in drawing.descendants().flat_map(|node| node.attributes().collect::<Vec<_>>()) {
            assert!(!number.value().contains("NaN") && !number.value().contains("inf"), "{name}: {number:?}");
        }
    }
    let styles = text_of(all(&document, "style").next().unwrap());
    for outward in ["http", "url(", "@import"] {
        assert!(!styles.contains(outward), "{name}: the style leads outward by {outward}");
    }
    assert!(!page.html.contains("a fault of the template"), "{name}");
}

#[test]
fn a_procedure_is_drawn_from_beginning_to_end() {
    // One of many sections, and one without any: of that every step is drawn.
    let transfer_case = ["transfer-case-fluid", "--plugins", "examples/workshop/transfer-cases"];
    for (args, shown) in [
        (&["pan-service-overflow", "--family", "heron"][..], [">else stops</text>", ">Take pan and filter off</text>"]),
        (&transfer_case, [">else stops</text>", ">Let it run out</text>"]),
    ] {
        let html = written(&[&["show", "procedure"], args, &["--format", "html"]].concat());
        let page = Page { html, name: format!("procedure {}", args[0]) };
        is_sound(&page);
        let document = parsed(&page.name, &page.html);
        assert_eq!(all(&document, "svg").count(), 1);
        assert!(shown.iter().all(|text| page.html.contains(text)), "{}: {shown:?}", page.name);
    }
}

#[test]
fn every_page_is_sound_and_stands_by_itself() {
    let folder = tempfile::tempdir().unwrap();
    let pages = pages(folder.path());
    for page in &pages {
        check(page);
        assert!(page.html.contains("INVENTED DATA"), "{}", page.name);
    }
    let drawn = |name: &str| pages.iter().find(|page| page.name == name).unwrap().html.matches("<svg").count();
    assert_eq!(drawn("record of heron-van"), 5);
    // A job that stopped before its end has fewer, and says why.
    assert!(drawn("record of heron-taxi") < 5);
    let taxi = pages.iter().find(|page| page.name == "record of heron-taxi").unwrap();
    assert!(taxi.html.contains("not drawn, needs"));
    // How jobs ended, which harm, which faults, two questions about the kiln, and how its numbers are spread.
    assert!(drawn("simulation of kilns") >= 7 && drawn("simulation of pans") >= 9);
    for page in pages.iter().filter(|page| page.name.starts_with("customer")) {
        is_for_everybody(page);
    }
    browser::look_at(&pages, folder.path());
}

/// Names of fields, expressions and addresses are for the workshop.
fn is_for_everybody(page: &Page) {
    let document = parsed(&page.name, &page.html);
    let told = text_of(all(&document, "body").next().unwrap());
    for internal in ["==", ">=", "<=", "&&", "||", "spec.", "job.", "shop.", "_", "[", "`", "(not known"] {
        assert!(!told.contains(internal), "{} says `{internal}`: {told}", page.name);
    }
}

/// Whoever reads one page reads the same of it as whoever reads all: what does not hold is shown by neither.
#[test]
fn the_customers_page_tells_what_was_done_and_shows_nothing_that_does_not_hold() {
    let folder = tempfile::tempdir().unwrap();
    let journal = folder.path().join("j");
    let job = ["run", "examples/jobs/heron-van.yaml", "--answers", "examples/answers/heron-van.yaml", "--journal"];
    written(&[&job[..], &[journal.to_str().unwrap()]].concat());
    let page = || {
        let html = written(&["report", journal.to_str().unwrap(), "--for", "customer", "--format", "html"]);
        let marks: Vec<String> = {
            let document = parsed("customer", &html);
            all(&document, "span").filter(|it| it.attribute("class") == Some("mark met")).map(text_of).collect()
        };
        let document = parsed("customer", &html);
        (marks, text_of(all(&document, "body").next().unwrap()))
    };
    let (marks, told) = page();
    assert!(matches!(marks.as_slice(), [one] if one.starts_with("SHOWN")), "{marks:?}");
    for fact in [
        "level set within 51..58 °C, closed at 56.4 °C",
        "Fluid marsh-lv; 6 containers were read, batches B-26-14. Parts: Filter, gasket and ring, all new.",
        "Out 4.79 L; in, less what ran out, 4.90 L.",
        "At 192830 km or on 2030-11-24",
        "Please come by in two weeks",
        "Setting the level: done",
        "what stands here holds",
    ] {
        assert!(told.contains(fact), "{fact} is missing in {told}");
    }
    let text = fs::read_to_string(journal.join("journal.jsonl")).unwrap();
    let other = text.replacen("\"value\":39.6", "\"value\":39.5", 1);
    assert!(text != other, "the entry has moved");
    fs::write(journal.join("journal.jsonl"), other).unwrap();
    let (marks, told) = page();
    assert!(marks.is_empty() && told.contains("THE RECORD OF THIS WORK DOES NOT HOLD"), "{told}");
    let refused = Command::cargo_bin("standpipe").unwrap();
    let refused =
        { refused }.current_dir(root()).args(["report", "x", "--for", "customer", "--format", "csv"]).output();
    assert_eq!(refused.unwrap().status.code(), Some(2));
}

/// Own choice: a page on the bench is half as far again from the eye as one in the hand.
const SMALLEST_TYPE: f64 = 8.5;

#[test]
fn on_paper_nothing_is_set_in_smaller_type_than_can_be_read_at_arms_length() {
    let html = written(&["card", "heron", "--procedure", "pan-service-overflow", "--format", "html"]);
    let paper = html.split("@media print").nth(1).and_then(|rest| rest.split("</style>").next()).unwrap();
    let sizes: Vec<f64> = paper
        .split("font-size:")
        .skip(1)
        .map(|rest| rest.split("pt").next().unwrap().trim().parse().expect("a size in points"))
        .collect();
    assert!(sizes.len() >= 8, "{sizes:?}");
    assert!(sizes.iter().all(|size| *size >= SMALLEST_TYPE), "{sizes:?}");
}

#[test]
fn a_record_tells_by_itself_whether_the_level_was_set() {
    let folder = tempfile::tempdir().unwrap();
    let journal = folder.path().join("j");
    let journal = journal.to_str().unwrap();
    written(&[
        "run",
        "examples/jobs/heron-van.yaml",
        "--answers",
        "examples/answers/heron-van.yaml",
        "--journal",
        journal,
    ]);
    let html = written(&["report", journal, "--format", "html"]);
    let document = parsed("record", &html);
    let block = all(&document, "section").find(|it| text_of(*it).contains("Was the level set properly?")).unwrap();
    let told = text_of(block);
    for fact in ["thin drip", "51..58 °C", "56.4 °C", "4.90 L"] {
        assert!(told.contains(fact), "{fact} is missing in {told}");
    }
    assert_eq!(block.descendants().filter(|node| node.attribute("class") == Some("mark met")).count(), 13);
    let json: serde_json::Value = serde_json::from_str(&written(&["report", journal, "--format", "json"])).unwrap();
    let seal = json["record"]["made_with"]["seal"].as_str().unwrap();
    assert!(html.contains(seal));
    // A picture of places says how it lies.
    assert!(html.contains(">\u{2191} front of the vehicle, seen from below</text>"));
    let picture =
        json["record"]["pictures"].as_array().unwrap().iter().find(|it| it["id"] == "level-temperature").unwrap();
    let course = &picture["drawn"]["course"];
    assert_eq!(course["window"], serde_json::json!([51.0, 58.0]));
    let series = course["series"].as_array().unwrap();
    let mut points = series.iter().flat_map(|series| series["points"].as_array().unwrap());
    assert!(points.any(|point| point["counts"] == false), "tries are drawn too: {series:?}");
}
