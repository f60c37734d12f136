//! A procedure against every family that it can be for.

use indexmap::{IndexMap, IndexSet};

use super::reach::{Never, Reach};
use super::stock::Stock;
use super::tree::Tree;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems, Severity};
use standpipe_form::Family;
use standpipe_procedure::Procedure;
use standpipe_quantity::value::Value;

pub fn each<'a>(stock: &'a Stock, tree: &'a Tree<'a>, steps: &mut Steps, problems: &mut Problems) {
    let Some(form) = tree.form else { return };
    let mut lacking_in: Vec<(&Family, IndexMap<String, Lacking>)> = Vec::new();
    for family in stock.families.values().filter(|family| family.form == form.id) {
        let mut lacking: IndexMap<String, Lacking> = IndexMap::new();
        // Each variant by itself: what one says the other may not.
        for variant in variants(family) {
            let facts = family.known(variant);
            let reach = Reach::of(tree, facts);
            for never in &reach.never {
                problems.push(of_family(never, family));
            }
            steps.add(&reach);
            for (path, place) in reach.needed {
                if facts.value(&path).is_none_or(Value::is_unknown) {
                    let written = facts.origin(&path).is_some();
                    let entry = lacking.entry(path).or_insert_with(|| Lacking {
                        place: place.clone(),
                        written,
                        variants: Vec::new(),
                    });
                    entry.written &= written;
                    let told = entry.variants.last().map(String::as_str) == variant;
                    entry.variants.extend(variant.filter(|_| !told).map(str::to_owned));
                }
            }
        }
        lacking_in.push((family, lacking));
    }
    misspelt(&mut lacking_in, problems);
    for (family, lacking) in lacking_in {
        report(lacking, family, tree.root, problems);
    }
}

/// Every variant of a family, or the family where it has none.
pub fn variants(family: &Family) -> Vec<Option<&str>> {
    match family.variants.is_empty() {
        true => vec![None],
        false => family.variants.keys().map(|id| Some(id.as_str())).collect(),
    }
}

fn of_family(never: &Never<'_>, family: &Family) -> Diagnostic {
    let message = format!("this gate can never be met for the family `{}`", family.id);
    let problem = |place: &Place| Diagnostic::error(Code::NeverMet, place, message.clone());
    let problem = match never {
        Never::False(place) => problem(place),
        Never::Against(place, against) => {
            problem(place).also(against, "not together with this, which has to hold as well")
        }
        Never::Unread(place, name) => problem(place).label(format!("no step that is done for it gives `{name}`")),
    };
    problem
        .also(&family.place, "by what this family says")
        .help("correct the gate or the family, or add a `when:` that leaves the step out for it")
}

/// Steps that some family comes to, and those that one is not taken through, over all procedures that a job can name.
#[derive(Default)]
pub struct Steps {
    reached: IndexSet<String>,
    left_out: IndexMap<String, Place>,
}

impl Steps {
    fn add(&mut self, reach: &Reach<'_>) {
        self.reached.extend(reach.reached.iter().map(|id| (*id).to_owned()));
        self.left_out.extend(reach.left_out.iter().map(|(id, place)| ((*id).to_owned(), (*place).clone())));
    }

    /// Those that all families are led around.
    pub fn unreached(self, problems: &mut Problems) {
        for (id, place) in self.left_out.iter().filter(|(id, _)| !self.reached.contains(*id)) {
            // What is wrong with the condition has been told.
            let range = place.range();
            let inside =
                |known: &Diagnostic| known.place.name() == place.name() && range.contains(&known.place.range().start);
            if problems.iter().any(inside) {
                continue;
            }
            let message = format!("no family reaches the step `{id}`");
            let note = Diagnostic::warning(Code::NeverRuns, place, message)
                .help("if it is for a family that is yet to be written, leave it; otherwise correct the condition, or take the step out");
            problems.push(Diagnostic { severity: Severity::Note, ..note });
        }
    }
}

/// A field under any name that no family has, and that is nearly one that some do, is a slip of the procedure: said once.
fn misspelt(lacking_in: &mut [(&Family, IndexMap<String, Lacking>)], problems: &mut Problems) {
    let Some((_, first)) = lacking_in.first() else { return };
    let known: Vec<String> =
        lacking_in.iter().flat_map(|(family, _)| family.known(None).leaves()).map(|(path, _)| path).collect();
    let slips: Vec<(String, Near)> = first
        .iter()
        .filter(|(path, _)| lacking_in.iter().all(|(_, lacking)| lacking.get(*path).is_some_and(|one| !one.written)))
        .filter_map(|(path, _)| {
            let others = known.iter().map(String::as_str).filter(|known| !known.starts_with(path.as_str()));
            Some((path.clone(), Near::of(path, others)?))
        })
        .collect();
    for (path, near) in slips {
        let mut place = None;
        for (_, lacking) in &mut *lacking_in {
            place = lacking.shift_remove(&path).map(|one| one.place).or(place);
        }
        if let Some(place) = place {
            problems.push(
                Diagnostic::error(Code::UnknownField, &place, format!("no family has `{path}`")).meant(&path, &near),
            );
        }
    }
}

fn report(lacking: IndexMap<String, Lacking>, family: &Family, root: &Procedure, problems: &mut Problems) {
    let (unknown, absent): (Vec<_>, Vec<_>) = lacking.into_iter().partition(|(_, one)| one.written);
    for (path, one) in absent {
        problems.push(one.report(&path, family, root));
    }
    // Nothing is wrong with what is written as unknown, and there may be much of it.
    if let Some((_, first)) = unknown.first() {
        let paths: Vec<&str> = unknown.iter().map(|(path, _)| path.as_str()).collect();
        let message =
            format!("`{}` says `unknown` for what `{}` needs: {}", family.id, root.id.value, paths.join(", "));
        let note = Diagnostic::warning(Code::UnmetNeed, &family.place, message)
            .also(&first.place, "needed here")
            .help("look it up in the maker's service information; a job stops where it is needed");
        problems.push(Diagnostic { severity: Severity::Note, ..note });
    }
}

struct Lacking {
    place: Place,
    /// It stands there as `unknown`: somebody knows that it has to be looked up.
    written: bool,
    variants: Vec<String>,
}

impl Lacking {
    fn report(self, path: &str, family: &Family, root: &Procedure) -> Diagnostic {
        let whose = match (self.variants.as_slice(), self.variants.len() == family.variants.len()) {
            ([], _) | (_, true) => format!("the family `{}`", family.id),
            (some, false) => format!("the family `{}`, variant {},", family.id, some.join(" and ")),
        };
        Diagnostic::warning(
            Code::UnmetNeed,
            &self.place,
            format!("{whose} has no `{path}`, which `{}` needs", root.id.value),
        )
        .also(&family.place, "this family")
        .help(format!("add `{path}` to the family, as `unknown` if it has yet to be looked up"))
    }
}
