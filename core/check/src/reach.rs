//! How far a job for one family comes in a procedure, and what it needs there: told from the conditions alone, before anything runs.

use indexmap::{IndexMap, IndexSet};

use super::expression::contradiction;
use super::given::Scope;
use super::tree::Tree;
use super::view::View;
use standpipe_diagnostic::source::Place;
use standpipe_form::{Facts, snake};
use standpipe_procedure::{Children, Expr, Procedure, Step};
use standpipe_script::Shape;
use standpipe_yaml::At;

/// The steps that a job for one family, or one variant of it, can come to.
pub struct Reach<'a> {
    tree: &'a Tree<'a>,
    facts: &'a Facts,
    /// Steps that it can come to.
    pub reached: IndexSet<&'a str>,
    /// Steps that a condition of their own takes out; what is inside them stands in neither.
    pub left_out: IndexMap<&'a str, &'a Place>,
    /// Fields that are needed there, each with a place that says so.
    pub needed: Vec<(String, &'a Place)>,
    /// Gates that can't be met.
    pub never: Vec<Never<'a>>,
    gates: Vec<&'a Expr>,
    given: IndexSet<&'a str>,
    within: IndexSet<&'a str>,
}

/// Why a gate can't be met, at its place.
pub enum Never<'a> {
    /// By what the family says.
    False(&'a Place),
    /// Not together with another condition.
    Against(&'a Place, &'a Place),
    /// It reads a name that only steps give which are left out.
    Unread(&'a Place, String),
}

impl<'a> Reach<'a> {
    pub fn of(tree: &'a Tree<'a>, facts: &'a Facts) -> Self {
        let mut reach = Self {
            tree,
            facts,
            reached: IndexSet::new(),
            left_out: IndexMap::new(),
            needed: Vec::new(),
            never: Vec::new(),
            gates: Vec::new(),
            given: IndexSet::new(),
            within: IndexSet::new(),
        };
        reach.procedure(tree.root);
        for procedure in &tree.aside {
            reach.procedure(procedure);
        }
        for gate in std::mem::take(&mut reach.gates) {
            reach.unread(gate);
        }
        reach
    }

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
        if let Some(when) = step.when.as_ref().filter(|when| self.truth(when) == Some(false)) {
            self.left_out.insert(&step.id, when.place());
            return;
        }
        self.reached.insert(&step.id);
        self.given.extend(step.kind.fields().iter().map(|field| field.name.as_str()));
        self.given.extend(step.kind.gives().into_iter().map(|name| name.as_str()));
        self.declared(&step.needs);
        // A gate is judged by all that it mentions, or it is not shown: what it says of the family is needed, declared or not.
        if let Some(gate) = &step.gate {
            self.mentioned(&gate.must);
            self.gates.push(&gate.must);
        }
        if let Some(gate) = &step.gate
            && self.mentions_facts(&gate.must)
        {
            if self.truth(&gate.must) == Some(false) {
                self.never.push(Never::False(gate.must.place()));
            } else if let Some((against, part)) = self.contradiction(&gate.must) {
                self.never.push(Never::Against(part.place(), against.place()));
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

    /// A gate is not shown, and so never met, as long as a name in it has no value.
    fn unread(&mut self, gate: &'a Expr) {
        let everything = &self.tree.everything.0;
        let lost = gate.names(&self.tree.stock.scripts).find(|name| {
            let first = name.path[0].as_str();
            !name.all && everything.contains_key(first) && !self.given.contains(first)
        });
        if let Some(name) = lost {
            self.never.push(Never::Unread(gate.place(), name.path[0].clone()));
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
    fn contradiction(&self, expr: &'a Expr) -> Option<(&'a Expr, &'a Expr)> {
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
