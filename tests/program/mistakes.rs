//! What people mistype, and whether `check` leads them to it.
//!
//! `tests/mistakes/*.yaml` change one place of a file that ships and say on which line the advice is wanted and which words
//! it must have (`a|b`: either). What came of each stands in `outcomes.txt`, so that a message that gets worse is seen;
//! `UPDATE_EXPECTED=1` writes it anew, and `STANDPIPE_MISTAKES=TEXT` prints what is said to those that have TEXT in their name.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use serde::Deserialize;
use standpipe::cli::{checked, fixed};
use standpipe::diagnostic::{Diagnostic, Look, Severity, human};
use tempfile::TempDir;

use crate::folders::copy;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    /// Written without a look at the checks.
    #[serde(default)]
    blind: bool,
    groups: Vec<Group>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Group {
    file: String,
    mistakes: Vec<Mistake>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mistake {
    /// What is written over, where it stands first; a file of its own if left out.
    find: Option<String>,
    write: String,
    /// A text on the line where the advice is wanted, or several, of which any will do; the first line that differs if left out.
    #[serde(default)]
    at: OneOrMany,
    /// The file of that line, if it is another than the one with the mistake.
    #[serde(rename = "in")]
    elsewhere: Option<String>,
    #[serde(default)]
    words: Vec<String>,
}

#[derive(Default, Deserialize)]
#[serde(untagged)]
enum OneOrMany {
    #[default]
    None,
    One(String),
    Many(Vec<String>),
}

/// One mistake in one file.
pub struct Tried {
    pub name: String,
    pub blind: bool,
    pub file: String,
    mistake: Mistake,
}

impl Tried {
    /// The text with the mistake, and the lines of which on one the advice is wanted.
    pub fn made(&self) -> (String, Vec<usize>) {
        let Mistake { find, write, at, elsewhere, .. } = &self.mistake;
        let before = match find {
            Some(_) => fs::read_to_string(root().join(&self.file)).unwrap(),
            None => String::new(),
        };
        let (text, from) = match find {
            Some(find) => {
                let at = before.find(find.as_str()).unwrap_or_else(|| panic!("{} has no {find:?}", self.file));
                (before.replacen(find.as_str(), write, 1), at)
            }
            None => (write.clone(), 0),
        };
        let other = elsewhere.as_ref().map(|file| fs::read_to_string(root().join(file)).unwrap());
        let (searched, from) = other.as_ref().map_or((&text, from), |other| (other, 0));
        let start = searched[..from].rfind('\n').map_or(0, |newline| newline + 1);
        // The one that follows the change, where there are several.
        let place = |at: &String| {
            let found = searched[start..].find(at.as_str()).map(|found| start + found);
            found.or_else(|| searched[..start].rfind(at.as_str())).unwrap_or_else(|| panic!("{}: no {at:?}", self.name))
        };
        let places = match at {
            OneOrMany::None => vec![before.bytes().zip(text.bytes()).take_while(|(a, b)| a == b).count()],
            OneOrMany::One(at) => vec![place(at)],
            OneOrMany::Many(all) => all.iter().map(place).collect(),
        };
        let line = |at: usize| searched.bytes().take(at).filter(|byte| *byte == b'\n').count() + 1;
        let lines = places.into_iter().map(line).collect();
        (text, lines)
    }

    fn outcome(&self, said: &[Diagnostic], lines: &[usize]) -> Outcome {
        let there = |problem: &&Diagnostic| {
            let name = problem.place.name().replace('\\', "/");
            name.ends_with(self.mistake.elsewhere.as_ref().unwrap_or(&self.file))
                && lines.contains(&problem.place.line())
        };
        let right = |problem: &Diagnostic| {
            let text = format!("{}\n{}\n{:?}\n{:?}", problem.message, problem.label, problem.expected, problem.help);
            let text = text.replace("\\\"", "\"").to_lowercase();
            self.mistake.words.iter().all(|word| word.split('|').any(|one| text.contains(&one.to_lowercase())))
        };
        match said.iter().filter(there).find(|problem| right(problem)) {
            Some(problem) if std::ptr::eq(problem, &said[0]) => Outcome::Found,
            Some(_) => Outcome::Later,
            None if said.iter().any(|problem| there(&problem)) => Outcome::PlaceOnly,
            None if said.is_empty() => Outcome::Silent,
            None => Outcome::Elsewhere,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    /// The first message is on the line and has the words.
    Found,
    /// Such a message comes, after others.
    Later,
    /// A message is on the line, without the words.
    PlaceOnly,
    /// What is said is said of other lines.
    Elsewhere,
    Silent,
}

impl Outcome {
    fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Later => "later",
            Self::PlaceOnly => "place only",
            Self::Elsewhere => "elsewhere",
            Self::Silent => "silent",
        }
    }
}

/// What `check --fix` made of it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Mended {
    /// Nothing was certain.
    Not,
    AsItWas,
    /// Nothing is wrong any more, by another text.
    Otherwise,
    /// Something was mended, and something is left.
    Partly,
    /// Something is left, and more lines than before are not as they were.
    Worse,
}

