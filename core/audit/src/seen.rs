//! One event as an audit comes across it: with what had happened before.

use standpipe_job::plan::Plan;
use standpipe_job::{Address, Event, Record, State};
use standpipe_procedure::Step;

use super::point::Point;

pub struct Seen<'a> {
    pub plan: &'a Plan,
    /// Before the event.
    pub before: &'a State,
    pub record: &'a Record,
}

/// Looks at every event of a journal, in order, and says what it makes of them.
pub trait Look {
    fn see(&mut self, seen: &Seen<'_>);
    fn points(self: Box<Self>) -> Vec<Point>;
}

impl<'a> Seen<'a> {
    /// The step of an event, where the plan has it.
    pub fn step(&self) -> Option<&'a Step> {
        let address = match &self.record.event {
            Event::Entered { address, .. } | Event::Skipped { address, .. } | Event::Accepted { address, .. } => {
                address
            }
            _ => return None,
        };
        self.step_at(address)
    }

    pub fn step_at(&self, address: &Address) -> Option<&'a Step> {
        self.plan.step(&address.step)
    }

    pub fn line(&self) -> u64 {
        self.record.seq
    }

    /// Does the shop know this person? `None` if it names nobody.
    pub fn known(&self, person: &str) -> Option<bool> {
        let people = &self.plan.shop.people;
        (!people.is_empty()).then(|| people.contains_key(person))
    }
}
