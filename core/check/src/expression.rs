//! One expression or placeholder where it stands.

use super::view::Lost;
use super::walk::Walk;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems, Severity, one_slip};
use standpipe_procedure::{Expr, Template};
use standpipe_script::{Expression, Measured, Name, Scripts, Shape, Shapes};

/// What an expression is for, and so what it must come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    When,
    Must,
    Until,
    Abandon,
    Tag,
    /// A range to wait for.
    Within,
    /// How long something is held.
    Time,
    /// What `each` goes over.
    Items,
    Value,
}

/// The first of several conditions that can't hold where those before it do, and the one of these that it contradicts: the
/// first, if it takes several of them.
pub fn contradiction<'a>(expr: &'a Expr, scripts: &Scripts, shapes: &dyn Shapes) -> Option<(&'a Expr, &'a Expr)> {
    let parts: Vec<&Expr> = expr.parts().collect();
    let never = |others: &[&Expr], part: &Expr| {
        let others: Option<Vec<&Expression>> = others.iter().map(|one| one.compiled(scripts).ok()).collect();
        let (Some(others), Ok(part)) = (others, part.compiled(scripts)) else { return false };
        scripts.infer_among(&others, part, shapes, &mut Problems::new()) == Shape::Truth(Some(false))
    };
    let at = (1..parts.len()).find(|at| never(&parts[..*at], parts[*at]))?;
    let against = parts[..at].iter().find(|one| never(std::slice::from_ref(*one), parts[at]));
    Some((against.copied().unwrap_or(parts[0]), parts[at]))
}

fn speaks_of_round(of: &Expression) -> bool {
    of.names().iter().any(|name| name.path.first().is_some_and(|first| first == "round"))
}

impl Walk<'_, '_> {
    /// What it gives, and all that is wrong with it; of several conditions each by itself, and then all together.
    pub fn expression(&mut self, expr: &Expr, purpose: Use) -> Shape {
        let shapes: Vec<Shape> = expr.parts().map(|part| self.part(part, purpose)).collect();
        if purpose == Use::Must && !shapes.contains(&Shape::Truth(Some(false))) {
            self.together(expr);
        }
        shapes.into_iter().next().unwrap_or(Shape::Any)
    }

    /// Conditions from several files that could each be met, and never at once.
    fn together(&mut self, expr: &Expr) {
        let view = self.view();
        if let Some((against, part)) = contradiction(expr, &self.tree.stock.scripts, &view) {
            let problem =
                Diagnostic::error(Code::NeverMet, part.place(), "this gate can never be met: not both at once")
                    .also(against.place(), "which has to hold as well")
                    .help("tighten the gate in the same direction, or take this condition out");
            self.problems.push(problem);
            return;
        }
        // One that only repeats what the others ask for is taken for a limit, and is none.
        let stock = self.tree.stock;
        let parts: Vec<&Expr> = expr.parts().collect();
        for at in 1..parts.len() {
            let others: Vec<&Expression> =
                parts[..at].iter().filter_map(|one| one.compiled(&stock.scripts).ok()).collect();
            let Ok(part) = parts[at].compiled(&stock.scripts) else { continue };
            let held = stock.scripts.infer_among(&others, part, &self.view(), &mut Problems::new());
            // The gate lets later rounds pass in another way, and this one does not.
            if parts[0].text().contains("||")
                && others.first().is_some_and(|gate| speaks_of_round(gate))
                && !speaks_of_round(part)
            {
                let note = Diagnostic::warning(
                    Code::UnfitChange,
                    parts[at].place(),
                    "this has to hold in every round, and the gate has another way to be met in later ones",
                )
                .also(parts[0].place(), "which has to hold as well")
                .help("write `round > 1 || ...` in front if only the first round is meant");
                self.problems.push(Diagnostic { severity: Severity::Note, ..note });
            }
            if held == Shape::Truth(Some(true)) {
                let problem = Diagnostic::warning(
                    Code::UnfitChange,
                    parts[at].place(),
                    "this tightens nothing: the gate already asks for as much",
                )
                .also(parts[0].place(), "which has to hold as well")
                .help("write a limit that is stricter than this one, or leave the change out");
                self.problems.push(problem);
            }
        }
    }

