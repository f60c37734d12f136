//! What a path in an expression or a placeholder leads to, seen from one step.

use super::given::Scope;
use super::shapes;
use super::stock::Stock;
use standpipe_diagnostic::nearest;
use standpipe_diagnostic::source::Place;
use standpipe_form::{Field, Form, Kind};
use standpipe_job::names::WAS_PAUSED;
use standpipe_library::Shop;
use standpipe_quantity::value::Value;
use standpipe_script::{Shape, Shapes};

pub struct View<'a> {
    pub stock: &'a Stock,
    pub form: Option<&'a Form>,
    /// Facts of one family; without them `spec` is what the form says of it.
    pub facts: Option<&'a Value>,
    pub shop: Option<&'a Shop>,
    /// Given by steps before this one.
    pub scope: &'a Scope,
    /// Given by any step of the whole procedure.
    pub everything: &'a Scope,
}

/// Why a path leads nowhere.
#[derive(Debug)]
pub enum Lost {
    /// No step gives this name.
    Unknown { near: Option<String> },
    /// A step further on gives it.
    Later(Place),
    /// The form has no such field.
    NoField { form: String, path: String, near: Option<String> },
    /// The value has nothing of that name.
    NoPart { of: String, name: String, known: Vec<String> },
}

impl View<'_> {
    pub fn find(&self, path: &[String]) -> Result<Shape, Lost> {
        let Some((first, rest)) = path.split_first() else { return Ok(Shape::Any) };
        match first.as_str() {
            "spec" => self.fact(rest, "spec"),
            "job" if matches!(rest, [only] if only.as_str() == WAS_PAUSED) => Ok(Shape::Truth(None)),
            "job" => self.fact(rest, "job"),
            "shop" => self.of_shop(rest),
            "round" => Ok(Shape::number()),
            name => match self.scope.0.get(name) {
                Some(given) => self.parts(given.shape.clone(), first, rest),
                None => Err(self.not_given(name)),
            },
        }
    }

    fn not_given(&self, name: &str) -> Lost {
        match self.everything.0.get(name) {
            Some(given) => Lost::Later(given.place.clone()),
            None => {
                let known = self.scope.names().chain(self.everything.names());
                Lost::Unknown { near: nearest(name, known.chain(["spec", "job", "shop", "round"])).map(str::to_owned) }
            }
        }
    }

    fn parts(&self, mut shape: Shape, start: &str, rest: &[String]) -> Result<Shape, Lost> {
        let mut of = start.to_owned();
        for name in rest {
            shape = match shape.property(name, &self.stock.units) {
                Ok(part) => part,
                Err(known) => return Err(Lost::NoPart { of, name: name.clone(), known }),
            };
            of = format!("{of}.{name}");
        }
        Ok(shape)
    }

    fn field(&self, form: &'_ Form, word: &str, path: &str) -> Option<Field> {
        let field = if word == "spec" { form.field(path) } else { form.job_field(path) };
        field.cloned()
    }

    /// A path below `spec` or `job`: the shortest part of it that is a field, and what stands under that.
    fn fact(&self, path: &[String], word: &str) -> Result<Shape, Lost> {
        let Some(form) = self.form else { return Ok(Shape::Any) };
        for length in 1..=path.len() {
            let name = path[..length].join(".");
            let Some(field) = self.field(form, word, &name) else { continue };
            // A record is told by its fields, each by itself.
            if matches!(field.kind, Kind::Record(_)) && length < path.len() {
                let inner = path[..=length].join(".");
                if self.field(form, word, &inner).is_some() {
                    continue;
                }
            }
            let value = self.facts.filter(|_| word == "spec").and_then(|facts| {
                let parts: Vec<&str> = path[..length].iter().map(String::as_str).collect();
                facts.at(&parts).filter(|value| !value.is_unknown() && !matches!(value, Value::Record(_)))
            });
            let shape = match value {
                Some(value) => Shape::of_value(value),
                None => shapes::of_kind(&field.kind, form, &self.stock.units),
            };
            return self.parts(shape, &format!("{word}.{name}"), &path[length..]);
        }
        let whole = path.join(".");
        let fields = if word == "spec" { &form.fields } else { &form.job };
        if path.is_empty() || fields.keys().any(|field| field.starts_with(&format!("{whole}."))) {
            return Ok(Shape::Any);
        }
        let known = fields.keys().filter(|field| !field.ends_with('*')).map(String::as_str);
        let near = nearest(&whole, known).map(|near| format!("{word}.{near}"));
        Err(Lost::NoField { form: form.id.clone(), path: format!("{word}.{whole}"), near })
    }

    fn of_shop(&self, rest: &[String]) -> Result<Shape, Lost> {
        let Some(first) = rest.first() else { return Ok(Shape::Any) };
        match (first.as_str(), self.shop) {
            ("people_count", _) => Ok(Shape::number()),
            ("rates" | "instruments" | "accuracy", _) | (_, None) => Ok(Shape::Any),
            (name, Some(shop)) => match shop.facts.contains_key(name) {
                true => Ok(Shape::Any),
                false => {
                    let mut known: Vec<String> = shop.facts.keys().cloned().collect();
                    known.extend(["people_count", "rates", "instruments", "accuracy"].map(str::to_owned));
                    Err(Lost::NoPart { of: "shop".to_owned(), name: name.to_owned(), known })
                }
            },
        }
    }
}

impl Shapes for View<'_> {
    fn of(&self, path: &[String]) -> Shape {
        self.find(path).unwrap_or(Shape::Any)
    }

    fn one_of_all(&self, name: &str) -> Shape {
        self.everything.0.get(name).map_or(Shape::Any, |given| given.shape.clone())
    }
}
