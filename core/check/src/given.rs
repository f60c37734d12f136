//! Names that steps give to expressions.

use indexmap::IndexMap;

use super::shapes;
use super::stock::Stock;
use standpipe_diagnostic::source::Place;
use standpipe_form::Form;
use standpipe_procedure::{Next, Progress, Step, With};
use standpipe_script::Shape;

/// A name and what is certain of its value.
#[derive(Clone, Debug)]
pub struct Given {
    pub shape: Shape,
    /// Where it is given first.
    pub place: Place,
}

#[derive(Clone, Debug, Default)]
pub struct Scope(pub IndexMap<String, Given>);

impl Scope {
    /// The value may be the one that was there before: a step with a condition need not have run.
    pub fn add(&mut self, name: &str, shape: Shape, place: &Place) {
        match self.0.get_mut(name) {
            Some(known) => known.shape = std::mem::replace(&mut known.shape, Shape::Any).or(shape),
            None => {
                self.0.insert(name.to_owned(), Given { shape, place: place.clone() });
            }
        }
    }

    /// Adds what a step gives; the value of an expression has the shape that was inferred of it.
    pub fn add_step(&mut self, step: &Step, value: Option<Shape>, stock: &Stock, form: Option<&Form>) {
        for field in step.kind.fields() {
            if let Some(shape) = shapes::of_field(field, &stock.units, form) {
                self.add(&field.name, shape, &field.name.place);
            }
        }
        match step.kind.next(&Progress::default()) {
            Next::Call { sheet, gives: Some(gives), with: With::Exprs(_), .. } => {
                let shape = stock.sheets.get(sheet.as_str()).map(|sheet| shapes::of_outputs(sheet, &stock.units));
                self.add(gives, shape.unwrap_or(Shape::Any), &gives.place);
            }
            Next::Give { gives, .. } => self.add(gives, value.unwrap_or(Shape::Any), &gives.place),
            _ => {}
        }
    }

    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }
}
