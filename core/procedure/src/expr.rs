//! An expression of a procedure, compiled when it is first needed.

use std::cell::OnceCell;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::value::Value;
use standpipe_script::{Expression, Fault, Name, Names, Scripts};
use standpipe_yaml::Script;

/// An expression of a procedure, compiled when it is first needed.
#[derive(Debug)]
pub struct Expr {
    script: Script,
    compiled: OnceCell<Expression>,
    /// Further conditions, from other files: all have to hold.
    and: Vec<Expr>,
    /// All of it in one text, where there is more than the script.
    whole: Option<String>,
}

impl Expr {
    /// An expression as written.
    pub fn new(script: Script) -> Self {
        Self { script, compiled: OnceCell::new(), and: Vec::new(), whole: None }
    }

    /// A condition, and further ones that have to hold as well. They stay apart, each with its own places: one text made
    /// of several would point its messages nowhere.
    pub fn all_of(first: Script, others: Vec<Script>) -> Self {
        let mut expr = Self::new(first);
        if !others.is_empty() {
            let texts = std::iter::once(&expr.script).chain(&others).map(|script| script.text.trim());
            expr.whole = Some(texts.collect::<Vec<_>>().join(", and "));
            expr.and = others.into_iter().map(Self::new).collect();
        }
        expr
    }

    /// Where it stands.
    pub fn place(&self) -> &Place {
        &self.script.place
    }

    /// All of its text.
    pub fn text(&self) -> &str {
        self.whole.as_deref().unwrap_or(&self.script.text)
    }

    /// Without the further conditions.
    pub fn own_text(&self) -> &str {
        &self.script.text
    }

    /// This one without its further conditions, and then each of these.
    pub fn parts(&self) -> impl Iterator<Item = &Expr> {
        std::iter::once(self).chain(&self.and)
    }

    /// The compiled form, that of the first of several [`Self::parts`]; compiled once, on demand.
    pub fn compiled(&self, scripts: &Scripts) -> Result<&Expression, Problems> {
        if let Some(compiled) = self.compiled.get() {
            return Ok(compiled);
        }
        let compiled = scripts.compile(&self.script)?;
        Ok(self.compiled.get_or_init(|| compiled))
    }

    /// Errors: [`Fault::NotShown`] when a name it mentions is absent or unknown, [`Fault::Failed`] otherwise.
    pub fn evaluate(&self, scripts: &Scripts, names: &dyn Names) -> Result<Value, Fault> {
        let first = self.evaluate_first(scripts, names);
        if self.and.is_empty() {
            return first;
        }
        // What one condition lacks is named even if another fails already, as within a single one.
        let (mut missing, mut verdict) = (Vec::new(), Value::Truth(true));
        for result in std::iter::once(first).chain(self.and.iter().map(|expr| expr.evaluate(scripts, names))) {
            match result {
                Ok(Value::Truth(true)) => {}
                Ok(value) if verdict == Value::Truth(true) => verdict = value,
                Ok(_) => {}
                Err(Fault::NotShown(names)) => missing.extend(names),
                Err(fault) => return Err(fault),
            }
        }
        if missing.is_empty() { Ok(verdict) } else { Err(Fault::NotShown(missing)) }
    }

    fn evaluate_first(&self, scripts: &Scripts, names: &dyn Names) -> Result<Value, Fault> {
        let compiled =
            self.compiled(scripts).map_err(|mut problems| Fault::Failed(Box::new(problems.swap_remove(0))))?;
        scripts.evaluate(compiled, names)
    }

    /// Names of readings and results that it mentions, without `spec`, `job`, `shop` and `round`.
    pub fn uses(&self, scripts: &Scripts) -> Vec<String> {
        let mut uses: Vec<String> = Vec::new();
        for name in self.names(scripts) {
            let Some(first) = name.path.first() else { continue };
            if !matches!(first.as_str(), "spec" | "job" | "shop" | "round") && !uses.contains(first) {
                uses.push(first.clone());
            }
        }
        uses
    }

    /// Everything that it mentions, each mention by itself; nothing where it can't be compiled.
    pub fn names(&self, scripts: &Scripts) -> impl Iterator<Item = &Name> {
        self.parts().filter_map(|part| part.compiled(scripts).ok()).flat_map(Expression::names)
    }
}
