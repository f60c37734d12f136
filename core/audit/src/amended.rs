//! Data that were corrected while the job was under way: are both plans there, and could the one follow on the other?

use super::point::{Point, Verdict};
use standpipe_job::journal::Contents;
use standpipe_job::plan::{Kept, Plan, changed, unfit};
use standpipe_job::replay::replay;
use standpipe_job::{Event, Machine};

/// The machines that decided, each from the event of this number on.
pub struct Machines(Vec<(u64, Machine)>);

impl Machines {
    /// `first`: by the plan of the beginning. What the others lack is said.
    pub fn new(first: Machine, contents: &Contents, plans: &mut Kept, file: &str) -> (Self, Option<Point>) {
        let mut machines = vec![(0, first)];
        let mut point = Point::new("corrected data", file);
        for later in &contents.later {
            point.looked_at += 1;
            let built = later.text.as_ref().map_err(|problem| problem.message.clone()).and_then(|text| {
                let first = |problems: Vec<standpipe_diagnostic::Diagnostic>| {
                    problems.first().map_or_else(String::new, |problem| problem.message.clone())
                };
                plans.plan(text, file).map_err(first)
            });
            match built {
                Ok(plan) => {
                    let before = &machines[machines.len() - 1].1.plan;
                    for fault in faults(before, &plan, contents, later.seq) {
                        point.fails(later.seq, fault);
                    }
                    machines.push((later.seq, Machine::new(plan)));
                }
                Err(why) => point.find(
                    Verdict::DoesNotHold,
                    Some(later.seq),
                    format!("the plan by which the job went on is missing: {why}"),
                ),
            }
        }
        (Self(machines), (point.looked_at > 0).then_some(point))
    }

    /// Who decides a batch that begins with this event.
    pub fn at(&self, seq: u64) -> &Machine {
        let later = self.0.iter().rev().find(|(from, _)| *from <= seq);
        later.map_or(&self.0[0].1, |(_, machine)| machine)
    }

    pub fn last(&self) -> &Machine {
        &self.0[self.0.len() - 1].1
    }

    pub fn plans(&self) -> impl Iterator<Item = &Plan> {
        self.0.iter().map(|(_, machine)| &machine.plan)
    }
}

fn faults(before: &Plan, after: &Plan, contents: &Contents, seq: u64) -> Vec<String> {
    let mut faults = Vec::new();
    let split = contents.records.partition_point(|record| record.seq < seq);
    let (earlier, rest) = contents.records.split_at(split);
    let Some(Event::Amended { changed: named, because, .. }) = rest.first().map(|record| &record.event) else {
        return vec!["no event brings these data in".to_owned()];
    };
    if *named != changed(&before.snapshot, &after.snapshot) {
        faults.push("the files said to have changed are not the ones that differ".to_owned());
    }
    if because.trim().is_empty() {
        faults.push("the data were corrected without a reason".to_owned());
    }
    let by = &rest[0].by;
    if !before.may_amend(by) {
        faults.push(format!("`{by}` may not decide which data a job goes on with"));
    }
    faults.extend(unfit(before, after, earlier, &replay(earlier)));
    faults
}
