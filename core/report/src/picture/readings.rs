//! Pictures of what was read: a course over time, and a balance.

use std::path::Path;

use standpipe_job::Moment;

use super::collect::{number_in, unit_of, value};
use super::trace::{Paper, moment};
use super::{Amount, Balance, Course, Marked, Sample, Series, Shown, sources};
use crate::block::as_entered;
use crate::shown::{clock, show, words};
use standpipe_job::names::{JobNames, seconds_between};
use standpipe_job::plan::Plan;
use standpipe_job::state::Reading;
use standpipe_job::{Event, Record, State};
use standpipe_procedure::page::{Balance as Asked, Course as AskedCourse, Drawn};
use standpipe_procedure::{Expr, Procedure};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity};
use standpipe_yaml::At;

fn quantity(reading: &Reading) -> Option<&Quantity> {
    match &reading.value {
        Value::Quantity(quantity) => Some(quantity),
        _ => None,
    }
}

/// Before and after what happened, this much of its time is drawn of a log; at least a minute. Own choice.
const MARGIN: f64 = 0.1;

/// The time of a picture of a log; none where too little happened to say it.
pub(super) fn around_times(times: impl Iterator<Item = Moment> + Clone) -> Option<(Moment, Moment)> {
    let (first, last) = (times.clone().min()?, times.max()?);
    let margin = (seconds_between(first, last) * MARGIN).max(60.0);
    (first < last).then(|| (moment(first, -margin), moment(last, margin)))
}

/// Names of readings that stand in one picture with this one.
pub(super) fn has_read(plan: &Plan, name: &str) -> Vec<String> {
    let pictures = plan.procedures.values().flat_map(|procedure| &procedure.pictures);
    let courses = pictures.filter_map(|picture| match &picture.drawn {
        Drawn::Course(course) => Some(course.of.iter().map(|of| of.value.clone()).collect::<Vec<_>>()),
        _ => None,
    });
    let mut names = vec![name.to_owned()];
    for of in courses.filter(|of| of.iter().any(|of| of == name)) {
        names.extend(of.into_iter().filter(|of| !names.contains(of)).collect::<Vec<_>>());
    }
    names
}

pub(super) fn samples<'a>(
    plan: &'a Plan,
    readings: impl Iterator<Item = &'a Reading> + 'a,
    unit: &'a str,
) -> impl Iterator<Item = Sample> + 'a {
    readings.filter_map(move |reading| {
        Some(Sample {
            at: reading.at,
            value: number_in(plan, quantity(reading)?, unit)?,
            shown: show(plan, &reading.value),
            counts: reading.counts && !reading.rejected,
        })
    })
}

/// Readings taken in the procedure that asks for the picture: the same name read for another reason is another course.
pub(super) fn course(
    plan: &Plan,
    procedure: &Procedure,
    (state, records, folder): (&State, &[Record], Option<&Path>),
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
    let series = asked
        .of
        .iter()
        .map(|name| Series { name: words(name), points: samples(plan, readings(name), &unit).collect() });
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
    let mut events = Vec::new();
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
            events.push(Marked { at: record.at, title: format!("{}{round}", title.unwrap_or_default()) });
        }
    }
    let mut course = Course { unit, series, window, limit, events, ..Course::default() };
    if let Some(folder) = folder {
        let paper = Paper {
            plan,
            unit: &course.unit,
            window,
            events: &course.events,
            drawn: around_times(course.times()),
            since_start: false,
        };
        let is_read = |name: &str| asked.of.iter().any(|of| of.value == name);
        course.traces = sources::traces((records, folder), is_read, here, &paper);
    }
    Ok(course)
}

impl Course {
    /// When something was read or happened.
    pub(super) fn times(&self) -> impl Iterator<Item = Moment> + Clone {
        let read = self.series.iter().flat_map(|series| &series.points).map(|sample| sample.at);
        read.chain(self.events.iter().map(|event| event.at))
    }
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
    let drawn: Vec<&str> =
        course.traces.iter().filter(|trace| !trace.lines.is_empty()).map(|trace| trace.file.as_str()).collect();
    if !drawn.is_empty() {
        says.push(format!("the line is what was logged ({})", drawn.join(", ")));
    }
    let says = says.join("; ");
    if says.is_empty() { says } else { format!("{says}.") }
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
