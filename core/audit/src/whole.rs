//! What the procedure itself asks of a job that is finished: that litres balance, for instance.

use super::point::Point;
use standpipe_job::judge::{Judgement, condition};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::said::listed;
use standpipe_job::{Phase, State, Verdict};
use standpipe_procedure::Expr;

/// None while something may still come, and none of a job that was given up.
pub fn points(plan: &Plan, state: &State, file: &str) -> Vec<Point> {
    if state.phase != Phase::Finished {
        return Vec::new();
    }
    let names = JobNames::in_the_end(plan, state);
    plan.main().points.iter().map(|(name, must)| point(plan, name, must, &names, state.seq, file)).collect()
}

fn point(plan: &Plan, name: &str, must: &Expr, names: &JobNames<'_>, line: u64, file: &str) -> Point {
    let mut point = Point::new(name, file);
    point.looked_at = 1;
    point.of_work = true;
    let text = must.text().split_whitespace().collect::<Vec<_>>().join(" ");
    let Judgement { verdict, missing, .. } = condition(plan, must, names);
    match verdict {
        Verdict::Met => {}
        Verdict::NotMet => {
            let found: Vec<String> = must
                .names(&plan.scripts)
                .filter_map(|name| {
                    Some(format!("`{}` is {}", name.path.join("."), plan.show(&names.path(&name.path)?)))
                })
                .collect();
            let found = indexmap::IndexSet::<String>::from_iter(found).into_iter().collect::<Vec<_>>().join(", ");
            point.fails(line, format!("{found}; wanted: {text}"));
        }
        Verdict::NotShown => {
            point.unshown(line, format!("{} not known; wanted: {text}", listed(&missing)));
        }
    }
    point
}