impl Mended {
    fn of(left: &[Diagnostic], as_it_was: bool, farther: bool) -> Self {
        match left.iter().all(|problem| problem.severity == Severity::Note) {
            true if as_it_was => Self::AsItWas,
            true => Self::Otherwise,
            false if farther => Self::Worse,
            false => Self::Partly,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Not => "-",
            Self::AsItWas => "mended",
            Self::Otherwise => "otherwise",
            Self::Partly => "partly",
            Self::Worse => "worse",
        }
    }
}

/// How many lines of a text are not in the other.
fn differing(text: &str, other: Option<&String>) -> usize {
    let other: Vec<&str> = other.map(|other| other.lines().collect()).unwrap_or_default();
    text.lines().filter(|line| !other.contains(line)).count()
}

/// All that is written below a folder.
fn texts(folder: &Path) -> BTreeMap<PathBuf, String> {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        match entry.is_dir() {
            true => all.extend(texts(&entry)),
            false => all.extend(fs::read_to_string(&entry).ok().map(|text| (entry, text))),
        }
    }
    all
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

const AS_MEANT: &str = "taken-as-meant.yaml";

/// All mistakes, each with a name of its own; or what is none.
pub fn all(as_meant: bool) -> Vec<Tried> {
    let mut files: Vec<PathBuf> =
        fs::read_dir(root().join("tests/mistakes")).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|it| it == "yaml") && file.ends_with(AS_MEANT) == as_meant);
    files.sort();
    let mut all = Vec::new();
    let mut names: BTreeMap<String, usize> = BTreeMap::new();
    for file in files {
        let list: List = serde_yaml::from_str(&fs::read_to_string(&file).unwrap())
            .unwrap_or_else(|fault| panic!("{}: {fault}", file.display()));
        for group in list.groups {
            for mistake in group.mistakes {
                let short = group.file.rsplit('/').next().unwrap();
                let one_line = |text: &str| text.trim().replace('\n', " / ");
                let written = if mistake.write.trim().is_empty() {
                    "without ".to_owned() + mistake.find.as_deref().unwrap_or_default()
                } else {
                    mistake.write.clone()
                };
                let mut name = format!("{short}: {}", one_line(&written)).chars().take(120).collect::<String>();
                let times = names.entry(name.clone()).or_default();
                *times += 1;
                if *times > 1 {
                    write!(name, " ({times})").unwrap();
                }
                all.push(Tried { name, blind: list.blind, file: group.file.clone(), mistake });
            }
        }
    }
    all
}

/// What is named on the command line to check a file: the plugin around it, the shop that lists that plugin, or the file.
fn target(file: &str) -> &str {
    if file.starts_with("examples/workshop/") {
        return "examples/workshop/shop.yaml";
    }
    match file.strip_prefix("plugins/").and_then(|rest| rest.find('/')) {
        Some(end) => &file[.."plugins/".len() + end],
        None => file,
    }
}

