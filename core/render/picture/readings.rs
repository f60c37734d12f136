//! Pictures of what was read: a course over time, and a balance.

use super::collect::{number_in, unit_of, value};
use super::{Amount, Balance, Course, Marked, Sample, Series, Shown};
use crate::job::names::JobNames;
use crate::job::state::Reading;
use crate::job::{Event, Record, State};
use crate::plan::Plan;
use crate::procedure::page::{Balance as Asked, Course as AskedCourse};
use crate::procedure::{Expr, Procedure};
use crate::quantity::{Purpose, Quantity};
use crate::render::block::as_entered;
use crate::render::shown::{clock, show, words};
use crate::source::At;
use crate::value::Value;

fn quantity(reading: &Reading) -> Option<&Quantity> {
    match &reading.value {
        Value::Quantity(quantity) => Some(quantity),
        _ => None,
    }
}

/// Readings taken in the procedure that asks for the picture: the same name read for another reason is another course.
pub(super) fn course(
    plan: &Plan,
    procedure: &Procedure,
    (state, records): (&State, &[Record]),
    names: &JobNames<'_>,
    asked: &AskedCourse,
) -> Result<Course, Vec<String>> {
    let own: Vec<&str> = procedure.all_steps().iter().map(|step| step.id.value.as_str()).collect();
    let here = |step: &str| own.contains(&step);
    let readings = |name: &str| {
        let name = name.to_owned();
        state.readings.iter().filter(move |it| it.name == name && here(&it.address.step))
    };
    let first = asked.of.iter().find_map(|name| readings(name).find_map(quantity));
    let unit = first
        .map(|first| unit_of(plan, first))
        .ok_or_else(|| asked.of.iter().map(|name| words(name)).collect::<Vec<_>>())?;
    let series = asked.of.iter().map(|name| Series {
        name: words(name),
        points: readings(name)
            .filter_map(|reading| {
                Some(Sample {
                    at: reading.at,
                    value: number_in(plan, quantity(reading)?, &unit)?,
                    shown: show(plan, &reading.value),
                    counts: reading.counts && !reading.rejected,
                })
            })
            .collect(),
    });
    let series: Vec<Series> = series.filter(|series: &Series| !series.points.is_empty()).collect();
    let end = |quantity: &Quantity| number_in(plan, quantity, &unit).ok_or_else(|| vec![unit.clone()]);
    let window = match asked.window.as_ref().map(|expr| value(plan, names, expr)).transpose()? {
        Some(Value::Range(low, high)) => Some([end(&low)?, end(&high)?]),
        _ => None,
    };
    let limit = match asked.limit.as_ref().map(|expr| value(plan, names, expr)).transpose()? {
        Some(Value::Quantity(limit)) => Some(end(&limit)?),
        _ => None,
    };
    let mut marked = Vec::new();
    for record in records {
        if let Event::Entered { address, done: true, .. } = &record.event
            && address.item.is_empty()
            && asked.events.iter().any(|id| id.value == address.step)
        {
            let names = as_entered(plan, state);
            let title = plan.step(&address.step).map(|step| step.title.fill(|path| names.show(path)));
            let round = match address.rounds.as_slice() {
                [] | [1] => String::new(),
                rounds => format!(" (round {})", rounds.iter().map(u32::to_string).collect::<Vec<_>>().join(".")),
            };
            marked.push(Marked { at: record.at, title: format!("{}{round}", title.unwrap_or_default()) });
        }
    }
    Ok(Course { unit, series, window, limit, events: marked })
}

pub(super) fn course_says(course: &Course) -> String {
    let mut says = Vec::new();
    for series in &course.series {
        if let (Some(first), Some(last)) = (series.points.first(), series.points.last()) {
            says.push(match series.points.len() {
                1 => format!("{} {} at {}", series.name, first.shown, clock(first.at)),
                _ => format!(
                    "{} from {} at {} to {} at {}",
                    series.name,
                    first.shown,
                    clock(first.at),
                    last.shown,
                    clock(last.at)
                ),
            });
        }
    }
    if let Some([low, high]) = course.window {
        says.push(format!("window {low}..{high} {}", course.unit));
    }
    if let Some(limit) = course.limit {
        says.push(format!("start limit {limit} {}", course.unit));
    }
    format!("{}.", says.join("; "))
}

pub(super) fn balance(plan: &Plan, state: &State, names: &JobNames<'_>, asked: &Asked) -> Result<Balance, Vec<String>> {
    let all = |of: &[At<String>]| -> Vec<(String, &Reading)> {
        let mut found = Vec::new();
        for name in of {
            let counts = |it: &&Reading| it.name == name.value && it.counts && !it.rejected;
            let mut own: Vec<&Reading> = state.readings.iter().filter(counts).collect();
            // A result is computed anew after a correction: only the last of one place counts.
            let latest = |it: &&Reading| !it.computed || !own_later(state, it);
            own.retain(latest);
            found.extend(own.into_iter().map(|it| (words(name), it)));
        }
        found
    };
    let (added_all, removed_all) = (all(&asked.added), all(&asked.removed));
    let first = added_all.iter().chain(&removed_all).find_map(|(_, reading)| quantity(reading));
    let Some(first) = first else {
        return Err(asked.added.iter().chain(&asked.removed).map(|name| words(name)).collect());
    };
    let unit = unit_of(plan, first);
    let amounts = |of: Vec<(String, &Reading)>| -> Vec<Amount> {
        of.into_iter()
            .filter_map(|(name, reading)| {
                let value = number_in(plan, quantity(reading)?, &unit)?;
                let amount = Shown { value, shown: show(plan, &reading.value) };
                Some(Amount { name, amount, at: reading.at })
            })
            .collect()
    };
    let (added, removed) = (amounts(added_all), amounts(removed_all));
    let of = |expr: &Option<Expr>| -> Option<Shown> {
        match value(plan, names, expr.as_ref()?).ok()? {
            Value::Quantity(quantity) => {
                let value = number_in(plan, &quantity, &unit)?;
                Some(Shown { value, shown: show(plan, &Value::Quantity(quantity)) })
            }
            _ => None,
        }
    };
    let sum = |of: &[Amount]| -> String {
        let total: f64 = of.iter().map(|amount| amount.amount.value).sum();
        let style = plan.shop.style.with(Purpose::Computed { digits: 3 });
        plan.units.quantity(total, &unit).map(|total| plan.units.show(&total, &style)).unwrap_or_default()
    };
    Ok(Balance {
        added_shown: sum(&added),
        removed_shown: sum(&removed),
        net: of(&asked.net),
        uncertainty: of(&asked.uncertainty),
        allowed: of(&asked.allowed),
        unit,
        added,
        removed,
    })
}

fn own_later(state: &State, reading: &Reading) -> bool {
    state.readings.iter().any(|later| {
        later.computed && later.name == reading.name && later.address == reading.address && later.seq > reading.seq
    })
}

pub(super) fn balance_says(balance: &Balance) -> String {
    let mut says = vec![format!("{} in, {} out as measured", balance.added_shown, balance.removed_shown)];
    if let Some(net) = &balance.net {
        let give =
            balance.uncertainty.as_ref().map(|give| format!(", give or take {}", give.shown)).unwrap_or_default();
        let allowed = balance.allowed.as_ref().map(|it| format!("; up to {} either way is called balanced", it.shown));
        let allowed = allowed.unwrap_or_default();
        says.push(format!("brought to one temperature {} more in than out{give}{allowed}", net.shown));
    }
    format!("{}.", says.join("; "))
}
