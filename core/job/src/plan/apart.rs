//! Which texts of a job are kept apart: those that a person typed in their own words, or that say who somebody is, and with
//! which nothing is worked out. Equal texts have equal tokens, but a token is neither a word that a condition asks for nor as
//! long as its text, so whatever an expression reads stays open.

use std::collections::HashSet;
use std::io;
use std::sync::Arc;

use super::Plan;
use super::snapshot::{Sealed, Snapshot, Text};
use crate::edition;
use standpipe_apart::{Class, Opening, Sealer, is_same_form, sealed};
use standpipe_form::{Form, snake};
use standpipe_procedure::{Expr, FieldKind, Procedure};
use standpipe_quantity::Kind;
use standpipe_quantity::value::Value;

/// Names of readings, and paths of facts of the job.
#[derive(Clone, Debug, Default)]
pub struct Private {
    fields: HashSet<String>,
    facts: HashSet<String>,
    /// Those that stay open although people type them: something is worked out with them.
    pub read: Vec<String>,
}

impl Private {
    /// Of a job whose format keeps nothing apart: nothing.
    pub fn of(plan: &Plan) -> Self {
        let mut private = Self::default();
        if !edition::keeps_apart(&plan.snapshot.schema) {
            return private;
        }
        let (mut texts, mut others) = (HashSet::new(), HashSet::new());
        for field in plan.procedures.values().flat_map(Procedure::all_steps).flat_map(|step| step.kind.fields()) {
            let is_text = matches!(field.kind, FieldKind::Text);
            if is_text { &mut texts } else { &mut others }.insert(field.name.value.clone());
        }
        texts.retain(|name| !others.contains(name));
        let facts: HashSet<String> = facts(&plan.form);
        let mut read = HashSet::new();
        for name in expressions(plan).flat_map(|expr| expr.names(&plan.scripts)) {
            match name.path.split_first() {
                Some((first, rest)) if first == "job" => {
                    let within =
                        |path: &&String| path.split('.').zip(rest).all(|(field, named)| field == "*" || field == named);
                    read.extend(facts.iter().filter(within).cloned());
                }
                Some((first, _)) => read.extend(texts.get(first).cloned()),
                None => {}
            }
        }
        private.fields = texts.into_iter().filter(|name| !read.contains(name)).collect();
        private.facts = facts.into_iter().filter(|path| !read.contains(path)).collect();
        private.read = read.into_iter().collect();
        private.read.sort();
        private
    }

    /// Whether what is read under this name is kept apart.
    pub fn has(&self, name: &str) -> bool {
        self.fields.contains(name)
    }

    /// Whether a fact of the job is, by its path behind `job`.
    pub fn has_fact(&self, path: &str) -> bool {
        let fits = |fact: &String| {
            fact.split('.').count() == path.split('.').count()
                && fact.split('.').zip(path.split('.')).all(|(field, named)| field == "*" || field == named)
        };
        self.facts.contains(path) || self.facts.iter().any(fits)
    }

    /// What is kept apart there, and read by these.
    pub(super) fn opens<'a>(&'a self, there: &Self) -> Option<&'a str> {
        self.read.iter().map(String::as_str).find(|name| there.has(name) || there.has_fact(name))
    }
}

/// Paths of the facts of a job that are words of people, those within records among them.
fn facts(form: &Form) -> HashSet<String> {
    let mut facts = HashSet::new();
    for (path, field) in &form.job {
        match &field.kind {
            Kind::Record(name) => {
                let inner = form.records.get(name).into_iter().flatten().filter(|(_, inner)| is_words(&inner.kind));
                facts.extend(inner.map(|(name, _)| format!("{path}.{name}")));
            }
            kind if is_words(kind) => drop(facts.insert(path.clone())),
            _ => {}
        }
    }
    facts
}

fn is_words(kind: &Kind) -> bool {
    match kind {
        Kind::Text | Kind::Person => true,
        Kind::List(kind) => is_words(kind),
        _ => false,
    }
}

/// All that something is worked out with: what is only shown is none of it.
fn expressions(plan: &Plan) -> impl Iterator<Item = &Expr> {
    plan.procedures.values().flat_map(|procedure| {
        let blocks = procedure.card.iter().chain(&procedure.record).flat_map(|block| block.expressions());
        let own = procedure.abandon_when.iter().chain(procedure.points.values());
        let tag = procedure.tag.iter().filter_map(|line| line.when.as_ref());
        let steps = procedure.all_steps().into_iter().flat_map(|step| {
            let gate = step.gate.as_ref().map(|gate| &gate.must);
            step.kind.expressions().into_iter().chain(&step.when).chain(gate)
        });
        blocks.chain(own).chain(tag).chain(steps)
    })
}

impl Plan {
    /// Puts tokens in the place of texts in what is kept of it; its hash is another one then.
    pub(crate) fn keep_apart(&mut self, sealer: &mut Sealer) -> io::Result<()> {
        let private = Private::of(self);
        let mut seal = |class: Class, text: &Text, is_private: &dyn Fn(&[&str]) -> bool| {
            let mut name = text.name.clone();
            sealer.seal(class, &mut name)?;
            Ok::<_, io::Error>(Text { name, text: sealed(&text.source(), class, sealer, is_private)? })
        };
        let job = seal(Class::Intake, &self.snapshot.job, &|path| {
            path == ["title"] || private.has_fact(&path.iter().map(|key| snake(key)).collect::<Vec<_>>().join("."))
        })?;
        let shop = self
            .snapshot
            .shop
            .as_ref()
            .map(|shop| seal(Class::Shop, shop, &|path| matches!(path, ["people", _, "name"])));
        let shop = shop.transpose()?;
        self.snapshot.sealed = Some(Arc::new(Sealed { job, shop, opening: Arc::new(sealer.opening()) }));
        self.hash = self.snapshot.hash();
        Ok(())
    }

    /// As a plan of the same job and shop is kept, so that it can follow it.
    pub(super) fn kept_as(mut self, other: &Snapshot) -> Self {
        self.snapshot.schema.clone_from(&other.schema);
        self.snapshot.sealed.clone_from(&other.sealed);
        self.hash = self.snapshot.hash();
        self
    }
}

impl Snapshot {
    /// Puts texts back in the place of tokens. What is kept of it stays as it is.
    ///
    /// Errors: with these texts it would say something else than without: that was never one text.
    pub(super) fn open(&mut self, opening: &Arc<Opening>) -> Result<(), &'static str> {
        if !edition::keeps_apart(&self.schema) {
            return Ok(());
        }
        let sealed = Sealed { job: self.job.clone(), shop: self.shop.clone(), opening: opening.clone() };
        for text in [Some(&mut self.job), self.shop.as_mut()].into_iter().flatten() {
            opening.open(&mut text.name);
            let kept = text.source();
            opening.open(&mut text.text);
            if !is_same_form(&kept, &text.source()) {
                return Err("it says something different with the texts that are kept apart than without them");
            }
        }
        self.sealed = Some(Arc::new(sealed));
        Ok(())
    }
}

/// A value that somebody typed and that is kept apart.
pub(crate) fn typed_as(value: &Value) -> Option<&String> {
    match value {
        Value::Text(text) if !text.is_empty() => Some(text),
        _ => None,
    }
}
