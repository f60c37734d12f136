//! Which worked examples run what differs: those are the ones to look at, and to run, before a change is taken over.

use indexmap::{IndexMap, IndexSet};
use serde::Serialize;

use super::{Difference, Version, Way};
use crate::case::{Case, What, texts};
use crate::files::mentions;
use standpipe_diagnostic::Problems;
use standpipe_library::{Document, Kind};

/// What the cases in force make of the differences, but for those of words alone.
#[derive(Debug, Default, Serialize)]
pub struct Tried {
    /// By `plugin/id`: what differs in what the case runs, such as `procedure level`.
    pub cases: IndexMap<String, Vec<String>>,
    /// What differs and that no case runs.
    pub untried: Vec<String>,
}

/// The cases are those of the newer version.
pub fn tried(differences: &[Difference], version: &Version) -> Tried {
    let differs: IndexSet<&str> =
        differences.iter().filter(|one| one.way != Way::Words).filter_map(|one| one.of.split(", ").next()).collect();
    let mut tried = Tried::default();
    let mut run: IndexSet<&str> = IndexSet::new();
    for case in Case::all(&version.parsed, &version.stock, &mut Problems::new()) {
        let runs = runs(&case, version);
        let of: Vec<&str> = differs.iter().copied().filter(|one| runs.contains(*one)).collect();
        if !of.is_empty() {
            run.extend(&of);
            let of = of.into_iter().map(str::to_owned).collect();
            tried.cases.insert(format!("{}/{}", case.plugin, case.id.as_str()), of);
        }
    }
    // A plugin as a whole runs nowhere; a case that is gone can't.
    let runs_nowhere = |one: &&str| !run.contains(one) && !one.starts_with("plugin ") && !one.starts_with("case ");
    tried.untried = differs.iter().copied().filter(runs_nowhere).map(str::to_owned).collect();
    tried
}

/// Every document that a case runs, as a difference calls it.
fn runs(case: &Case, version: &Version) -> IndexSet<String> {
    let library = &version.parsed.library;
    let mut found: IndexMap<String, &Document> = IndexMap::new();
    let mut add = |kind: Kind, id: &str| {
        found.extend(library.document(kind, id).map(|document| (format!("{kind} {id}"), &**document)));
    };
    let named = texts(case, library);
    let (procedure, family) = match &case.what {
        What::Sheet { sheet, .. } => {
            add(Kind::Sheet, sheet);
            (None, None)
        }
        What::Job(job) => (Some(job.procedure.as_str()), Some(job.family.as_str())),
        What::Simulation(simulation) => (Some(simulation.question.procedure.as_str()), Some(simulation.family())),
        What::Faulty { .. } => return IndexSet::new(),
    };
    if let Some(root) = procedure.and_then(|id| version.stock.procedures.get(id)) {
        version.stock.reached(root).into_iter().for_each(|id| add(Kind::Procedure, id));
    }
    if let Some(family) = family.and_then(|id| version.stock.families.get(id)) {
        add(Kind::Family, family.id.as_str());
        add(Kind::Form, family.form.as_str());
    }
    for kind in [Kind::Overlay, Kind::Model, Kind::People] {
        for document in library.documents(kind) {
            if named.iter().any(|text| mentions(&text.text, &document.id)) {
                add(kind, &document.id);
            }
        }
    }
    // What these name, and what that names in turn.
    let mut next = 0;
    while let Some((_, document)) = found.get_index(next) {
        next += 1;
        let text = &document.source.text;
        for kind in [Kind::Sheet, Kind::Script, Kind::Table] {
            for other in library.documents(kind).filter(|other| names(text, kind, &other.id)) {
                found.entry(format!("{kind} {}", other.id)).or_insert(other);
            }
        }
    }
    let mut all: IndexSet<String> = found.into_keys().collect();
    all.insert(format!("{} {}", Kind::Case, case.id.as_str()));
    all
}

fn names(text: &str, kind: Kind, id: &str) -> bool {
    match kind {
        Kind::Script => mentions(text, &format!("{id}::")),
        Kind::Sheet => ["sheet", "order_by", "forecast"].iter().any(|key| mentions(text, &format!("{key}: {id}"))),
        _ => mentions(text, id),
    }
}
