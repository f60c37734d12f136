//! The job file of a simulated job: the facts of the model, for a family and a procedure.

use std::sync::Arc;

use crate::model::Model;
use standpipe_diagnostic::source::Source;

/// `run`: of a job that is kept.
pub(crate) fn job(model: &Model, family: &str, procedure: &str, seed: u64, run: Option<u32>) -> Arc<Source> {
    let (family, variant) = match family.split_once('/') {
        Some((family, variant)) => (family, Some(variant)),
        None => (family, None),
    };
    let id = match run {
        Some(run) => format!("simulated-{seed}-{run}"),
        None => format!("simulated-{seed}"),
    };
    let mut text = format!("job: {id}\ninvented: true\nfamily: {family}\nprocedure: {procedure}\n");
    if let Some(variant) = variant {
        text.push_str(&format!("variant: {variant}\n"));
    }
    for (key, node) in &model.job {
        let value = node.place.text();
        match node.as_scalar().is_some() || value.starts_with(['{', '[', '"', '\'']) {
            true => text.push_str(&format!("{}: {value}\n", key.value)),
            // A block keeps the columns that it has in the model.
            false => text.push_str(&format!("{}:\n{}{value}\n", key.value, " ".repeat(node.place.column() - 1))),
        }
    }
    Source::new(format!("<{id}>"), text)
}