    fn part(&mut self, expr: &Expr, purpose: Use) -> Shape {
        let stock = self.tree.stock;
        let compiled = match expr.compiled(&stock.scripts) {
            Ok(compiled) => compiled,
            Err(faults) => {
                self.problems.extend(faults);
                return Shape::Any;
            }
        };
        let mut found = Vec::new();
        let view = self.view();
        for name in compiled.names() {
            if name.all {
                if !self.tree.everything.0.contains_key(&name.path[0]) {
                    let near = Near::of(&name.path[0], self.tree.everything.names());
                    found.extend(self.unknown(&name.path[..1], near, &name.place));
                }
            } else if let Err(lost) = view.find(&name.path) {
                found.extend(self.lost(name, lost));
            }
        }
        let before = found.len();
        for compared in compiled.compared_texts() {
            if let Ok(Shape::Text(Some(options))) = view.find(&compared.path)
                && !options.contains(&compared.text)
            {
                let message = format!("`{}` is never `{}`", compared.path.join("."), compared.text);
                let problem = Diagnostic::error(Code::UnknownOption, &compared.place, message)
                    .expected(format!("one of: {}", options.join(", ")));
                found.push(problem.nearest(
                    &compared.text,
                    options.iter().map(String::as_str),
                    "write one of these, or add the option where it is picked",
                ));
            }
        }
        found.extend(self.two_signs(expr));
        let misspelt = found.len() > before;
        let shape = stock.scripts.infer(compiled, &view, &mut found);
        if !misspelt {
            found.extend(self.outcome(&shape, purpose, expr.place()));
        }
        self.problems.extend(found);
        shape
    }

    /// `a +- b` is taken for what lies around `a`, and is `a - b`.
    fn two_signs(&self, expr: &Expr) -> Option<Diagnostic> {
        let text = expr.place().text();
        let at = text.find("+-")?;
        // Inside of a text it is one.
        let inside = text[..at].matches('"').count() % 2 == 1;
        (!inside).then(|| {
            let place = expr.place().slice(at..at + 2);
            Diagnostic::error(Code::FaultyExpression, &place, "`+-` takes away: there is no ± in an expression")
                .expected("a difference with a limit")
                .help("write `abs(a - b) <= 1.N_m` for `a` within 1 N·m of `b`")
        })
    }

    fn outcome(&self, shape: &Shape, purpose: Use, place: &Place) -> Option<Diagnostic> {
        let units = &self.tree.stock.units;
        let found = shape.described(units);
        let wrong = |wanted: &str| {
            Diagnostic::error(Code::DimensionClash, place, format!("this gives {found}")).expected(wanted.to_owned())
        };
        match (purpose, shape) {
            (_, Shape::Any) => None,
            (Use::Must, Shape::Truth(Some(false))) => Some(
                Diagnostic::error(Code::NeverMet, place, "this gate can never be met")
                    .help("write what has to be true before the job goes on"),
            ),
            (Use::When, Shape::Truth(Some(false))) => Some(
                Diagnostic::error(Code::NeverRuns, place, "this step can never run")
                    .help("take the step out, or write when it is to be done"),
            ),
            (Use::Until, Shape::Truth(Some(false))) => Some(
                Diagnostic::error(Code::NeverMet, place, "this never becomes true: every round is followed by another")
                    .help("write what ends the rounds"),
            ),
            (Use::When | Use::Must | Use::Until | Use::Abandon | Use::Tag, Shape::Truth(_)) => None,
            (Use::When | Use::Must | Use::Until | Use::Abandon | Use::Tag, _) => {
                Some(wrong("true or false").help("compare it with something, such as `x < y` or `x == \"text\"`"))
            }
            (Use::Within, Shape::Range(_)) => None,
            (Use::Within, _) => Some(wrong("a range").help("name a range of the family, or write `range(low, high)`")),
            (Use::Time, Shape::Quantity(time)) if self.is_time(time) => None,
            (Use::Time, _) => Some(wrong("a time").help("write it with its unit, such as `5.s`")),
            (Use::Items, Shape::List(_) | Shape::Record(_)) => None,
            (Use::Items, Shape::Quantity(number)) if number.sample.is_plain() => None,
            (Use::Items, _) => Some(wrong("a list, a number, or a record with a `count`")),
            (Use::Value, _) => None,
        }
    }

    fn is_time(&self, measured: &Measured) -> bool {
        let units = &self.tree.stock.units;
        match Shape::of_family("time", units) {
            Shape::Quantity(time) => units.compare(&measured.sample, &time.sample).is_ok(),
            _ => true,
        }
    }

    /// `None` where a part that could not be read may give the name.
    fn unknown(&self, path: &[String], near: Option<Near>, place: &Place) -> Option<Diagnostic> {
        let meant = self.view().meant(path, place);
        if self.may_be_elsewhere(&path[0], near.as_ref()) && meant.is_none() {
            return None;
        }
        let problem = Diagnostic::error(Code::UnknownName, place, format!("no step gives `{}`", path[0]));
        Some(match (meant, near) {
            (Some(text), _) if text.name.starts_with('"') => {
                problem.help(format!("texts stand in double quotes: `{}`", text.name)).mend_word(&path[0], &text.name)
            }
            (Some(near), _) => problem.meant(&path.join("."), &near),
            (None, Some(near)) => problem.meant(&path[0], &near),
            (None, None) => problem
                .help("read or compute it in an earlier step; facts of the family are `spec.`, of the job `job.`"),
        })
    }

