//! Which pictures there are, and layouts of items.

use std::cmp::Ordering;
use std::path::Path;

use indexmap::IndexMap;

use super::{Drawn, Layout, NotDrawn, Picture, Point, curve, kept, readings};
use crate::block::{as_entered, lacks, on_the_way, said};
use crate::shown::{count, words};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Event, Machine, Record, State};
use standpipe_procedure::page::{Drawn as Wanted, Picture as Asked};
use standpipe_procedure::{Expr, Next, Procedure, Progress, Template, With};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;

/// Before a job only what the data alone give can be drawn; of each variant, where none is settled and they differ.
pub fn for_card(plan: &Plan) -> Vec<Picture> {
    let variants: Vec<Option<String>> = match &plan.job.variant {
        Some(variant) => vec![Some(variant.clone())],
        None if plan.family.variants.is_empty() => vec![None],
        None => plan.family.variants.keys().cloned().map(Some).collect(),
    };
    let mut pictures = Vec::new();
    let state = State { variant: plan.job.variant.clone(), ..State::default() };
    for (procedure, asked) in asked(plan, &as_entered(plan, &state)).into_iter().filter(|(_, asked)| asked.on_card) {
        let mut drawn: Vec<Picture> = Vec::new();
        for variant in &variants {
            let state = State { variant: variant.clone(), ..State::default() };
            let names = as_entered(plan, &state);
            let Ok(mut picture) = draw(plan, procedure, asked, &names, (&state, &[], None)) else { continue };
            picture.variant.clone_from(variant);
            drawn.push(picture);
        }
        let alike = |picture: &Picture| serde_json::to_string(&picture.drawn).ok();
        let first = drawn.first().and_then(alike);
        if drawn.len() == variants.len() && drawn.iter().all(|picture| alike(picture) == first) {
            drawn.truncate(1);
            drawn.iter_mut().for_each(|picture| picture.variant = None);
        }
        pictures.append(&mut drawn);
    }
    pictures
}

/// `folder`: where evidence lies; none where nobody wants to see what logs hold.
pub fn for_record(
    machine: &Machine,
    state: &State,
    records: &[Record],
    folder: Option<&Path>,
) -> (Vec<Picture>, Vec<NotDrawn>) {
    let plan = &machine.plan;
    let names = as_entered(plan, state);
    let (mut pictures, mut not_drawn) = (Vec::new(), Vec::new());
    for (procedure, asked) in asked(plan, &names).into_iter().filter(|(_, asked)| asked.on_record) {
        match draw(plan, procedure, asked, &names, (state, records, folder)) {
            Ok(picture) => pictures.push(picture),
            Err(missing) => not_drawn.push(NotDrawn {
                id: asked.id.value.clone(),
                title: said(plan, &names, &asked.title).text,
                missing,
            }),
        }
    }
    if let Some(folder) = folder {
        pictures.extend(kept::pictures(plan, (state, records), folder, &mut not_drawn));
    }
    (pictures, not_drawn)
}

fn asked<'a>(plan: &'a Plan, names: &JobNames<'_>) -> Vec<(&'a Procedure, &'a Asked)> {
    let of = |procedure: &'_ Procedure| procedure.pictures.len();
    let procedures = on_the_way(plan, names).into_iter().filter(|procedure| of(procedure) > 0);
    procedures.flat_map(|procedure| procedure.pictures.iter().map(move |asked| (procedure, asked))).collect()
}

fn draw(
    plan: &Plan,
    procedure: &Procedure,
    asked: &Asked,
    names: &JobNames<'_>,
    (state, records, folder): (&State, &[Record], Option<&Path>),
) -> Result<Picture, Vec<String>> {
    let (drawn, says) = match &asked.drawn {
        Wanted::Layout { step, points, up } => layout(plan, step, (points, up.as_ref()), names, records)?,
        Wanted::Course(of) => {
            let course = readings::course(plan, procedure, (state, records, folder), names, of)?;
            let says = readings::course_says(&course);
            (Drawn::Course(course), says)
        }
        Wanted::Balance(of) => {
            let balance = readings::balance(plan, state, names, of)?;
            let says = readings::balance_says(&balance);
            (Drawn::Balance(balance), says)
        }
        Wanted::Curve(curve) => {
            let curve = curve::curve(plan, names, curve, curve::STEPS)?;
            let says = curve::says(&curve);
            (Drawn::Curve(curve), says)
        }
        Wanted::Rounds(curve) => {
            let steps = (curve.to.si - curve.from.si).round().clamp(1.0, 24.0) as usize;
            let curve = curve::curve(plan, names, curve, steps)?;
            let says = curve::says(&curve);
            (Drawn::Rounds(curve), says)
        }
    };
    let title = said(plan, names, &asked.title).text;
    Ok(Picture { id: asked.id.value.clone(), title, variant: None, says, drawn })
}

/// The one value of an expression, or what it lacks.
pub(super) fn value(plan: &Plan, names: &JobNames<'_>, expr: &Expr) -> Result<Value, Vec<String>> {
    match expr.evaluate(&plan.scripts, names) {
        Ok(Value::Unknown) => Err(vec![words(expr.text())]),
        Ok(value) => Ok(value),
        Err(fault) => Err(lacks(fault)),
    }
}

