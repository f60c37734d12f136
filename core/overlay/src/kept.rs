//! A value that a kept step rests on can't be widened: that would loosen the step without touching it.

use super::SetValue;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_procedure::{Expr, Procedure, Step};
use standpipe_quantity::close;
use standpipe_quantity::value::Value;
use standpipe_script::Scripts;

/// Reports every value that loosens, or may loosen, a step marked `keep`.
///
/// A range may become narrower, and what was unknown may become known. Whether a single number that a gate compares with
/// something makes it wider or narrower depends on the expression around it, so no such number may change at all.
pub fn keep_values<'a>(
    set: &[SetValue],
    procedures: impl Iterator<Item = &'a Procedure>,
    scripts: &Scripts,
    problems: &mut Problems,
) {
    let kept: Vec<&Step> = procedures.flat_map(Procedure::all_steps).filter(|step| step.keep).collect();
    for value in set {
        let Some((before, place)) = value.before.iter().find(|(before, _)| !is_within(&value.value, before)) else {
            continue;
        };
        let Some((step, at)) = kept.iter().find_map(|step| Some((step, rests_on(step, &value.path, scripts)?))) else {
            continue;
        };
        let message = match before {
            Value::Range(..) => format!("`{}` gets wider than what the family says", value.path),
            _ => format!("`{}` is not what the family says", value.path),
        };
        let mut problem = Diagnostic::error(Code::LoosensKept, &value.mark.place, message)
            .label(format!("the step `{}` rests on it and is marked `keep`", step.id.value))
            .also(&at, "here");
        if let Some(place) = place {
            problem = problem.also(place, "the family's own value");
        }
        problems.push(problem.help(match before {
            Value::Range(..) => "give a range inside the family's own, or correct the family itself".to_owned(),
            _ => format!("write `tighten_gate: {}` instead, or correct the family itself", step.id.value),
        }));
    }
}

/// Where a step looks at a value, if it does.
fn rests_on(step: &Step, path: &str, scripts: &Scripts) -> Option<Place> {
    // What overlays demand beside a gate may rest on what they like.
    let gate = step.gate.as_ref().and_then(|gate| gate.must.parts().next());
    let own = step.kind.expressions();
    let expressions: Vec<&Expr> = step.when.iter().chain(gate).chain(own).collect();
    for expression in expressions {
        let Ok(compiled) = expression.compiled(scripts) else { continue };
        for name in compiled.names() {
            let parts: Vec<&str> = name.path.iter().map(String::as_str).collect();
            let parts = match parts.as_slice() {
                [rest @ .., "low" | "high"] => rest,
                all => all,
            };
            if let ["spec", rest @ ..] = parts
                && rest.join(".") == path
            {
                return Some(expression.place().clone());
            }
        }
    }
    None
}

/// Whether a new value allows nothing that the old one did not.
fn is_within(new: &Value, old: &Value) -> bool {
    match (new, old) {
        (_, Value::Unknown) => true,
        (Value::Range(low, high), Value::Range(from, to)) => {
            let below = |a: f64, b: f64| a < b || close(a, b);
            low.dimension == from.dimension && below(from.si, low.si) && below(high.si, to.si)
        }
        (Value::Quantity(new), Value::Quantity(old)) => new.dimension == old.dimension && close(new.si, old.si),
        (new, old) => new == old,
    }
}
