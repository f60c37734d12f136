//! An output of a sheet over one of its inputs.

use super::collect::{number_in, unit_of, value};
use super::{Curve, CurvePoint};
use crate::block::{inputs, lacks};
use crate::shown::words;
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_procedure::page::Curve as Asked;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity};
use standpipe_sheet::Sheet;

/// Pieces of a smooth curve.
pub(super) const STEPS: usize = 40;

pub(super) fn curve(plan: &Plan, names: &JobNames<'_>, asked: &Asked, steps: usize) -> Result<Curve, Vec<String>> {
    let with = inputs(plan, names, &asked.call)?;
    let sheet = plan.sheets.get(asked.call.sheet.as_str()).ok_or_else(|| vec![asked.call.sheet.value.clone()])?;
    let of_input = sheet.inputs.get(asked.over.as_str());
    let point =
        |x: Quantity, units: Option<&(String, String)>| -> Result<(CurvePoint, (String, String)), Vec<String>> {
            let x_value = if x.is_plain() { Value::Number(x.si) } else { Value::Quantity(x.clone()) };
            let mut with = with.clone();
            with.insert(asked.over.value.clone(), x_value);
            let y = output(plan, sheet, with, &asked.gives)?;
            let (x_unit, y_unit) = match units {
                Some(units) => units.clone(),
                None => {
                    let own = asked.unit.as_ref().map(|unit| unit.value.clone());
                    (unit_of(plan, &x), own.unwrap_or_else(|| unit_of(plan, &y)))
                }
            };
            let number =
                |quantity, unit: &str, name: &str| number_in(plan, quantity, unit).ok_or_else(|| vec![words(name)]);
            let style = plan.shop.style.with(Purpose::Computed { digits: 3 });
            let rounded = asked.unit.as_ref().map(|_| 2);
            let style = rounded.map_or(style.clone(), |digits| plan.shop.style.with(Purpose::Computed { digits }));
            let point = CurvePoint {
                x: number(&x, &x_unit, &asked.over)?,
                y: number(&y, &y_unit, &asked.gives)?,
                x_shown: plan.units.show(&x, &style),
                y_shown: plan.units.show_in(&y, &y_unit, &style).unwrap_or_else(|| plan.units.show(&y, &style)),
            };
            Ok((point, (x_unit, y_unit)))
        };
    let (from, to) = (asked.from.si, asked.to.si);
    let mut points = Vec::new();
    let mut units = None;
    for step in 0..=steps {
        let si = from + (to - from) * step as f64 / steps as f64;
        let (next, found) = point(Quantity { si, written: None, ..asked.from.clone() }, units.as_ref())?;
        units.get_or_insert(found);
        points.push(next);
    }
    let (x_unit, y_unit) = units.unwrap_or_default();
    let today = asked.at.as_ref().and_then(|at| match value(plan, names, at).ok()? {
        Value::Quantity(x) => Some(x),
        Value::Number(x) => Some(Quantity::number(x)),
        _ => None,
    });
    let units = (x_unit.clone(), y_unit.clone());
    let today = today.and_then(|x| Some(point(x, Some(&units)).ok()?.0));
    let holds = of_input
        .and_then(|input| input.valid.as_ref())
        .and_then(|valid| Some([number_in(plan, &valid.value.0, &x_unit)?, number_in(plan, &valid.value.1, &x_unit)?]));
    Ok(Curve {
        x_name: words(&asked.over),
        y_name: words(&asked.gives),
        x_unit,
        y_unit,
        points,
        holds,
        today,
        sheet: sheet.id.clone(),
        from: sheet.source.split_whitespace().collect::<Vec<_>>().join(" "),
    })
}

fn output(
    plan: &Plan,
    sheet: &Sheet,
    with: indexmap::IndexMap<String, Value>,
    gives: &str,
) -> Result<Quantity, Vec<String>> {
    let outcome = sheet.run(&plan.scripts, with).map_err(lacks)?;
    match outcome.outputs.get(gives) {
        Some(Value::Quantity(quantity)) => Ok(quantity.clone()),
        Some(Value::Number(number)) => Ok(Quantity::number(*number)),
        _ => Err(vec![words(gives)]),
    }
}

pub(super) fn says(curve: &Curve) -> String {
    let mut says = Vec::new();
    if let (Some(first), Some(last)) = (curve.points.first(), curve.points.last()) {
        says.push(format!(
            "{} from {} at {} {} to {} at {} {}",
            curve.y_name, first.y_shown, curve.x_name, first.x_shown, last.y_shown, curve.x_name, last.x_shown
        ));
    }
    if let Some(today) = &curve.today {
        says.push(format!("today {} at {}", today.y_shown, today.x_shown));
    }
    if let Some([low, high]) = curve.holds {
        says.push(format!("the formula holds for {low:.0}..{high:.0} {}, the rest is an extrapolation", curve.x_unit));
    }
    format!("{}.", says.join("; "))
}