/// Unit in which the shop sees this quantity.
pub(super) fn unit_of(plan: &Plan, quantity: &Quantity) -> String {
    plan.units.unit_shown(quantity, &plan.shop.style)
}

pub(super) fn number_in(plan: &Plan, quantity: &Quantity, unit: &str) -> Option<f64> {
    if quantity.is_plain() && (unit.is_empty() || unit == "1") {
        return Some(quantity.si);
    }
    plan.units.convert(quantity, unit).ok().filter(|number| number.is_finite())
}

/// Where the items of a step lie, where a picture of its procedure shows them.
pub(super) fn layout_of(plan: &Plan, step: &str, names: &JobNames<'_>, records: &[Record]) -> Option<Layout> {
    let procedures = plan.procedures.values();
    let found = procedures.flat_map(|procedure| &procedure.pictures).find_map(|picture| match &picture.drawn {
        Wanted::Layout { step: of, points, up } if of.as_str() == step => Some((of, (&**points, up.as_ref()))),
        _ => None,
    });
    let (step, points) = found?;
    match layout(plan, step, points, names, records) {
        Ok((Drawn::Layout(layout), _)) => Some(layout),
        _ => None,
    }
}

fn layout(
    plan: &Plan,
    id: &str,
    (points, up): (&Expr, Option<&Template>),
    names: &JobNames<'_>,
    records: &[Record],
) -> Result<(Drawn, String), Vec<String>> {
    let step = plan.step(id).ok_or_else(|| vec![id.to_owned()])?;
    let progress = settled(plan, step, names, records)?;
    let Value::List(rows) = value(plan, names, points)? else { return Err(vec!["points".to_owned()]) };
    let order = match progress.settled.get("order").and_then(|order| order.at(&["order"])) {
        Some(Value::List(order)) => order.iter().filter_map(whole).collect(),
        _ => (1..=rows.len()).collect::<Vec<_>>(),
    };
    let mut unit = None;
    let mut placed = Vec::new();
    for (index, row) in rows.iter().enumerate() {
        let item = index + 1;
        let (Some(Value::Quantity(x)), Some(Value::Quantity(y))) = (row.at(&["x"]), row.at(&["y"])) else {
            return Err(vec![format!("x and y of point {item}")]);
        };
        let unit = unit.get_or_insert_with(|| unit_of(plan, x));
        let (Some(x), Some(y)) = (number_in(plan, x, unit), number_in(plan, y, unit)) else {
            return Err(vec![format!("x and y of point {item}")]);
        };
        let turn = order.iter().position(|turn| *turn == item).map(|at| at + 1);
        placed.push(Point { item, turn: turn.ok_or_else(|| vec![format!("the turn of {item}")])?, x, y });
    }
    if placed.is_empty() || placed.len() != order.len() {
        return Err(vec![format!("a point for each of {}", count(order.len(), "item"))]);
    }
    placed.sort_by(|a, b| a.turn.partial_cmp(&b.turn).unwrap_or(Ordering::Equal));
    let passes = match progress.settled.get("of").and_then(|of| of.at(&["passes"])) {
        Some(Value::List(passes)) => passes.iter().map(|pass| plan.show(pass)).collect(),
        _ => Vec::new(),
    };
    let turns: Vec<String> = placed.iter().map(|point| point.item.to_string()).collect();
    let up = up.map(|up| said(plan, names, up).text);
    let top = up.as_ref().map(|up| format!(" At the top: {up}.")).unwrap_or_default();
    let says = format!("{} in the order {}.{top}", count(placed.len(), "item"), turns.join(", "));
    Ok((Drawn::Layout(Layout { unit: unit.unwrap_or_default(), points: placed, passes, up }), says))
}

/// What the step goes over and in which order: as it was on the job, else as it would be.
fn settled(
    plan: &Plan,
    step: &standpipe_procedure::Step,
    names: &JobNames<'_>,
    records: &[Record],
) -> Result<Progress, Vec<String>> {
    let mut progress = Progress::default();
    for record in records {
        match &record.event {
            Event::Settled { address, what, value, .. } if address.step == step.id.value && what == "of" => {
                progress.settled.insert(what.clone(), value.clone());
            }
            Event::Computed { address, what, value, .. } if address.step == step.id.value && !value.is_unknown() => {
                progress.settled.insert(what.clone(), value.clone());
            }
            _ => {}
        }
    }
    // What a step of a procedure asks for before its items: `of`, a time, an order.
    for _ in 0..3 {
        match step.kind.next(&progress) {
            Next::Settle { what, expr } => {
                let value = value(plan, names, expr)?;
                progress.settled.insert(what.to_owned(), value);
            }
            Next::Call { what, sheet, with: With::Values(with), .. } => {
                let found = plan.sheets.get(sheet.as_str()).ok_or_else(|| vec![sheet.value.clone()])?;
                let outputs: IndexMap<String, Value> = found.run(&plan.scripts, with).map_err(lacks)?.outputs;
                progress.settled.insert(what.to_owned(), Value::Record(outputs));
            }
            _ => break,
        }
    }
    Ok(progress)
}

fn whole(value: &Value) -> Option<usize> {
    match value {
        Value::Number(number) if *number >= 1.0 => Some(*number as usize),
        _ => None,
    }
}
