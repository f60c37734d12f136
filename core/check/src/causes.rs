//! Causes first: a message that may only follow from another is counted there and not shown.

use indexmap::IndexMap;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{About, Code, Diagnostic, Problems};
use standpipe_job::plan::Parsed;
use standpipe_library::{Files, Kind};

use crate::Stock;

/// A document that could not be used: what is said elsewhere of its id says nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    id: String,
    /// The end of the path of the file in which it is broken.
    file: String,
}

impl Broken {
    /// Those among the documents of all plugins, by what was found in them. `files` also has those of plugins that were left out.
    pub fn all(parsed: &Parsed, files: &Files, stock: &Stock, found: &[Diagnostic]) -> Vec<Self> {
        let faulty = |name: &str| found.iter().any(|problem| problem.is_error() && problem.place.name() == name);
        let read = |kind: Kind, id: &str| match kind {
            Kind::Form => stock.forms.contains_key(id),
            Kind::Family => stock.families.contains_key(id),
            Kind::Sheet => stock.sheets.contains_key(id),
            Kind::Procedure => stock.procedures.contains_key(id),
            _ => false,
        };
        let documents = Kind::ALL.iter().flat_map(|kind| parsed.library.documents(*kind));
        let mut broken: Vec<Self> = documents
            .filter(|document| !read(document.kind, &document.id) && faulty(&document.source.name))
            .map(|document| Self { id: document.id.clone(), file: document.source.name.clone() })
            .collect();
        for file in files.list.iter().filter(|file| !parsed.library.plugins.contains_key(&file.plugin)) {
            let manifest = format!("{}/plugin.yaml", file.plugin);
            let id = file.path.rsplit('/').next().and_then(|name| name.split_once('.'));
            if let (Some((id, _)), true) = (id, faulty(&manifest)) {
                broken.push(Self { id: id.to_owned(), file: manifest });
            }
        }
        broken
    }

    fn is_in(&self, problem: &Diagnostic) -> bool {
        problem.place.name().replace('\\', "/").ends_with(&self.file)
    }
}

/// Answers are checked only where their job has a plan, and one without a plan has an error of its own.
fn of_job(problem: &Diagnostic, problems: &Problems) -> Option<usize> {
    let unchecked = problem.code == Code::FaultyJob && !problem.is_error();
    if unchecked { problems.iter().position(Diagnostic::is_error) } else { None }
}

/// Folds what follows under its cause.
pub fn causes_first(problems: Problems, broken: &[Broken]) -> Problems {
    let mut under: IndexMap<usize, usize> = IndexMap::new();
    for (index, problem) in problems.iter().enumerate() {
        let cause = of_units(problem, &problems)
            .or_else(|| of_plugin(problem, &problems))
            .or_else(|| of_document(problem, &problems, broken))
            .or_else(|| of_key(problem, &problems))
            .or_else(|| of_job(problem, &problems));
        if let Some(cause) = cause.filter(|cause| *cause != index) {
            under.insert(index, cause);
        }
    }
    let mut kept = Problems::new();
    for (index, problem) in problems.iter().enumerate().filter(|(index, _)| !under.contains_key(index)) {
        let follow = under.keys().filter(|follower| last(**follower, &under) == index).count();
        kept.push(Diagnostic { follow: problem.follow + follow, ..problem.clone() });
    }
    kept
}

/// The cause behind a chain of causes. A circle would leave nothing to be shown: its first link stands for it.
fn last(mut index: usize, under: &IndexMap<usize, usize>) -> usize {
    for _ in 0..under.len() {
        match under.get(&index) {
            Some(cause) => index = *cause,
            None => return index,
        }
    }
    index
}

fn first(problems: &[Diagnostic], wanted: impl Fn(&Diagnostic) -> bool) -> Option<usize> {
    problems.iter().position(wanted)
}

fn in_units(problem: &Diagnostic) -> bool {
    problem.place.name().replace('\\', "/").rsplit('/').nth(1) == Some(Kind::Units.folder())
}

