//! Through a procedure in the order in which a job goes, with the names that are there at each step.

use super::calls;
use super::expression::Use;
use super::given::Scope;
use super::tree::Tree;
use super::view::View;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_library::Shop;
use standpipe_procedure::{Children, Next, Procedure, Progress, Step, With};
use standpipe_script::Shape;

pub struct Walk<'a, 'p> {
    pub tree: &'a Tree<'a>,
    pub shop: Option<&'a Shop>,
    pub problems: &'p mut Problems,
    pub scope: Scope,
    /// Names given inside the blocks that are being repeated: from the second round on they are there.
    rounds: Vec<Scope>,
    /// Ids of the procedures that enclose the present step.
    within: Vec<&'a str>,
}

/// Whatever the family.
pub fn general(tree: &Tree<'_>, shop: Option<&Shop>, problems: &mut Problems) {
    let mut walk = Walk { tree, shop, problems, scope: Scope::default(), rounds: Vec::new(), within: Vec::new() };
    walk.procedure(tree.root);
    for procedure in &tree.procedures {
        walk.pages(procedure);
    }
    for procedure in &tree.aside {
        // They can be called at any step, and find what was given until then.
        walk.scope = tree.everything.clone();
        walk.procedure(procedure);
    }
}

impl<'a> Walk<'a, '_> {
    pub fn view(&self) -> View<'_> {
        View {
            stock: self.tree.stock,
            form: self.tree.form,
            facts: None,
            shop: self.shop,
            scope: &self.scope,
            everything: &self.tree.everything,
        }
    }

    fn procedure(&mut self, procedure: &'a Procedure) {
        if self.within.contains(&procedure.id.as_str()) {
            return;
        }
        self.within.push(&procedure.id);
        for step in &procedure.steps {
            self.step(step);
        }
        if let Some(abandon) = &procedure.abandon_when {
            self.expression(abandon, Use::Abandon);
        }
        let before = std::mem::replace(&mut self.scope, self.tree.everything.clone());
        for line in &procedure.tag {
            self.template(&line.text);
            if let Some(when) = &line.when {
                self.expression(when, Use::Tag);
            }
        }
        for must in procedure.points.values() {
            self.expression(must, Use::Must);
        }
        for value in procedure.columns.values() {
            self.expression(value, Use::Value);
        }
        self.scope = before;
        self.within.pop();
    }

    fn step(&mut self, step: &'a Step) {
        if let Some(when) = &step.when {
            self.expression(when, Use::When);
        }
        // What a computation shows is shown with its result.
        let computes =
            matches!(step.kind.next(&Progress::default()), Next::Give { .. } | Next::Call { gives: Some(_), .. });
        if !computes {
            self.texts(step);
        }
        let children = step.kind.children();
        let repeats = matches!(children, Children::Steps(_));
        let value = if repeats { None } else { self.own(step) };
        self.scope.add_step(step, value, self.tree.stock, self.tree.form);
        if computes {
            self.texts(step);
        }
        match &children {
            Children::None => {}
            Children::Steps(steps) => {
                self.rounds.push(self.given_by(steps));
                for step in *steps {
                    self.step(step);
                }
                self.rounds.pop();
                for until in step.kind.expressions() {
                    self.expression(until, Use::Until);
                }
            }
            Children::Procedure(_) => {
                if let Some(procedure) = self.tree.included(&children) {
                    self.procedure(procedure);
                }
            }
        }
        if let Some(gate) = &step.gate {
            self.expression(&gate.must, Use::Must);
            self.confidence(gate);
            if let Some(at_stake) = &gate.at_stake {
                self.template(at_stake);
            }
        }
        self.other_people(step);
    }

    fn texts(&mut self, step: &'a Step) {
        let templates = [Some(&step.title), step.why.as_ref(), step.witness.as_ref()];
        for template in templates.into_iter().flatten().chain(&step.show).chain(step.kind.texts()) {
            self.template(template);
        }
    }

    /// The expressions of the step's own kind; gives the shape of what it computes, if it does.
    fn own(&mut self, step: &'a Step) -> Option<Shape> {
        let expressions = step.kind.expressions();
        let next = step.kind.next(&Progress::default());
        match next {
            Next::Call { sheet, with: With::Exprs(with), .. } => {
                let given: Vec<(&String, &Place, Shape)> =
                    with.iter().map(|(name, expr)| (name, expr.place(), self.expression(expr, Use::Value))).collect();
                if let Some(called) = self.tree.stock.sheets.get(sheet.as_str()) {
                    calls::check(called, sheet, &given, &self.tree.stock.units, self.problems);
                }
                None
            }
            Next::Give { expr, .. } => Some(self.expression(expr, Use::Value)),
            _ => {
                for (index, expr) in expressions.into_iter().enumerate() {
                    let purpose = match (step.kind.word(), &next) {
                        ("await", _) => Use::Within,
                        // `each` has what it goes over first, and then how long each is held, if it is.
                        ("each", Next::Settle { what: "of", .. }) if index == 0 => Use::Items,
                        _ => Use::Time,
                    };
                    self.expression(expr, purpose);
                }
                if let Some(sheet) =
                    step.kind.sheet().and_then(|id| Some((self.tree.stock.sheets.get(id.as_str())?, id)))
                {
                    match step.kind.word() {
                        "await" => calls::forecast(sheet.0, sheet.1, self.problems),
                        _ => calls::order(sheet.0, sheet.1, self.problems),
                    }
                }
                None
            }
        }
    }

    fn given_by(&self, steps: &'a [Step]) -> Scope {
        let mut scope = Scope::default();
        for step in steps {
            scope.add_step(step, None, self.tree.stock, self.tree.form);
            let children = step.kind.children();
            let inner = match &children {
                Children::Steps(steps) => self.given_by(steps),
                Children::Procedure(_) => match self.tree.included(&children) {
                    // A circle has been reported; here it must not be followed.
                    Some(procedure) if !self.within.contains(&procedure.id.as_str()) => {
                        procedure.all_steps().into_iter().fold(Scope::default(), |mut scope, step| {
                            scope.add_step(step, None, self.tree.stock, self.tree.form);
                            scope
                        })
                    }
                    _ => continue,
                },
                Children::None => continue,
            };
            for (name, given) in inner.0 {
                scope.add(&name, given.shape, &given.place);
            }
        }
        scope
    }

    /// Whether a name was given in an earlier round of a block around the present step.
    pub fn in_an_earlier_round(&self, name: &str) -> bool {
        self.rounds.iter().any(|scope| scope.0.contains_key(name))
    }

    fn other_people(&mut self, step: &Step) {
        for other in step.kind.fields().iter().filter_map(|field| field.other_than.as_ref()) {
            if other.as_str() == "doer" || self.scope.0.contains_key(other.as_str()) || self.tree.incomplete {
                continue;
            }
            let known = self.scope.names().chain(["doer"]);
            let problem =
                Diagnostic::error(Code::UnknownName, &other.place, format!("nobody is named `{}` here", other.value))
                    .expected("`doer`, or a name that an earlier step reads");
            let problem = problem.nearest(other, known, "read the person's name in an earlier step");
            self.problems.push(problem);
        }
    }
}
