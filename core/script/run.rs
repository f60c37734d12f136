//! What one evaluation shares with the functions it calls: units, limits spent, values touched that nobody entered.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use rhai::Dynamic;

use super::guest::{Absent, Stop, stop};
use super::limits;
use crate::diagnostic::Code;
use crate::quantity::{Quantity, Style, Units};

pub(super) struct Run {
    pub units: Arc<Units>,
    style: Style,
    operations: Cell<u64>,
    deadline: Cell<Option<Instant>>,
    timeout: Cell<Duration>,
    touched: RefCell<Vec<Rc<str>>>,
    /// What `all(name)` gives, looked up before the evaluation starts.
    every: RefCell<HashMap<String, Dynamic>>,
}

/// Why the interpreter was told to stop; it hands the token back in its error.
pub(super) const TOO_MANY_OPERATIONS: i64 = 1;
pub(super) const TOO_LONG: i64 = 2;

impl Run {
    pub fn new(units: Arc<Units>) -> Rc<Self> {
        Rc::new(Self {
            units,
            style: Style::default(),
            operations: Cell::new(0),
            deadline: Cell::new(None),
            timeout: Cell::new(limits::TIME),
            touched: RefCell::default(),
            every: RefCell::default(),
        })
    }

    pub fn start(&self, every: HashMap<String, Dynamic>) {
        self.operations.set(0);
        self.deadline.set(None);
        self.touched.borrow_mut().clear();
        *self.every.borrow_mut() = every;
    }

    /// Counts here and not only in the interpreter: a function of ours that calls a closure gets a copy of the
    /// interpreter's counter, so that each call would begin with a fresh budget.
    pub fn progress(&self) -> Option<Dynamic> {
        let count = self.operations.get() + 1;
        self.operations.set(count);
        if count > limits::OPERATIONS {
            return Some(Dynamic::from_int(TOO_MANY_OPERATIONS));
        }
        if count % 256 == 1 {
            let now = Instant::now();
            match self.deadline.get() {
                None => self.deadline.set(Some(now + self.timeout.get())),
                Some(deadline) if now > deadline => return Some(Dynamic::from_int(TOO_LONG)),
                Some(_) => {}
            }
        }
        None
    }

    #[cfg(test)]
    pub fn set_timeout(&self, timeout: Duration) {
        self.timeout.set(timeout);
    }

    /// Ends the script. Even if the interpreter swallowed the error, the evaluation counts as not shown.
    pub fn touch(&self, absent: &Absent) -> Stop {
        let mut touched = self.touched.borrow_mut();
        if !touched.contains(&absent.0) {
            touched.push(absent.0.clone());
        }
        stop(Code::S002, format!("{} is not known", absent.0))
    }

    pub fn touched(&self) -> Vec<String> {
        self.touched.borrow().iter().map(|name| name.to_string()).collect()
    }

    pub fn every(&self, name: &str) -> Option<Dynamic> {
        self.every.borrow().get(name).cloned()
    }

    /// As computed, in a metric unit: `38.2 °C`.
    pub fn shown(&self, quantity: &Quantity) -> String {
        self.units.show(quantity, &self.style)
    }

    /// With the kind of quantity, if it has a name: `38.2 °C (temperature)`.
    pub fn described(&self, quantity: &Quantity) -> String {
        let family = quantity.of.clone().or_else(|| {
            let mut same = self.units.families().filter(|family| {
                family.dimension == quantity.dimension && family.point == quantity.point
            });
            same.next().filter(|_| same.next().is_none()).map(|family| family.name.clone())
        });
        match family {
            Some(family) => format!("{} ({})", self.shown(quantity), family.replace('-', " ")),
            None => self.shown(quantity),
        }
    }
}
