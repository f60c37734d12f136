//! A procedure against every family that it can be for.

use indexmap::{IndexMap, IndexSet};

use super::expression::contradiction;
use super::given::Scope;
use super::stock::Stock;
use super::tree::Tree;
use super::view::View;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, Severity, nearest};
use standpipe_form::{Facts, Family, snake};
use standpipe_procedure::{Children, Expr, Procedure, Step};
use standpipe_quantity::value::Value;
use standpipe_script::Shape;
use standpipe_yaml::At;

pub fn each(stock: &Stock, tree: &Tree<'_>, problems: &mut Problems) {
    let Some(form) = tree.form else { return };
    let mut lacking_in: Vec<(&Family, IndexMap<String, Lacking>)> = Vec::new();
    for family in stock.families.values().filter(|family| family.form == form.id) {
        let mut lacking: IndexMap<String, Lacking> = IndexMap::new();
        // Each variant by itself: what one says the other may not.
        let variants: Vec<Option<&str>> = match family.variants.is_empty() {
            true => vec![None],
            false => family.variants.keys().map(|id| Some(id.as_str())).collect(),
        };
        for variant in variants {
            let mut one = OneFamily {
                tree,
                facts: family.known(variant),
                needed: Vec::new(),
                never: Vec::new(),
                within: IndexSet::new(),
            };
            one.procedure(tree.root);
            for procedure in &tree.aside {
                one.procedure(procedure);
            }
            for (place, against) in &one.never {
                let message = format!("this gate can never be met for the family `{}`", family.id);
                let mut problem = Diagnostic::error(Code::NeverMet, place, message);
                if let Some(against) = against {
                    problem = problem.also(against, "not together with this, which has to hold as well");
                }
                problems.push(
                    problem
                        .also(&family.place, "by what this family says")
                        .help("correct the gate or the family, or add a `when:` that leaves the step out for it"),
                );
            }
            let facts = one.facts;
            for (path, place) in one.needed {
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

/// A field under any name that no family has, and that is nearly one that some do, is a slip of the procedure: said once.
fn misspelt(lacking_in: &mut [(&Family, IndexMap<String, Lacking>)], problems: &mut Problems) {
    let Some((_, first)) = lacking_in.first() else { return };
    let known: Vec<String> =
        lacking_in.iter().flat_map(|(family, _)| family.known(None).leaves()).map(|(path, _)| path).collect();
    let slips: Vec<(String, String)> = first
        .iter()
        .filter(|(path, _)| lacking_in.iter().all(|(_, lacking)| lacking.get(*path).is_some_and(|one| !one.written)))
        .filter_map(|(path, _)| {
            let others = known.iter().map(String::as_str).filter(|known| !known.starts_with(path.as_str()));
            Some((path.clone(), nearest(path, others)?.to_owned()))
        })
        .collect();
    for (path, near) in slips {
        let mut place = None;
        for (_, lacking) in &mut *lacking_in {
            place = lacking.shift_remove(&path).map(|one| one.place).or(place);
        }
        if let Some(place) = place {
            problems.push(
                Diagnostic::error(Code::UnknownField, &place, format!("no family has `{path}`"))
                    .help(format!("did you mean `{near}`?")),
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

/// The steps that a job for one family can come to.
struct OneFamily<'a> {
    tree: &'a Tree<'a>,
    facts: &'a Facts,
    needed: Vec<(String, &'a Place)>,
    never: Vec<(Place, Option<Place>)>,
    within: IndexSet<&'a str>,
}

impl<'a> OneFamily<'a> {
    fn procedure(&mut self, procedure: &'a Procedure) {
        if !self.within.insert(&procedure.id) {
            return;
        }
        self.declared(&procedure.needs);
        for step in &procedure.steps {
            self.step(step);
        }
    }

    fn step(&mut self, step: &'a Step) {
        if step.when.as_ref().and_then(|when| self.truth(when)) == Some(false) {
            return;
        }
        self.declared(&step.needs);
        // A gate is judged by all that it mentions, or it is not shown: what it says of the family is needed, declared or not.
        if let Some(gate) = &step.gate {
            self.mentioned(&gate.must);
        }
        if let Some(gate) = &step.gate
            && self.mentions_facts(&gate.must)
        {
            if self.truth(&gate.must) == Some(false) {
                self.never.push((gate.must.place().clone(), None));
            } else if let Some((against, part)) = self.contradiction(&gate.must) {
                self.never.push((part.place().clone(), Some(against.place().clone())));
            }
        }
        let children = step.kind.children();
        match &children {
            Children::Steps(steps) => steps.iter().for_each(|step| self.step(step)),
            Children::Procedure(_) => {
                if let Some(procedure) = self.tree.included(&children) {
                    self.procedure(procedure);
                }
            }
            Children::None => {}
        }
    }

    fn declared(&mut self, needs: &'a [At<String>]) {
        self.needed.extend(needs.iter().map(|need| (snake(need), &need.place)));
    }

    fn mentioned(&mut self, expr: &'a Expr) {
        for name in expr.names(&self.tree.stock.scripts).filter(|name| name.path[0] == "spec") {
            let path = match &name.path[1..] {
                [path @ .., end] if end == "low" || end == "high" => path.join("."),
                path => path.join("."),
            };
            // A group has no value of its own.
            if self.facts.value(&path).is_some() || self.tree.form.is_some_and(|form| form.field(&path).is_some()) {
                self.needed.push((path, expr.place()));
            }
        }
    }

    fn mentions_facts(&self, expr: &Expr) -> bool {
        let scripts = &self.tree.stock.scripts;
        let mut names = expr.parts().filter_map(|part| part.compiled(scripts).ok()).flat_map(|one| one.names());
        names.any(|name| name.path[0] == "spec")
    }

    /// Of conditions that could each be met.
    fn contradiction<'e>(&self, expr: &'e Expr) -> Option<(&'e Expr, &'e Expr)> {
        contradiction(expr, &self.tree.stock.scripts, &self.view())
    }

    fn view(&self) -> View<'_> {
        let everything: &Scope = &self.tree.everything;
        View {
            stock: self.tree.stock,
            form: self.tree.form,
            facts: Some(&self.facts.values),
            shop: None,
            scope: everything,
            everything,
        }
    }

    /// Of several conditions all have to hold.
    fn truth(&self, expr: &Expr) -> Option<bool> {
        let parts: Vec<Option<bool>> = expr.parts().map(|part| self.truth_of(part)).collect();
        if parts.contains(&Some(false)) {
            return Some(false);
        }
        parts.iter().all(|part| *part == Some(true)).then_some(true)
    }

    fn truth_of(&self, expr: &Expr) -> Option<bool> {
        let compiled = expr.compiled(&self.tree.stock.scripts).ok()?;
        let view = self.view();
        // What can't be right whatever the family has been said already.
        match self.tree.stock.scripts.infer(compiled, &view, &mut Vec::new()) {
            Shape::Truth(truth) => truth,
            _ => None,
        }
    }
}
