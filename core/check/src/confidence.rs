//! Gates that ask how sure they are met need readings of which it is known how far they may be off.

use super::walk::Walk;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_procedure::{FieldKind, Gate};

impl Walk<'_, '_> {
    pub(super) fn confidence(&mut self, gate: &Gate) {
        if gate.confidence.is_none() {
            return;
        }
        let steps: Vec<_> = self.tree.procedures.iter().flat_map(|procedure| procedure.all_steps()).collect();
        for name in gate.must.uses(&self.tree.stock.scripts) {
            let read = steps.iter().flat_map(|step| step.kind.fields()).find(|field| field.name.value == name);
            let why = match read {
                Some(field) if matches!(field.kind, FieldKind::Quantity(_)) && field.instrument.is_none() => {
                    format!("`{name}` is read without an instrument")
                }
                None if steps.iter().any(|step| step.kind.gives().iter().any(|given| given.value == name)) => {
                    format!("`{name}` is computed")
                }
                _ => continue,
            };
            self.problems.push(
                Diagnostic::error(Code::NeverMet, gate.must.place(), format!("this gate is never sure: {why}"))
                    .help("let it be read `with:` a kind of instrument, or leave the confidence out"),
            );
        }
    }
}
