//! The reader against files of its own and against a second reader.

use indexmap::IndexMap;
use serde::Deserialize;

use super::*;
use crate::At;
use standpipe_diagnostic::{Code, Look, human};

#[derive(Debug, Deserialize, PartialEq)]
struct Document {
    family: At<String>,
    title: Option<String>,
    #[serde(default)]
    invented: bool,
    count: Option<At<u32>>,
    factor: Option<f64>,
    class: Option<String>,
    when: Option<Script>,
    steps: Option<Vec<Inner>>,
    level: Option<Inner>,
    named: Option<IndexMap<At<String>, Inner>>,
    otherwise: Option<Otherwise>,
    anything: Option<Node>,
}

#[derive(Debug, Deserialize, PartialEq)]
struct Inner {
    id: At<String>,
    title: Option<At<String>>,
    note: Option<String>,
}

#[derive(Debug, Deserialize, PartialEq)]
#[serde(rename_all = "kebab-case")]
enum Otherwise {
    Wait,
    NextRound,
    Ask(Vec<String>),
}

fn read_text(text: &str) -> (Option<Document>, Problems) {
    let mut problems = Problems::new();
    let value = read(&Source::new("a.yaml", text), &mut problems);
    (value, problems)
}

fn sound(text: &str) -> Document {
    let (value, problems) = read_text(text);
    assert!(problems.is_empty(), "{problems:#?}");
    value.expect("a document without problems")
}

const GOOD: &str = "\
# a comment with ä
family: heron
title: 'it''s' # why
count: 10
factor: 1.5e3
class: 8.80
when: |
  let a = 1;
  if a < 2 {

    true
  }
steps:
  - id: one
    title: Größe °C
  - { id: two, note: \"a: b\" }
named:
  pan-a: { id: x }
  pan-b:
    id: z
otherwise: { ask: [foreman, checker] }
anything: [1, { a: 'x y' }, true]
";

#[test]
fn a_sound_file_gives_values_and_places() {
    let document = sound(GOOD);
    assert_eq!(document.family.place.to_string(), "a.yaml:2:9");
    assert_eq!(document.title.as_deref(), Some("it's"));
    assert_eq!(document.count.as_ref().map(|c| (c.value, c.place.line())), Some((10, 4)));
    assert_eq!(document.factor, Some(1500.0));
    assert_eq!(document.class.as_deref(), Some("8.80"), "a number in a text field keeps its digits");
    assert_eq!(document.otherwise, Some(Otherwise::Ask(vec!["foreman".into(), "checker".into()])));
    let steps = document.steps.expect("steps");
    let title = steps[0].title.as_ref().expect("title");
    assert_eq!((title.place.text(), title.place.line(), title.place.column()), ("Größe °C", 15, 12));
    let named = document.named.expect("named");
    assert_eq!(named.keys().map(|k| k.value.as_str()).collect::<Vec<_>>(), ["pan-a", "pan-b"]);
    assert_eq!(named["pan-b"].id.place.to_string(), "a.yaml:20:9");
    assert_eq!(named.get_index(1).map(|(key, _)| key.place.line()), Some(19));
}

#[test]
fn a_comment_behind_a_quote_belongs_to_no_text() {
    let text = "a: 'x == \"y\"' # why\nb: \"it\\\"s\" # 'so'\nc: 'it''s'   # \"\nd: ''\n";
    let root = parse(&Source::new("a.yaml", text), &mut Problems::new()).expect("sound");
    let written = |key: &str| root.get(key).map(|node| node.place.text().to_owned()).unwrap_or_default();
    assert_eq!(["a", "b", "c", "d"].map(written), ["'x == \"y\"'", "\"it\\\"s\"", "'it''s'", "''"]);
}

#[test]
fn the_second_reader_reads_the_same() {
    let mut problems = Problems::new();
    let mine: Option<serde_yaml::Value> = read(&Source::new("a.yaml", GOOD), &mut problems);
    assert_eq!(mine, serde_yaml::from_str(GOOD).ok());
    assert!(mine.is_some());
}

#[test]
fn a_script_maps_every_line_and_column() {
    let script = sound(GOOD).when.expect("when");
    assert_eq!(script.text, "let a = 1;\nif a < 2 {\n\n  true\n}");
    let true_at = script.place_of(4, 3);
    assert_eq!((true_at.to_string().as_str(), true_at.text()), ("a.yaml:11:5", "true"));
    assert_eq!(script.place_of(3, 1).to_string(), "a.yaml:10:1");
    assert_eq!(script.place_of(99, 1), script.place);
    assert_eq!(script.place_of_bytes(script.text.find("true").map_or(0..0, |at| at..at + 4)).text(), "true");
    for (text, column) in [("when: a < °C", 7), ("when: 'a < °C'", 8), ("when: \"a < °C\"", 8)] {
        let script = sound(&format!("family: x\n{text}\n")).when.expect("when");
        assert_eq!((script.text.as_str(), script.place_of(1, 5).column()), ("a < °C", column + 4), "{text}");
    }
    for (text, expected) in [("when: 3", "3"), ("when: true", "true")] {
        assert_eq!(sound(&format!("family: x\n{text}\n")).when.map(|s| s.text).as_deref(), Some(expected));
    }
    let crlf = sound("family: x\r\nwhen: |\r\n  a &&\r\n  b\r\n").when.expect("when");
    assert_eq!(crlf.place_of(2, 1).to_string(), "a.yaml:4:3");
}

#[test]
fn a_byte_order_mark_is_no_part_of_the_first_key() {
    let document = sound("\u{feff}family: ä\ntitle: ö\n");
    assert_eq!(document.family.place.text(), "ä");
}

#[test]
fn one_run_reports_every_fault() {
    let text = "family: x\ncount: many\ninvented: maybe\nsteps:\n  - { id: [1] }\n  - { titel: b, id: c }\n  - { note: a }\nfactor: 1e999\n";
    let (value, problems) = read_text(text);
    assert!(value.is_none());
    let found: Vec<_> = problems.iter().map(|p| (p.place.line(), p.code)).collect();
    use Code::*;
    assert_eq!(
        found,
        [(2, WrongShape), (3, WrongShape), (5, WrongShape), (6, UnknownKey), (7, MissingKey), (8, NonFiniteLiteral)]
    );
}

#[test]
fn a_key_that_stands_twice_is_found_however_many_there_are() {
    for others in [1, 30, 3000] {
        for (first, second) in [(0, others), (others / 2, others - 1)] {
            let mut keys: Vec<_> = (0..others).map(|index| format!("key-{index}")).collect();
            keys.insert(first, "twice".to_owned());
            keys.insert(second + 1, "twice".to_owned());
            let lines: String = keys.iter().map(|key| format!("  {key}: {{ id: x }}\n")).collect();
            let (value, problems) = read_text(&format!("family: x\nnamed:\n{lines}"));
            assert_eq!(value.unwrap().named.unwrap().len(), others + 1);
            assert_eq!(problems.len(), 1);
            let line = |index: usize| index as u32 + 3;
            assert_eq!((problems[0].code, problems[0].place.line() as u32), (Code::DuplicateKey, line(second + 1)));
            assert_eq!(problems[0].also[0].place.line() as u32, line(first));
        }
    }
}

#[test]
fn an_unknown_key_alone_does_not_stop_the_checks() {
    let (value, problems) = read_text("family: x\ntitel: y\n");
    assert!(value.is_some());
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].help.as_deref(), Some("did you mean `title`?"));
}

