use super::*;
use standpipe_diagnostic::Code;

fn read(list: &str) -> (Option<Answers>, Problems) {
    let mut problems = Problems::new();
    let text = format!("answers: a\nfor: ../jobs/a.yaml\nlist:\n{list}");
    let answers = Answers::read(&Source::new("a.yaml", text), &mut problems);
    (answers, problems)
}

fn one(rest: &str) -> Answer {
    let (answers, problems) = read(&format!("  - {{ at: \"+1 min\", by: ann, {rest} }}\n"));
    assert!(problems.is_empty(), "{rest}: {problems:?}");
    answers.unwrap().list.remove(0)
}

/// The one problem of an answer: its code and line.
fn fault(rest: &str) -> (Code, usize, String) {
    let (answers, problems) = read(&format!("  - at: \"+1 min\"\n    by: ann\n    {rest}\n"));
    assert_eq!(problems.len(), 1, "{rest}: {problems:?}");
    assert!(answers.is_none(), "{rest}");
    let problem = &problems[0];
    assert!(problem.expected.is_some() || problem.help.is_some(), "{rest}: nothing says what to do");
    (problem.code, problem.place.line(), problem.message.clone())
}

#[test]
fn values_stay_as_they_were_written() {
    let Given::Enter { entry, bare, evidence, log: None } = one(
        "step: fill, item: full/3, enter: { volume: \"41,50 L\", count: 08, exact: 2.50, ok: true }, instruments: { volume: jug }, \
         witness: bob, evidence: [a.jpg, b.jpg]",
    )
    .given
    else {
        panic!("not an entry")
    };
    let typed: Vec<(&str, &str)> = entry.typed.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    assert_eq!(typed, [("volume", "41,50 L"), ("count", "08"), ("exact", "2.50"), ("ok", "true")]);
    assert_eq!((entry.step.as_str(), entry.item.as_deref()), ("fill", Some("full/3")));
    assert_eq!((entry.with["volume"].as_str(), entry.witness.as_deref()), ("jug", Some("bob")));
    assert!(bare.is_none() && entry.evidence.is_empty());
    assert_eq!(evidence.iter().map(|file| file.value.as_str()).collect::<Vec<_>>(), ["a.jpg", "b.jpg"]);
}

#[test]
fn a_bare_word_is_kept_until_it_is_known_what_is_asked() {
    for word in ["done", "thin drip", "4"] {
        let Given::Enter { entry, bare, .. } = one(&format!("step: look, enter: {word}")).given else {
            panic!("not an entry")
        };
        assert_eq!(bare.map(|bare| bare.value).as_deref(), Some(word));
        assert!(entry.typed.is_empty());
    }
}

#[test]
fn every_verb_is_used_as_its_example_says() {
    let answer = include_str!("raw.rs").split("pub struct RawAnswer {").nth(1).unwrap();
    let answer = answer.split("pub struct").next().unwrap();
    let mut tried = 0;
    for example in answer.split("/// Example: `").skip(1).map(|rest| rest.split("`\n").next().unwrap()) {
        let key = example.split(':').next().unwrap();
        match key {
            "at" | "by" | "step" | "item" | "entered_at" | "instruments" | "witness" | "evidence" => continue,
            "enter" | "log" => drop(one(&format!("step: tilt, {example}"))),
            _ => drop(one(example)),
        }
        tried += 1;
    }
    assert_eq!(tried, 13);
}

#[test]
fn every_verb_is_read() {
    let cases = [
        (
            "correct: { heat: 38 degC, because: misread }",
            "Correct { entry: None, values: {\"heat\": \"38 degC\"}, because: \"misread\" }",
        ),
        ("skip: no tray, step: tray", "Skip { because: \"no tray\" }"),
        ("accept: { because: the head says so }", "Accept { because: \"the head says so\" }"),
        (
            "supply: { spec.area: 1 cm2, source: a data sheet }",
            "Supply { path: \"spec.area\", typed: \"1 cm2\", source: \"a data sheet\" }",
        ),
        ("call: wrong-one", "Call { procedure: \"wrong-one\" }"),
        ("pause: true", "Pause"),
        ("resume: true", "Resume"),
        ("note: drips", "Note(\"drips\")"),
        ("abandon: the owner says no", "Abandon { because: \"the owner says no\" }"),
    ];
    for (written, expected) in cases {
        let Given::What(what) = one(written).given else { panic!("{written}") };
        assert_eq!(format!("{what:?}"), expected);
    }
    assert!(matches!(one("attach: a.jpg").given, Given::Attach(path) if path.value == "a.jpg"));
}

#[test]
fn an_answer_that_makes_no_sense_is_refused_at_its_line() {
    let cases = [
        ("step: look", Code::UnfitAnswer, 4, "says nothing"),
        ("enter: done", Code::MissingKey, 4, "which step"),
        ("note: a\n    pause: true", Code::UnfitAnswer, 4, "more than one thing"),
        ("pause: false", Code::UnfitAnswer, 6, "asks for nothing"),
        ("note: a\n    witness: bob", Code::UnfitAnswer, 7, "belongs to an entry"),
        ("note: a\n    instruments: { heat: probe }", Code::UnfitAnswer, 7, "belongs to an entry"),
        ("step: a\n    enter: { heat: [1, 2] }", Code::WrongShape, 7, "`heat` is a list"),
        ("step: a\n    enter: [1, 2]", Code::WrongShape, 7, "expected values by name"),
        ("step: a\n    enter: done\n    evidence: { a: b }", Code::WrongShape, 8, "path of a file"),
        ("correct: { heat: 38 degC }", Code::MissingKey, 6, "`because` is missing"),
        ("correct: { because: why not }", Code::UnfitAnswer, 6, "nothing is corrected"),
        ("supply: { spec.area: 1 cm2 }", Code::MissingKey, 6, "`source` is missing"),
        ("supply: { a: 1, b: 2, source: c }", Code::UnfitAnswer, 6, "one value at a time"),
        ("accept: { because: a, why: b }", Code::UnknownKey, 6, "why"),
        ("note: a\n    entered_at: later", Code::UnfitAnswer, 7, "not a time"),
        ("entr: done\n    note: a", Code::UnknownKey, 6, "entr"),
    ];
    for (written, code, line, words) in cases {
        let (found, at, message) = fault(written);
        assert_eq!((found, at), (code, line), "{written}: {message}");
        assert!(message.contains(words), "{written}: {message}");
    }
}

#[test]
fn all_faults_of_a_file_are_reported_in_one_run() {
    let (answers, problems) = read(
        "  - { at: soon, by: ann, note: a }\n  - { at: \"+1 min\", note: b }\n  - { at: \"+1 min\", by: ann, pause: false }\n  - { at: never, by: ann }\n",
    );
    assert!(answers.is_none());
    let lines: Vec<usize> = problems.iter().map(|problem| problem.place.line()).collect();
    assert!(lines.contains(&5), "{problems:?}");
    let (_, problems) = read(
        "  - { at: soon, by: ann, note: a }\n  - { at: \"+1 min\", by: ann, pause: false }\n  - { at: never, by: ann }\n",
    );
    let lines: Vec<usize> = problems.iter().map(|problem| problem.place.line()).collect();
    assert_eq!(lines, [4, 5, 6, 6], "{problems:?}");
}
