//! What a procedure puts on its card and its record: every name in it has to lead somewhere.

use indexmap::IndexMap;

use super::calls;
use super::expression::Use;
use super::given::Scope;
use super::shapes;
use super::walk::Walk;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_form as form;
use standpipe_procedure::learned::READINGS;
use standpipe_procedure::page::{Block, Call, Curve, Drawn, Picture};
use standpipe_procedure::proposes::{By, Proposed};
use standpipe_procedure::template::Part;
use standpipe_procedure::{Learned, Procedure, Template};
use standpipe_script::Shape;
use standpipe_yaml::At;

impl Walk<'_, '_> {
    /// A record looks at all that was given, a card at what is known before.
    pub fn pages(&mut self, procedure: &Procedure) {
        let before = std::mem::take(&mut self.scope);
        for block in &procedure.card {
            self.block(block, &procedure.learned);
        }
        self.scope = self.tree.everything.clone();
        for block in &procedure.record {
            self.block(block, &IndexMap::new());
        }
        for learned in procedure.learned.values() {
            self.learned(learned);
        }
        for proposed in &procedure.proposes {
            self.proposed(proposed, &procedure.learned);
        }
        for picture in &procedure.pictures {
            // What only the job brings can't be asked of a card; a picture that stands on both leaves it out there.
            self.scope = if picture.on_record { self.tree.everything.clone() } else { Scope::default() };
            self.picture(picture);
        }
        self.scope = before;
    }

    fn block(&mut self, block: &Block, learned: &IndexMap<String, Learned>) {
        for text in &block.say {
            self.template(text);
        }
        for fact in &block.facts {
            let path = format!("spec.{}", form::snake(fact)).split('.').map(str::to_owned).collect();
            self.template(&Template { parts: vec![Part::Path(path)], place: fact.place.clone() });
        }
        if let Some(call) = &block.compute {
            let handed = self.earlier(call, learned);
            self.call(call, handed);
        }
        if let Some(settings) = &block.settings {
            let steps = self.tree.procedures.iter().flat_map(|procedure| procedure.all_steps());
            let fields = steps.flat_map(|step| step.kind.fields());
            let kinds: Vec<&str> =
                fields.filter_map(|field| field.instrument.as_ref()).map(|kind| kind.value.as_str()).collect();
            self.named(&settings.instrument, "no step reads with", &kinds);
        }
        self.steps_named(&block.shown_by);
        if let Some(answer) = &block.answer {
            self.template(&answer.what);
            answer.found.iter().for_each(|found| self.template(found));
            answer.must.iter().for_each(|must| {
                self.expression(must, Use::Must);
            });
        }
    }

    fn picture(&mut self, picture: &Picture) {
        self.template(&picture.title);
        for expr in picture.expressions() {
            self.expression(expr, Use::Value);
        }
        match &picture.drawn {
            Drawn::Layout { step, up, .. } => {
                self.steps_named(std::slice::from_ref(step));
                up.iter().for_each(|up| self.template(up));
            }
            Drawn::Course(course) => {
                self.given_named(&course.of);
                self.steps_named(&course.events);
            }
            Drawn::Balance(of) => {
                self.given_named(&of.added);
                self.given_named(&of.removed);
            }
            Drawn::Curve(curve) | Drawn::Rounds(curve) => self.curve(curve),
        }
    }

    fn curve(&mut self, curve: &Curve) {
        self.call(&curve.call, vec![(&curve.over.value, &curve.over.place, Shape::Any)]);
        let Some(sheet) = self.tree.stock.sheets.get(curve.call.sheet.as_str()) else { return };
        let outputs: Vec<&str> = sheet.outputs.keys().map(String::as_str).collect();
        self.named(&curve.gives, &format!("the sheet `{}` has no output", sheet.id), &outputs);
        let inputs: Vec<&str> = sheet.inputs.keys().map(String::as_str).collect();
        self.named(&curve.over, &format!("the sheet `{}` has no input", sheet.id), &inputs);
    }

    /// What a job teaches is asked of it when it is finished.
    fn learned(&mut self, learned: &Learned) {
        let readings = At::new(READINGS.to_owned(), learned.call.sheet.place.clone());
        self.call(&learned.call, vec![(&readings.value, &readings.place, Shape::Any)]);
        self.given_named(std::slice::from_ref(&learned.of));
        self.steps_named(&learned.at);
        let Some(sheet) = self.tree.stock.sheets.get(learned.call.sheet.as_str()) else { return };
        calls::takes_readings(sheet, &learned.call.sheet, self.problems);
        let outputs: Vec<&str> = sheet.outputs.keys().map(String::as_str).collect();
        for output in [&learned.gives, &learned.uncertainty] {
            self.named(output, &format!("the sheet `{}` has no output", sheet.id), &outputs);
        }
        if let Some(must) = &learned.must {
            let mut outcome = Scope::default();
            if let Shape::Record(shapes) = shapes::of_outputs(sheet, &self.tree.stock.units) {
                shapes.into_iter().for_each(|(name, shape)| outcome.add(&name, shape, &learned.call.sheet.place));
            }
            let before = std::mem::replace(&mut self.scope, outcome);
            self.expression(must, Use::Must);
            self.scope = before;
        }
    }

