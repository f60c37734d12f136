//! An expression of a procedure, compiled when it is first needed.

use std::cell::OnceCell;

use crate::diagnostic::Problems;
use crate::script::{Expression, Fault, Names, Scripts};
use crate::source::Place;
use crate::value::Value;
use crate::yaml::Script;

#[derive(Debug)]
pub struct Expr {
    script: Script,
    compiled: OnceCell<Expression>,
}

impl Expr {
    pub fn new(script: Script) -> Self {
        Self { script, compiled: OnceCell::new() }
    }

    pub fn place(&self) -> &Place {
        &self.script.place
    }

    pub fn text(&self) -> &str {
        &self.script.text
    }

    /// The compiled form; compiled once, on demand.
    pub fn compiled(&self, scripts: &Scripts) -> Result<&Expression, Problems> {
        if let Some(compiled) = self.compiled.get() {
            return Ok(compiled);
        }
        let compiled = scripts.compile(&self.script)?;
        Ok(self.compiled.get_or_init(|| compiled))
    }

    /// Errors: [`Fault::NotShown`] when a name it mentions is absent or unknown, [`Fault::Failed`] otherwise.
    pub fn evaluate(&self, scripts: &Scripts, names: &dyn Names) -> Result<Value, Fault> {
        let compiled =
            self.compiled(scripts).map_err(|mut problems| Fault::Failed(Box::new(problems.swap_remove(0))))?;
        scripts.evaluate(compiled, names)
    }

    /// Names of readings and results that it mentions, without `spec`, `job`, `shop` and `round`.
    pub fn uses(&self, scripts: &Scripts) -> Vec<String> {
        let Ok(compiled) = self.compiled(scripts) else { return Vec::new() };
        let mut uses: Vec<String> = Vec::new();
        for name in compiled.names() {
            let Some(first) = name.path.first() else { continue };
            if !matches!(first.as_str(), "spec" | "job" | "shop" | "round") && !uses.contains(first) {
                uses.push(first.clone());
            }
        }
        uses
    }
}
