//! Pages from hostile texts: whatever was typed stays text in a record, a list and a table, and moves no cursor.

use indexmap::IndexMap;
use standpipe::columns::for_terminal;
use standpipe::diagnostic::Problems;
use standpipe::job::plan::{Inputs, build};
use standpipe::job::{Entry, Input, Machine, Origin, Record, State, What};
use standpipe::library::{File, Files, Layer};
use standpipe::report::{jobs, page, record};
use standpipe::source::Source;

use super::choices::Choices;

const TEXTS: [(&str, &str); 4] = [
    ("plugin.yaml", "plugin: kilns\nversion: \"1.0.0\"\nplugins: [units]\ninvented: true\n"),
    ("forms/kiln.yaml", "form: kiln\nfields: { hottest: { is: temperature } }\n"),
    (
        "families/north.yaml",
        "family: north\nform: kiln\nhottest: 1280 degC\nsources: [{ covers: all, from: invented }]\n",
    ),
    (
        "procedures/firing.yaml",
        "procedure: firing\ntitle: Fire the kiln\nsteps:\n\
         - id: warm\n  read: { heat: { is: temperature }, said: { is: text } }\n  gate: { must: heat <= spec.hottest, otherwise: wait }\n\
         - id: look\n  title: Was it {said}?\n  read: { seen: { is: text } }\n\
         - { id: close, do: Close the damper. }\n\
         record:\n- title: Said\n  say: [\"{said} and {seen}\"]\n  shown_by: [warm]\n",
    ),
];

fn machine() -> &'static Machine {
    thread_local! {
        static MACHINE: &'static Machine = {
            let mut files = Files::built_in();
            files.list.extend(TEXTS.map(|(path, text)| File::new(Layer::Given(1), "kilns", path, text)));
            let job = Source::new("job.yaml", "job: F-1\nfamily: north\nprocedure: firing\n");
            let mut problems = Problems::new();
            let plan = build(Inputs::new(job, None, files), &mut problems).unwrap_or_else(|| panic!("{problems:?}"));
            Box::leak(Box::new(Machine::new(plan)))
        };
    }
    MACHINE.with(|machine| *machine)
}

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let machine = machine();
    let (mut state, mut records): (State, Vec<Record>) = Default::default();
    let by = format!("ann{}", choices.text(12));
    let mut give = |what: What| {
        let at = "2026-11-23T08:00:00+01:00".parse().unwrap();
        let input = Input { at, entered_at: None, by: by.clone(), origin: Origin::Typed, what };
        if let Ok(made) = machine.decide(&state, &input) {
            made.iter().for_each(|record| state.apply(record));
            records.extend(made);
        }
    };
    let enter = |step: &str, typed: &[(&str, String)]| {
        let typed: IndexMap<String, String> =
            typed.iter().map(|(name, text)| ((*name).to_owned(), text.clone())).collect();
        What::Enter(Entry { step: step.to_owned(), typed, ..Entry::default() })
    };
    let heat = choices.one(&["1200 degC", "1300 degC", "21 degC"]).to_owned();
    give(What::Open);
    give(enter("warm", &[("heat", heat), ("said", choices.text(40))]));
    give(What::Note(choices.text(60)));
    give(enter("look", &[("seen", choices.text(40))]));
    if choices.rarely(2) {
        give(What::Skip { because: choices.text(30) });
    }
    give(enter("close", &[]));
    if choices.rarely(2) {
        give(What::Abandon { because: choices.text(30) });
    }
    let view = record::view(machine, &records, None, None);
    let html = page::record(&view).unwrap();
    only_what_we_write(&html);
    moves_nothing(&for_terminal(&record::text(&view, 60, false), false));
    computes_nothing(&record::table(&[(view, machine.plan.units.clone())]));
    let row = jobs::row(machine, &records, std::path::Path::new("f-1.job"));
    moves_nothing(&for_terminal(&jobs::text(&[row], 2, 60, false), false));
}

fn moves_nothing(text: &str) {
    let odd = text.chars().find(|c| (c.is_control() && *c != '\n') || ('\u{202a}'..='\u{202e}').contains(c));
    assert!(odd.is_none(), "{odd:?} reaches a terminal: {text:?}");
}

/// A program for tables takes no cell for a formula.
fn computes_nothing(table: &str) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(table.as_bytes());
    for row in reader.records().map(Result::unwrap) {
        let odd = row.iter().find(|cell| cell.starts_with(['=', '@', '\t', '\r']) || signed(cell));
        assert!(odd.is_none(), "{odd:?} in {table}");
    }
}

fn signed(cell: &str) -> bool {
    cell.starts_with(['+', '-']) && cell.len() > 1 && cell.parse::<f64>().is_err()
}

/// No element and no attribute but those of our own templates and pictures.
fn only_what_we_write(html: &str) {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = roxmltree::Document::parse_with_options(html, options);
    let document = document.unwrap_or_else(|fault| panic!("{fault}\n{html}"));
    for node in document.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        assert!(!matches!(name, "script" | "img" | "iframe" | "object" | "embed" | "form" | "input" | "a"), "{name}");
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(!name.starts_with("on") && name != "style" && name != "src", "{name}=\"{value}\"");
        }
    }
}