    /// A value of the family that finished jobs speak of.
    fn proposed(&mut self, proposed: &Proposed, learned: &IndexMap<String, Learned>) {
        let fact = &proposed.fact;
        let shape = match &proposed.by {
            By::Value(value) => self.expression(value, Use::Value),
            By::Learned(id) => self.told(id, learned),
        };
        if let Some(must) = &proposed.must {
            self.expression(must, Use::Must);
        }
        let Some(form) = self.tree.form else { return };
        let Some(field) = form.field(&form::snake(fact)) else {
            let known: Vec<&str> = form.fields.keys().map(String::as_str).collect();
            self.named(fact, &format!("the form `{}` has no field", form.id), &known);
            return;
        };
        let units = &self.tree.stock.units;
        let wanted = shapes::of_kind(&field.kind, form, units);
        let message = match (&shape, &wanted) {
            (Shape::Any, Shape::Quantity(_) | Shape::Range(_)) => return,
            (Shape::Quantity(a), Shape::Quantity(b) | Shape::Range(b))
                if units.compare(&a.sample, &b.sample).is_ok() =>
            {
                return;
            }
            (_, Shape::Quantity(_) | Shape::Range(_)) => {
                format!(
                    "a job comes to {} for `{}`, which is {}",
                    shape.described(units),
                    fact.value,
                    wanted.described(units)
                )
            }
            _ => format!("`{}` is {}, which jobs can't propose", fact.value, wanted.described(units)),
        };
        self.problems.push(
            Diagnostic::error(Code::FaultyPage, &fact.place, message)
                .expected("a quantity, or a range of one, and from each job one value of that kind"),
        );
    }

    /// The kind of value that an entry of `learned` gives.
    fn told(&mut self, id: &At<String>, learned: &IndexMap<String, Learned>) -> Shape {
        let known: Vec<&str> = learned.keys().map(String::as_str).collect();
        self.named(id, "`learned:` of this procedure has no", &known);
        let shape = learned.get(id.as_str()).and_then(|learned| {
            let sheet = self.tree.stock.sheets.get(learned.call.sheet.as_str())?;
            shapes::of_outputs(sheet, &self.tree.stock.units).property(&learned.gives, &self.tree.stock.units).ok()
        });
        shape.unwrap_or(Shape::Any)
    }

    /// Inputs of a card that earlier jobs may have told.
    fn earlier<'b>(
        &mut self,
        call: &'b Call,
        learned: &IndexMap<String, Learned>,
    ) -> Vec<(&'b String, &'b Place, Shape)> {
        let mut handed = Vec::new();
        for (input, id) in &call.earlier {
            handed.push((input, &id.place, self.told(id, learned)));
        }
        handed
    }

    /// `handed`: what the sheet gets by other ways than `with`.
    fn call<'b>(&mut self, call: &'b Call, mut handed: Vec<(&'b String, &'b Place, Shape)>) {
        for (name, expr) in &call.with {
            handed.push((name, expr.place(), self.expression(expr, Use::Value)));
        }
        let Some(sheet) = self.tree.stock.sheets.get(call.sheet.as_str()) else { return };
        calls::check(sheet, &call.sheet, &handed, &self.tree.stock.units, self.problems);
        let outputs: Vec<&str> = sheet.outputs.keys().map(String::as_str).collect();
        for output in &call.shows {
            self.named(output, &format!("the sheet `{}` has no output", sheet.id), &outputs);
        }
    }

    fn steps_named(&mut self, ids: &[At<String>]) {
        let steps = self.tree.procedures.iter().flat_map(|procedure| procedure.all_steps());
        let left_out = self.tree.procedures.iter().flat_map(|procedure| &procedure.left_out).map(|gone| &gone.step);
        // A shop may leave a step out and keep the picture: what it lacks is said there.
        let known: Vec<&str> = steps.chain(left_out).map(|step| step.id.value.as_str()).collect();
        for id in ids {
            self.named(id, "there is no step", &known);
        }
    }

    fn given_named(&mut self, names: &[At<String>]) {
        let known: Vec<&str> =
            self.tree.everything.names().chain(self.tree.left_out.keys().map(String::as_str)).collect();
        for name in names {
            self.named(name, "no step gives", &known);
        }
    }

    fn named(&mut self, name: &At<String>, message: &str, known: &[&str]) {
        if known.contains(&name.as_str()) || self.tree.incomplete {
            return;
        }
        let problem = Diagnostic::error(Code::FaultyPage, &name.place, format!("{message} `{}`", name.value));
        self.problems.push(problem.nearest(name, known.iter().copied(), "correct the name, or take it out"));
    }
}