#[allow(clippy::print_stdout, reason = "what is asked for with STANDPIPE_MISTAKES")]
/// Makes each mistake in a copy of what ships, one after the other, and says what comes of it.
fn outcomes(all: &[Tried]) -> Vec<(Outcome, Mended)> {
    let next = AtomicUsize::new(0);
    let wanted = std::env::var("STANDPIPE_MISTAKES").ok();
    let work = || {
        let folder = TempDir::new().unwrap();
        for part in
            ["plugins", "examples/workshop", "examples/jobs", "examples/answers", "examples/logs", "examples/photos"]
        {
            copy(&root().join(part), &folder.path().join(part));
        }
        let sound = texts(folder.path());
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(tried) = all.get(index) else { break done };
            let (text, lines) = tried.made();
            let path = folder.path().join(&tried.file);
            let before = fs::read_to_string(&path).ok();
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(&path, &text).unwrap();
            let said = checked(&[folder.path().join(target(&tried.file))]);
            let outcome = tried.outcome(&said, &lines);
            let mended = match said.iter().any(|problem| problem.mend.is_some()) {
                true => {
                    let left = fixed(&[folder.path().join(target(&tried.file))]);
                    let now = texts(folder.path());
                    let as_it_was = sound.iter().all(|(path, text)| now.get(path) == Some(text));
                    let otherwise: usize = sound.iter().map(|(path, text)| differing(text, now.get(path))).sum();
                    let farther = otherwise > before.as_ref().map_or(0, |sound| differing(sound, Some(&text)));
                    for (path, text) in sound.iter().filter(|(path, text)| now.get(*path) != Some(text)) {
                        fs::write(path, text).unwrap();
                    }
                    Mended::of(&left, as_it_was, farther && before.is_some())
                }
                false => Mended::Not,
            };
            match before {
                Some(before) => fs::write(&path, before).unwrap(),
                None => fs::remove_file(&path).unwrap(),
            }
            if wanted.as_ref().is_some_and(|wanted| tried.name.contains(wanted.as_str()) || wanted == outcome.word()) {
                let text = human(&said, Look { color: false, width: 140, folded: true });
                let text = text.replace(&format!("{}/", folder.path().display()), "");
                println!("=== {}, line {lines:?}, {:?}: {}\n{text}", tried.name, tried.mistake.words, outcome.word());
            }
            done.push((index, (outcome, mended)));
        }
    };
    let mut done: Vec<(usize, (Outcome, Mended))> = thread::scope(|scope| {
        let workers: Vec<_> = (0..2).map(|_| scope.spawn(work)).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    done.sort();
    done.into_iter().map(|(_, outcome)| outcome).collect()
}

pub fn share(part: usize, of: usize) -> String {
    format!("{part} of {of} ({} %)", (100 * part + of / 2) / of)
}

/// Shares are told where developers read them.
pub fn published(summary: &str) {
    let page = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let flowing: String = page.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flowing.contains(summary), "DEVELOPERS.md has to say: {summary}");
}

#[test]
fn what_people_mistype_is_found_where_they_did() {
    let all = all(false);
    let outcomes = outcomes(&all);
    let count = |wanted: &[Outcome], blind: bool| {
        let meant = |tried: &Tried, outcome: &Outcome| (!blind || tried.blind) && wanted.contains(outcome);
        all.iter().zip(&outcomes).filter(|(tried, (outcome, _))| meant(tried, outcome)).count()
    };
    let blind = all.iter().filter(|tried| tried.blind).count();
    let summary = format!(
        "The first message is on the line of the mistake and has the words that help in {}; in {} of those that were written \
         without a look at the checks. {} get no message at all.",
        share(count(&[Outcome::Found], false), all.len()),
        share(count(&[Outcome::Found], true), blind),
        share(count(&[Outcome::Silent], false), all.len()),
    );
    let found = outcomes.iter().filter(|(outcome, _)| *outcome != Outcome::Silent).count();
    let mended = |wanted: &[Mended]| outcomes.iter().filter(|(_, mended)| wanted.contains(mended)).count();
    let by_fix = format!(
        "`check --fix` mends {} of those that get a message, so that nothing is wrong any more; {} of these are then to the \
         letter as they were.",
        share(mended(&[Mended::AsItWas, Mended::Otherwise]), found),
        mended(&[Mended::AsItWas]),
    );
    let mut text = String::new();
    for (tried, (outcome, mended)) in all.iter().zip(&outcomes) {
        writeln!(text, "{:<11} {:<10} {}", outcome.word(), mended.word(), tried.name).unwrap();
    }
    println!("{summary}\n{by_fix}");
    let kept = root().join("tests/mistakes/outcomes.txt");
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        fs::write(&kept, &text).unwrap();
    }
    let before = fs::read_to_string(&kept).unwrap();
    let changed: Vec<String> = before
        .lines()
        .zip(text.lines())
        .filter(|(was, is)| was != is)
        .map(|(was, is)| format!("was: {was}\nis:  {is}"))
        .collect();
    assert_eq!(text, before, "{}", changed.join("\n"));
    published(&summary);
    published(&by_fix);
    assert_eq!(mended(&[Mended::Worse]), 0, "{text}");
}

#[test]
fn what_can_only_be_meant_in_one_way_is_taken_so() {
    let all = all(true);
    assert!(all.len() > 10, "the list has moved");
    for (tried, (outcome, _)) in all.iter().zip(outcomes(&all)) {
        assert!(outcome == Outcome::Silent, "{} is told to be a mistake", tried.name);
    }
}
