//! From answers as written to answers that can be given: everything that can be told without the job.

use indexmap::IndexMap;

use super::raw::{RawAnswer, RawAnswers, RawFromLog};
use super::{Answer, Answers, FromLog, Given, When};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::{Entry, What};
use standpipe_log::{Choices, Said};
use standpipe_yaml::{At, Node};

const VERBS: &str =
    "one of: enter, log, correct, skip, pause, resume, note, attach, call, take_back, accept, supply, abandon";

pub(super) fn check(raw: RawAnswers, problems: &mut Problems) -> Answers {
    let mut list = Vec::new();
    for written in raw.list {
        let place = first_line(&written.place);
        list.extend(answer(written.value, place, problems));
    }
    Answers { id: raw.answers, title: raw.title, invented: raw.invented, sources: raw.sources, job: raw.job, list }
}

/// A place for messages about the answer as a whole: one that spans lines is shown by its first.
fn first_line(place: &Place) -> Place {
    let length = place.text().find('\n').unwrap_or(place.text().len());
    place.slice(0..length)
}

fn answer(raw: RawAnswer, place: Place, problems: &mut Problems) -> Option<Answer> {
    let before = problems.len();
    let at = When::read(&raw.at).map_err(|problem| problems.push(*problem)).ok();
    let entered_at = match raw.entered_at.as_ref().map(When::read) {
        None => None,
        Some(Ok(when)) => Some(when),
        Some(Err(problem)) => {
            problems.push(*problem);
            None
        }
    };
    let (step, by) = (raw.step.clone(), raw.by.value.clone());
    let given = given(raw, &place, problems);
    if problems.len() > before {
        return None;
    }
    Some(Answer { place, step, at: at?, entered_at, by, given: given? })
}

fn given(raw: RawAnswer, place: &Place, problems: &mut Problems) -> Option<Given> {
    let RawAnswer { step, item, enter, log, instruments, witness, evidence, .. } = raw;
    let only_with_enter = [
        ("item", item.as_ref().map(|item| item.place.clone())),
        ("instruments", instruments.values().next().map(|id| id.place.clone())),
        ("witness", witness.as_ref().map(|name| name.place.clone())),
        ("evidence", evidence.as_ref().map(Node::head)),
    ];
    if enter.is_none() && log.is_none() {
        for (key, place) in only_with_enter {
            if let Some(place) = place {
                problems.push(
                    Diagnostic::error(
                        Code::UnfitAnswer,
                        &place,
                        format!("`{key}` belongs to an entry, and nothing is entered here"),
                    )
                    .help("add `enter:`, or leave it out; `attach: FILE` keeps a file by itself"),
                );
            }
        }
    }
    let mut found: Vec<Option<Given>> = Vec::new();
    if enter.is_some() || log.is_some() {
        let evidence = evidence.map(|node| paths(&node, problems)).unwrap_or_default();
        let entry = Entry {
            step: step.as_ref().map(|step| step.value.clone()).unwrap_or_default(),
            item: item.map(|item| item.value),
            with: instruments.into_iter().map(|(name, instrument)| (name, instrument.value)).collect(),
            witness: witness.map(|name| name.value),
            ..Entry::default()
        };
        if step.is_none() {
            problems.push(
                Diagnostic::error(Code::MissingKey, place, "an entry does not say for which step it is")
                    .help("add `step: ID`"),
            );
        }
        let log = log.map(|log| Box::new(from_log(log.value, problems)));
        found.push(match enter {
            Some(node) => entered(&node, entry, evidence, log, problems),
            None => Some(Given::Enter { entry, bare: None, evidence, log }),
        });
    }
    if let Some(node) = raw.correct {
        found.push(correction(&node, problems));
    }
    if let Some(node) = raw.supply {
        found.push(supply(&node, problems));
    }
    let mut plain = |what: What| found.push(Some(Given::What(what)));
    if let Some(because) = raw.skip {
        plain(What::Skip { because: because.value });
    }
    if let Some(accept) = raw.accept {
        plain(What::Accept { because: accept.value.because.value });
    }
    if let Some(text) = raw.note {
        plain(What::Note(text.value));
    }
    if let Some(procedure) = raw.call {
        plain(What::Call { procedure: procedure.value });
    }
    if let Some(because) = raw.abandon {
        plain(What::Abandon { because: because.value });
    }
    for (flag, what) in [(raw.pause, What::Pause), (raw.resume, What::Resume), (raw.take_back, What::TakeBack)] {
        found.extend(flag.map(|flag| asked_for(&flag, what, problems)));
    }
    if let Some(path) = raw.attach {
        found.push(Some(Given::Attach(path)));
    }
    match found.len() {
        1 => found.pop().flatten(),
        0 => {
            problems.push(Diagnostic::error(Code::UnfitAnswer, place, "this answer says nothing").expected(VERBS));
            None
        }
        _ => {
            problems.push(
                Diagnostic::error(Code::UnfitAnswer, place, "this answer says more than one thing")
                    .expected(VERBS)
                    .help("write one answer for each, in order"),
            );
            None
        }
    }
}

fn asked_for(flag: &At<bool>, what: What, problems: &mut Problems) -> Option<Given> {
    if !flag.value {
        problems.push(
            Diagnostic::error(Code::UnfitAnswer, &flag.place, "`false` asks for nothing")
                .expected("`true`")
                .help("leave the key out"),
        );
        return None;
    }
    Some(Given::What(what))
}

