//! What a path in an expression or a placeholder leads to, seen from one step.

use super::given::Scope;
use super::shapes;
use super::stock::Stock;
use standpipe_diagnostic::Near;
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
    Unknown { near: Option<Near> },
    /// A step further on gives it.
    Later(Place),
    /// The form has no such field.
    NoField { form: String, path: String, near: Option<Near> },
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
                Lost::Unknown { near: Near::of(name, known.chain(["spec", "job", "shop", "round"])) }
            }
        }
    }

    /// What a name that stands for nothing was most likely meant to be: an option without its quotes, or a field without the
    /// word before it.
    pub fn meant(&self, path: &[String], place: &Place) -> Option<Near> {
        if let [word] = path {
            let before = place.source().text[..place.range().start].trim_end();
            let compared = ["==", "!="].iter().find_map(|sign| before.strip_suffix(sign));
            if let Some(compared) = compared {
                let compared = compared.trim_end();
                let is_path = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
                let start = compared.rfind(|c| !is_path(c)).map_or(0, |at| at + 1);
                let other: Vec<String> = compared[start..].split('.').map(str::to_owned).collect();
                if let Ok(Shape::Text(Some(options))) = self.find(&other)
                    && options.contains(word)
                {
                    return Some(Near { name: format!("\"{word}\""), certain: true });
                }
            }
            let has = |shape: &Shape| matches!(shape, Shape::Text(Some(options)) if options.contains(word));
            if let Some((name, _)) = self.scope.0.iter().find(|(_, given)| has(&given.shape)) {
                return Some(Near { name: format!("{name} == \"{word}\""), certain: false });
            }
        }
        self.field_meant(path)
    }

    /// A field of the family or of the job that is written without `spec.` or `job.`, or by its last part alone.
    pub fn field_meant(&self, path: &[String]) -> Option<Near> {
        let form = self.form?;
        let whole = path.join(".");
        // An end of a range stands behind the field.
        let field = |word: &str, path: &[String]| {
            (1..=path.len()).any(|length| self.field(form, word, &path[..length].join(".")).is_some())
        };
        if let Some(word) = ["spec", "job"].into_iter().find(|word| field(word, path)) {
            return Some(Near { name: format!("{word}.{whole}"), certain: path.len() > 1 });
        }
        let [word] = path else { return None };
        let mut ends = form.fields.keys().filter(|field| field.rsplit('.').next() == Some(word));
        ends.next().map(|field| Near { name: format!("spec.{field}"), certain: false })
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
        let near = Near::of(&whole, known).map(|near| Near { name: format!("{word}.{}", near.name), ..near });
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