/// With a unit that is faulty nothing is certain that is said of values.
fn of_units(problem: &Diagnostic, problems: &[Diagnostic]) -> Option<usize> {
    if in_units(problem) || problem.place.name().ends_with("plugin.yaml") || problem.code == Code::InvalidYaml {
        return None;
    }
    first(problems, |other| in_units(other) && other.is_error())
}

/// Nothing uses a file, where the one that was to use it has a fault.
fn of_plugin(problem: &Diagnostic, problems: &[Diagnostic]) -> Option<usize> {
    if problem.code != Code::StrayFile {
        return None;
    }
    let plugin = |problem: &Diagnostic| {
        let name = problem.place.name().replace('\\', "/");
        name.rsplitn(3, '/').nth(2).map(str::to_owned)
    };
    let own = plugin(problem)?;
    first(problems, |other| other.is_error() && plugin(other).as_ref() == Some(&own))
}

/// What names a document that could not be used.
fn of_document(problem: &Diagnostic, problems: &[Diagnostic], broken: &[Broken]) -> Option<usize> {
    let Some(About::Document(id)) = &problem.about else { return None };
    let cause = broken.iter().find(|one| one.id == *id && !one.is_in(problem))?;
    first(problems, |other| cause.is_in(other) && other.is_error())
}

/// Something that seems to be missing, where a key in the same block is not understood.
fn of_key(problem: &Diagnostic, problems: &[Diagnostic]) -> Option<usize> {
    if problem.about != Some(About::Absent) {
        return None;
    }
    let codes = [Code::UnknownKey, Code::DuplicateKey];
    first(problems, |other| codes.contains(&other.code) && other.is_error() && same_block(&problem.place, &other.place))
}

/// Whether two places lie in one item of a list, or on one line.
fn same_block(of: &Place, other: &Place) -> bool {
    if of.name() != other.name() || of.source().text != other.source().text {
        return false;
    }
    let text = &of.source().text;
    let line_of = |at: usize| text[..at].rfind('\n').map_or(0, |newline| newline + 1);
    let (start, end) = (line_of(of.range().start), line_of(other.range().start));
    if start == end {
        return true;
    }
    // The column of an item's keys: deeper or equal lines belong to it.
    let head = text[start..].lines().next().unwrap_or_default();
    if start > end || !head.trim_start().starts_with("- ") {
        return false;
    }
    let column = head.len() - head.trim_start().len();
    let between = text[start..end].lines().skip(1).chain(text[end..].lines().next());
    between.filter(|line| !line.trim().is_empty()).all(|line| line.len() - line.trim_start().len() > column)
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::source::Source;

    #[test]
    fn what_follows_is_counted_under_its_cause() {
        let text = "steps:\n  - id: a\n    does: x\n  - id: b\n";
        let source = Source::new("p/procedures/one.yaml", text);
        let at = |word: &str| Place::new(&source, text.find(word).unwrap()..text.find(word).unwrap() + 1);
        let other = Source::new("p/families/two.yaml", "form: kiln\n");
        let form = Source::new("p/forms/kiln.yaml", "form: [\n");
        let problems = vec![
            Diagnostic::error(Code::StepKind, &at("a\n"), "step `a` has no kind").absent(),
            Diagnostic::error(Code::UnknownKey, &at("does"), "unknown key `does`"),
            Diagnostic::error(Code::StepKind, &at("b\n"), "step `b` has no kind").absent(),
            Diagnostic::error(Code::UnknownReference, &Place::new(&other, 6..10), "there is no form `kiln`")
                .speaks_of("kiln"),
            Diagnostic::error(Code::UnfitValue, &Place::new(&other, 6..10), "`kiln` in other words, of something else"),
            Diagnostic::error(Code::InvalidYaml, &Place::new(&form, 6..7), "not closed"),
        ];
        let broken = [Broken { id: "kiln".into(), file: "p/forms/kiln.yaml".into() }];
        let kept = causes_first(problems, &broken);
        let told: Vec<(&str, usize)> = kept.iter().map(|one| (one.message.as_str(), one.follow)).collect();
        assert_eq!(
            told,
            [
                ("unknown key `does`", 1),
                ("step `b` has no kind", 0),
                ("`kiln` in other words, of something else", 0),
                ("not closed", 1)
            ]
        );
    }
}