#[test]
fn what_is_written_is_read_back() {
    let words = [
        "yes", "no", "off", "null", "~", ".nan", "8.8", "a: b", "- x", "", " a", "#", "!x", "&a", "*b", "a\nb\n", "ö",
        "{a}",
    ];
    let map: IndexMap<&str, Vec<&str>> = words.iter().map(|word| (*word, vec![*word, "no"])).collect();
    let text = write(&map).expect("writes");
    let mut problems = Problems::new();
    let back: Option<IndexMap<String, Vec<String>>> = read(&Source::new("w.yaml", text.clone()), &mut problems);
    assert!(problems.is_empty(), "{text}\n{problems:#?}");
    let back = back.expect("reads");
    assert_eq!(back.len(), words.len());
    assert!(back.iter().all(|(key, values)| values[0] == *key && values[1] == "no"));
}

#[test]
fn mangled_files_never_panic() {
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut random = move |below: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        usize::try_from(state % below.max(1) as u64).unwrap_or(0)
    };
    let pieces = [
        "\t", ": ", "- ", "{", "}", "[", "]", "\"", "'", "|", ">", "!", "&", "*", "#", "\n", "\r\n", "ä", "\u{feff}",
        "---", "?", "%", "@", ".nan", "~", ",", "  ", "<<",
    ];
    for _ in 0..3000 {
        let mut text: Vec<char> = GOOD.chars().collect();
        for _ in 0..=random(4) {
            let at = random(text.len());
            match random(4) {
                0 => text.truncate(at),
                1 => drop(text.splice(at..at, pieces[random(pieces.len())].chars())),
                2 => drop(text.splice(at..(at + random(12)).min(text.len()), [])),
                _ => {
                    let with = random(text.len());
                    text.swap(at, with);
                }
            }
            if text.is_empty() {
                break;
            }
        }
        let text: String = text.into_iter().collect();
        let (value, problems) = read_text(&text);
        assert!(value.is_some() || problems.iter().any(|p| p.is_error()), "refused without a word: {text:?}");
        // Drawing a message must not fail either.
        assert_eq!(human(&problems, Look { color: false, width: 80, folded: false }).is_empty(), problems.is_empty());
    }
}

/// What is said of a file is bounded, however large and however wrong it is, and so is what is quoted of it.
#[test]
fn huge_files_get_few_and_short_messages() {
    let many = [
        (0..40_000).map(|n| format!("k{n}: &a{n} x\n")).collect::<String>(),
        (0..40_000).map(|n| format!("k{n}: *a\n")).collect::<String>(),
        "k: x\n".repeat(40_000),
        "- yes\n".repeat(40_000),
        "- .nan\n".repeat(40_000),
        "- \n".repeat(40_000),
        (0..40_000).map(|n| format!("k{n}:\n")).collect::<String>(),
    ];
    let long = "x".repeat(1 << 20);
    let tokens =
        [format!("k: &{long} x\n"), format!("k: !{long}\n"), format!("{long}: 1\n{long}: 2\n"), format!("{long}\n")];
    for text in many.iter().chain(&tokens) {
        let mut problems = Problems::new();
        parse(&Source::new("big.yaml", text.as_str()), &mut problems);
        assert!(!problems.is_empty() || text.len() > 1 << 20, "{}", &text[..20]);
        assert!(problems.len() <= 205, "{}: {}", &text[..20], problems.len());
        let said = human(&problems, Look { color: false, width: 80, folded: false });
        assert!(said.len() < 400_000, "{}: {} bytes", &text[..20], said.len());
    }
}
