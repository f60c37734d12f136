//! Where the items of a step lie while it is under way: which are done in this pass, which is next.

use super::collect::layout_of;
use super::draw::draw_points;
use super::svg::Svg;
use super::{Layout, Point};
use crate::block::as_entered;
use standpipe_job::{Machine, Prompt, Record, State};

/// The map of what a prompt asks for; none where no picture of the procedure shows its items.
pub fn map(machine: &Machine, state: &State, records: &[Record], prompt: &Prompt) -> Option<Svg> {
    let asked = prompt.item.as_deref()?;
    let names = as_entered(&machine.plan, state);
    let layout: Layout = layout_of(&machine.plan, &prompt.address.step, &names, records)?;
    let (pass, next) = asked.rsplit_once('/').unwrap_or(("", asked));
    let key = |item: usize| if pass.is_empty() { item.to_string() } else { format!("{pass}/{item}") };
    let done = state.step(&prompt.address).map(|step| &step.progress.done);
    let class = |point: &Point| {
        if point.item.to_string() == next {
            "next"
        } else if done.is_some_and(|done| done.contains(&key(point.item))) {
            "done"
        } else {
            ""
        }
    };
    let mut svg = draw_points(&layout, &class);
    let shown: Vec<&Point> = layout.points.iter().collect();
    let listed = |wanted: &str| -> Vec<String> {
        shown.iter().filter(|point| class(point) == wanted).map(|point| point.item.to_string()).collect()
    };
    let top = layout.up.as_ref().map(|up| format!(" At the top: {up}.")).unwrap_or_default();
    let (next, done) = (listed("next").join(", "), or_none(&listed("done")));
    svg.says = format!("Next is {next}. Done in this pass: {done}.{top}");
    Some(svg)
}

fn or_none(items: &[String]) -> String {
    if items.is_empty() { "none".to_owned() } else { items.join(", ") }
}