    /// Whether a part that could not be read may give the name: a name that is only near to another may be right.
    fn may_be_elsewhere(&self, name: &str, near: Option<&Near>) -> bool {
        self.tree.incomplete && near.is_none_or(|near| !one_slip(name, &near.name))
    }

    fn lost(&self, name: &Name, lost: Lost) -> Option<Diagnostic> {
        let place = &name.place;
        match lost {
            Lost::Unknown { near } => self.unknown(&name.path, near, place),
            Lost::Later(given) => {
                let message = format!("`{}` is used before the step that gives it", name.path[0]);
                Some(
                    Diagnostic::error(Code::UsedTooEarly, place, message)
                        .also(&given, "given here")
                        .help("move this after it; `all(name)` is empty as long as there is none"),
                )
            }
            Lost::NoField { form, path, near } => {
                let problem = Diagnostic::error(
                    Code::UnknownField,
                    place,
                    format!("the form `{form}` has no field for `{path}`"),
                );
                Some(match near {
                    Some(near) => problem.meant(&path, &near),
                    None => problem.help(format!("`standpipe show form {form}` lists the fields")),
                })
            }
            Lost::NoPart { of, name, known } => Some(no_part(Code::UnknownName, place, &of, &name, &known)),
        }
    }

    /// A placeholder is filled when the step is shown; one that nothing can fill shows a dash for ever.
    pub fn template(&mut self, template: &Template) {
        for path in template.paths() {
            let place = placeholder(template, path);
            let written = path.join(".");
            let message = format!("the placeholder `{{{written}}}` leads nowhere");
            let found = match self.view().find(path) {
                Ok(_) => continue,
                Err(Lost::Later(given)) => {
                    if self.in_an_earlier_round(&path[0]) {
                        continue;
                    }
                    let message = format!("`{{{written}}}` is shown before the step that gives it");
                    Diagnostic::warning(Code::UsedTooEarly, &place, message)
                        .also(&given, "given here")
                        .help("move this after it, or leave the placeholder out")
                }
                Err(Lost::Unknown { near }) => {
                    if self.may_be_elsewhere(&path[0], near.as_ref()) {
                        continue;
                    }
                    if let Some(change) = self.tree.left_out.get(&path[0]) {
                        // Somebody chose that; there is nothing to be mended, but it can be seen.
                        let message = format!("a dash will be shown for `{{{written}}}`");
                        let note = Diagnostic::warning(Code::DeadPlaceholder, change, message).also(&place, "here");
                        self.problems.push(Diagnostic { severity: Severity::Note, ..note });
                        continue;
                    }
                    let problem = Diagnostic::error(Code::DeadPlaceholder, &place, message);
                    match self.view().field_meant(path).or(near) {
                        Some(near) => problem.meant(&written, &near),
                        None => problem.help("name something that an earlier step gives, or a field as `spec.field`"),
                    }
                }
                Err(Lost::NoField { form, near, path }) => {
                    let problem = Diagnostic::error(Code::DeadPlaceholder, &place, message);
                    match near {
                        Some(near) => problem.meant(&path, &near),
                        None => problem.help(format!("`standpipe show form {form}` lists the fields")),
                    }
                }
                Err(Lost::NoPart { of, name, known }) => no_part(Code::DeadPlaceholder, &place, &of, &name, &known),
            };
            self.problems.push(found);
        }
    }
}

fn no_part(code: Code, place: &Place, of: &str, name: &str, known: &[String]) -> Diagnostic {
    let mut problem = Diagnostic::error(code, place, format!("`{of}` has nothing called `{name}`"));
    if !known.is_empty() {
        problem = problem.expected(format!("one of: {}", known.join(", ")));
    }
    problem.nearest(name, known.iter().map(String::as_str), "correct the name")
}

/// The placeholder in the text as it is written; the whole text where quoting hides it.
fn placeholder(template: &Template, path: &[String]) -> Place {
    let text = template.place.text();
    let wanted = path.join(".");
    let mut start = 0;
    while let Some(open) = text[start..].find('{') {
        let open = start + open;
        let Some(length) = text[open..].find('}') else { break };
        let inner: String = text[open + 1..open + length]
            .split('.')
            .map(|part| part.trim().replace('-', "_"))
            .collect::<Vec<_>>()
            .join(".");
        if inner == wanted {
            return template.place.slice(open..open + length + 1);
        }
        start = open + length;
    }
    template.place.clone()
}