/// `done`, an option, or values by name.
fn entered(
    node: &Node,
    entry: Entry,
    evidence: Vec<At<String>>,
    log: Option<Box<FromLog>>,
    problems: &mut Problems,
) -> Option<Given> {
    if let Some(text) = node.as_text() {
        if log.is_some() {
            problems.push(
                Diagnostic::error(
                    Code::UnfitAnswer,
                    &node.place,
                    "the log gives the value, and a word is entered as well",
                )
                .help("leave `enter:` out, or enter values by name that are not in the log"),
            );
            return None;
        }
        let bare = Some(At::new(text.to_owned(), node.place.clone()));
        return Some(Given::Enter { entry, bare, evidence, log });
    }
    let typed = texts(node, problems)?;
    let typed = typed.into_iter().map(|(name, text)| (name.value, text.value)).collect();
    Some(Given::Enter { entry: Entry { typed, ..entry }, bare: None, evidence, log })
}

fn from_log(raw: RawFromLog, problems: &mut Problems) -> FromLog {
    let plain = |map: IndexMap<At<String>, At<String>>| -> IndexMap<String, String> {
        map.into_iter().map(|(name, value)| (name.value, value.value)).collect()
    };
    let starts = raw.starts.as_ref().and_then(|text| {
        let time = text.contains(':').then(|| text.parse().ok()).flatten();
        if time.is_none() {
            problems.push(
                Diagnostic::error(Code::UnfitAnswer, &text.place, format!("`{}` is not a time of day", text.value))
                    .help("write e.g. `starts: \"08:15:00\"`"),
            );
        }
        time
    });
    let mut said = Said { code: Code::UnfitAnswer, problems };
    let choices = Choices {
        columns: plain(raw.columns),
        units: plain(raw.units),
        words: IndexMap::new(),
        decimal: said.decimal(raw.decimal.as_ref()),
        delimiter: said.delimiter(raw.delimiter.as_ref()),
        encoding: said.encoding(raw.encoding.as_ref()),
        time: said.time(raw.time.as_ref()),
    };
    FromLog { file: raw.file, instrument: raw.instrument, reads: plain(raw.reads), starts, choices }
}

fn correction(node: &Node, problems: &mut Problems) -> Option<Given> {
    let because = reason(node, "because", problems)?;
    let values: IndexMap<String, String> = texts(node, problems)?
        .into_iter()
        .filter(|(name, _)| !["because", "entry"].contains(&name.as_str()))
        .map(|(name, text)| (name.value, text.value))
        .collect();
    if values.is_empty() {
        let problem = Diagnostic::error(Code::UnfitAnswer, &node.head(), "nothing is corrected here");
        problems.push(problem.expected("`correct: { name: value, because: reason }`"));
        return None;
    }
    let Some(at) = node.get("entry") else {
        return Some(Given::What(What::Correct { entry: None, values, because }));
    };
    match at.as_text().unwrap_or_default().parse() {
        Ok(address) => Some(Given::Correct { entry: At::new(address, at.place.clone()), values, because }),
        Err(fault) => {
            problems.push(
                Diagnostic::error(Code::UnfitAnswer, &at.place, fault.to_string())
                    .help("the step and its rounds, as the record has them; without `entry:` the latest is corrected"),
            );
            None
        }
    }
}

fn supply(node: &Node, problems: &mut Problems) -> Option<Given> {
    let source = reason(node, "source", problems)?;
    let mut values: Vec<_> = texts(node, problems)?.into_iter().filter(|(name, _)| name.as_str() != "source").collect();
    match (values.pop(), values.is_empty()) {
        (Some((path, typed)), true) => Some(Given::What(What::Supply { path: path.value, typed: typed.value, source })),
        _ => {
            problems.push(
                Diagnostic::error(
                    Code::UnfitAnswer,
                    &node.head(),
                    "one value at a time is supplied, with its own source",
                )
                .expected("`supply: { spec.name: value, source: where it comes from }`"),
            );
            None
        }
    }
}

fn reason(node: &Node, key: &str, problems: &mut Problems) -> Option<String> {
    match node.get(key).and_then(Node::as_text) {
        Some(text) => Some(text.to_owned()),
        None => {
            problems.push(
                Diagnostic::error(Code::MissingKey, &node.head(), format!("`{key}` is missing"))
                    .absent()
                    .expected(format!("values by name, and `{key}: text`"))
                    .help(format!("add `{key}:`")),
            );
            None
        }
    }
}

/// Values as typed: a plain number stays as it was written.
fn texts(node: &Node, problems: &mut Problems) -> Option<Vec<(At<String>, At<String>)>> {
    let Some(entries) = node.as_map() else {
        problems.push(
            Diagnostic::error(
                Code::WrongShape,
                &node.head(),
                format!("expected values by name, found {}", node.described()),
            )
            .expected("`{ name: value }`"),
        );
        return None;
    };
    let mut all = Vec::new();
    for (name, value) in entries {
        match value.as_text() {
            Some(text) => all.push((name.clone(), At::new(text.to_owned(), value.place.clone()))),
            None => problems.push(
                Diagnostic::error(
                    Code::WrongShape,
                    &value.head(),
                    format!("`{}` is {}", name.value, value.described()),
                )
                .expected("one value as a person would type it")
                .help("text with a comma or a colon needs quotes"),
            ),
        }
    }
    Some(all)
}

/// One path or a list of them.
fn paths(node: &Node, problems: &mut Problems) -> Vec<At<String>> {
    let single = std::slice::from_ref(node);
    let mut all = Vec::new();
    for node in node.as_list().unwrap_or(single) {
        match node.as_text() {
            Some(text) => all.push(At::new(text.to_owned(), node.place.clone())),
            None => problems.push(
                Diagnostic::error(
                    Code::WrongShape,
                    &node.head(),
                    format!("expected the path of a file, found {}", node.described()),
                )
                .expected("a path, or a list of paths, relative to the answers file"),
            ),
        }
    }
    all
}
