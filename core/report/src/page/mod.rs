//! Card and record as pages: one file each that needs no network and no script. The templates only lay out what the views
//! hold; whatever was entered is escaped.

mod markdown;
mod only_text;
mod rows;

use std::fmt;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value};
use serde::Serialize;

pub use markdown::{Heading, Written, written};
pub use only_text::only_text;
use rows::Row;

use super::block::Answer;
use super::card::{CardView, Step};
use super::customer::CustomerView;
use super::outline::{OutlineView, flow};
use super::picture::{self, Picture, Svg};
use super::record::{RecordView, Told, mark_lines, told_of};
use super::shown::{numbers, words};
use super::simulation::SimulationView;
use standpipe_job::plan::Overlaid;

/// How cards and records look; pages of a job look the same.
pub const STYLE: &str = include_str!("style.css");

const TEMPLATES: &[(&str, &str)] = &[
    ("base.html", include_str!("base.html")),
    ("style.css", STYLE),
    ("card.html", include_str!("card.html")),
    ("record.html", include_str!("record.html")),
    ("customer.html", include_str!("customer.html")),
    ("outline.html", include_str!("outline.html")),
    ("simulation.html", include_str!("simulation.html")),
    ("manual.html", include_str!("manual.html")),
    ("block.html", include_str!("block.html")),
    ("picture.html", include_str!("picture.html")),
];

#[derive(Serialize)]
struct Drawn<'a> {
    #[serde(flatten)]
    picture: &'a Picture,
    svg: Svg,
}

fn drawn(pictures: &[Picture]) -> Vec<Drawn<'_>> {
    pictures.iter().map(|picture| Drawn { picture, svg: picture::draw(picture) }).collect()
}

#[derive(Serialize)]
struct CardPage<'a> {
    card: &'a CardView,
    of: String,
    pictures: Vec<Drawn<'a>>,
    /// The gravest first.
    gates: Vec<&'a Step>,
    facts: Vec<FactGroup<'a>>,
    sources: Vec<String>,
    changed: Vec<String>,
}

#[derive(Serialize)]
struct RecordPage<'a> {
    record: &'a RecordView,
    checked: Vec<String>,
    answers: Vec<&'a Answer>,
    pictures: Vec<Drawn<'a>>,
    required: Vec<Row<'a>>,
    sources: Vec<String>,
    measured: Vec<Row<'a>>,
    observed: Vec<Row<'a>>,
    computed: Vec<Row<'a>>,
    assumed: Vec<Row<'a>>,
    marks: Vec<(&'static str, Vec<String>)>,
    people: Vec<&'a str>,
    told: Vec<Told<'a>>,
    changed: Vec<String>,
}

/// A page that could not be drawn: a defect of a template, never of what it shows.
#[derive(Debug)]
pub struct Unrendered(minijinja::Error);

impl fmt::Display for Unrendered {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the page can't be drawn, which is a defect of this program: {:#}", self.0)
    }
}

impl std::error::Error for Unrendered {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.0)
    }
}

impl From<minijinja::Error> for Unrendered {
    fn from(fault: minijinja::Error) -> Self {
        Self(fault)
    }
}

/// A card as one HTML file.
///
/// Errors: a template that has a fault.
pub fn card(view: &CardView) -> Result<String, Unrendered> {
    let (facts, sources) = sourced(view);
    let step = |number: &usize| view.steps.iter().find(|step| step.number == *number);
    let page = CardPage {
        card: view,
        of: view.of(),
        pictures: drawn(&view.pictures),
        gates: view.gates.iter().filter_map(step).collect(),
        facts,
        sources,
        changed: changed(&view.changed),
    };
    rendered("card.html", Value::from(Serde(&page)))
}

/// A record as one HTML file.
///
/// Errors: a template that has a fault.
pub fn record(view: &RecordView) -> Result<String, Unrendered> {
    let (required, sources) = rows::required(&view.required);
    let page = RecordPage {
        record: view,
        checked: view.checked.iter().flat_map(|checked| checked.lines()).collect(),
        answers: view.answers().collect(),
        pictures: drawn(&view.pictures),
        required,
        sources,
        measured: rows::read(&view.measured),
        observed: rows::read(&view.observed),
        computed: rows::computed(&view.computed),
        assumed: rows::assumed(&view.assumed),
        marks: mark_lines(view).into_iter().filter(|(_, lines)| !lines.is_empty()).collect(),
        people: view.people.iter().map(|person| person.title.as_str()).collect(),
        told: view.steps.iter().map(told_of).collect(),
        changed: changed(&view.changed),
    };
    rendered("record.html", Value::from(Serde(&page)))
}

/// The customer's page as one HTML file.
///
/// Errors: a template that has a fault.
pub fn customer(view: &CustomerView) -> Result<String, Unrendered> {
    rendered("customer.html", minijinja::context! { customer => Value::from(Serde(view)) })
}

/// A procedure as one HTML file.
///
/// Errors: a template that has a fault.
pub fn outline(view: &OutlineView) -> Result<String, Unrendered> {
    rendered(
        "outline.html",
        minijinja::context! { view => Value::from(Serde(view)), flow => Value::from(Serde(&flow(view))) },
    )
}

/// A simulation as one HTML file.
///
/// Errors: a template that has a fault.
pub fn simulation(view: &SimulationView) -> Result<String, Unrendered> {
    rendered("simulation.html", minijinja::context! { view => Value::from(Serde(view)) })
}

/// A link from one page of the manual to another.
#[derive(Debug, Serialize)]
pub struct WayOn<'a> {
    pub to: String,
    pub text: &'a str,
    /// `next` or `prev`, where it is one of these.
    pub rel: Option<&'static str>,
}

/// A page of the manual as one HTML file. Below its title stand its sections, where there are more than a few.
///
/// Errors: a template that has a fault.
pub fn manual(written: &Written, ways: &[WayOn<'_>]) -> Result<String, Unrendered> {
    let title = written.headings.first().map_or("Manual", |heading| heading.text.as_str());
    let sections: Vec<&Heading> = written.headings.iter().filter(|heading| heading.level == 2).collect();
    let end = "</h1>\n";
    let (before, after) = written.html.split_at(written.html.find(end).map_or(0, |at| at + end.len()));
    rendered(
        "manual.html",
        minijinja::context! {
            title,
            ways => Value::from(Serde(ways)),
            sections => Value::from(Serde(if sections.len() > 3 { sections } else { Vec::new() })),
            before => Value::from_safe_string(before.to_owned()),
            after => Value::from_safe_string(after.to_owned()),
        },
    )
}

fn changed(changes: &[Overlaid]) -> Vec<String> {
    changes.iter().map(|change| format!("{} ({})", change.words(), change.overlay)).collect()
}

#[derive(Serialize)]
struct FactGroup<'a> {
    name: &'a str,
    facts: Vec<SourcedFact<'a>>,
}

#[derive(Serialize)]
struct SourcedFact<'a> {
    name: &'a str,
    shown: &'a str,
    /// Number in the list of sources.
    source: Option<usize>,
    line: Option<usize>,
}

/// Facts with the number of their source: one that covers a whole family is told once.
fn sourced(view: &CardView) -> (Vec<FactGroup<'_>>, Vec<String>) {
    let mut sources: Vec<String> = Vec::new();
    // What a block lists in full is no limit, and stands there.
    let shown = view.blocks.iter().flat_map(|block| &block.parts).flat_map(|part| &part.facts);
    let lists: Vec<&str> = shown.filter(|fact| fact.shown.len() > 1).map(|fact| fact.name.as_str()).collect();
    let listed = |path: &str| lists.contains(&words(path).as_str());
    let groups = view.facts.iter().map(|group| {
        let facts = group.facts.iter().filter(|fact| !listed(&fact.path)).map(|fact| {
            let source = fact.from.as_ref().map(|from| {
                let file = fact.place.as_ref().map(|place| format!(" ({})", place.name())).unwrap_or_default();
                rows::number_of(&mut sources, format!("{from}{file}"))
            });
            let name =
                fact.path.strip_prefix(&group.name).and_then(|rest| rest.strip_prefix('.')).unwrap_or(&fact.path);
            SourcedFact { name, shown: &fact.shown, source, line: fact.place.as_ref().map(|place| place.line()) }
        });
        FactGroup { name: &group.name, facts: facts.collect() }
    });
    let groups = groups.filter(|group: &FactGroup<'_>| !group.facts.is_empty()).collect();
    (groups, sources)
}

fn rendered(name: &str, context: Value) -> Result<String, Unrendered> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(
        |name| {
            if name.ends_with(".css") { AutoEscape::None } else { AutoEscape::Html }
        },
    );
    if let Ok(syntax) = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build() {
        environment.set_syntax(syntax);
    }
    environment.set_formatter(only_text);
    environment.add_filter("words", |text: &str| words(text));
    environment.add_filter("steps", |steps: Vec<usize>| numbers(&steps));
    environment.add_filter("clock", |at: &str| at.get(11..16).unwrap_or(at).to_owned());
    environment.add_filter("minute", |at: &str| at.get(..16).unwrap_or(at).replace('T', " "));
    environment.add_filter("short", |hash: &str| hash.get(..12).unwrap_or(hash).to_owned());
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    Ok(environment.get_template(name)?.render(context)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_template_that_fails_is_an_error_and_no_page() {
        // There is nothing to show: the first thing that a template wants of the record is not there.
        for name in ["card.html", "record.html", "customer.html", "simulation.html", "none.html"] {
            let fault = rendered(name, Value::UNDEFINED).unwrap_err();
            assert!(fault.to_string().contains("a defect of this program"), "{fault}");
        }
    }
}
