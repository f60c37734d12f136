//! What one evaluation shares with the functions it calls: units, limits spent, values touched that nobody entered.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use rhai::{Dynamic, Map};

use super::convert::into_script;
use super::guest::{Absent, Stop, stop};
use super::limits;
use super::tables::Tables;
use standpipe_diagnostic::Code;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Style, Units};

/// Values by name.
#[derive(Default)]
pub(super) struct Known {
    pub latest: HashMap<String, Dynamic>,
    /// Of `all(name)`.
    pub every: HashMap<String, Dynamic>,
}

impl Known {
    /// Puts in what is mentioned, and nothing of the records around it: a family has hundreds of facts.
    pub fn put(&mut self, path: &[String], value: &Value) {
        let Some((root, keys)) = path.split_first() else { return };
        let value = into_script(value, &path.join("."));
        put(self.latest.entry(root.clone()).or_insert_with(|| Dynamic::from_map(Map::new())), keys, value);
    }
}

fn put(place: &mut Dynamic, keys: &[String], value: Dynamic) {
    let Some((key, rest)) = keys.split_first() else {
        *place = value;
        return;
    };
    if let Some(mut fields) = place.write_lock::<Map>() {
        let field = fields.entry(key.as_str().into()).or_insert_with(|| Dynamic::from_map(Map::new()));
        put(field, rest, value);
    }
}

pub(super) struct Run {
    pub units: Arc<Units>,
    pub style: Style,
    pub tables: Tables,
    operations: Cell<u64>,
    deadline: Cell<Option<Instant>>,
    timeout: Cell<Duration>,
    touched: RefCell<Vec<Rc<str>>>,
    /// What the names of the expression stand for, looked up before the evaluation starts.
    known: RefCell<Known>,
}

/// Why the interpreter was told to stop; it hands the token back in its error.
pub(super) const TOO_MANY_OPERATIONS: i64 = 1;
pub(super) const TOO_LONG: i64 = 2;

impl Run {
    pub fn new(units: Arc<Units>, tables: Tables) -> Rc<Self> {
        Rc::new(Self {
            units,
            style: Style::default(),
            tables,
            operations: Cell::new(0),
            deadline: Cell::new(None),
            timeout: Cell::new(limits::TIME),
            touched: RefCell::default(),
            known: RefCell::default(),
        })
    }

    pub fn start(&self, known: Known) {
        self.operations.set(0);
        self.deadline.set(None);
        self.touched.borrow_mut().clear();
        *self.known.borrow_mut() = known;
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
        stop(Code::UnknownName, format!("{} is not known", absent.0))
    }

    pub fn touched(&self) -> Vec<String> {
        self.touched.borrow().iter().map(|name| name.to_string()).collect()
    }

    pub fn every(&self, name: &str) -> Option<Dynamic> {
        self.known.borrow().every.get(name).cloned()
    }

    pub fn latest(&self, name: &str) -> Option<Dynamic> {
        self.known.borrow().latest.get(name).cloned()
    }

    /// As computed, in a metric unit: `38.2 °C`.
    pub fn shown(&self, quantity: &Quantity) -> String {
        self.units.show(quantity, &self.style)
    }

    /// With the kind of quantity, if it has a name: `38.2 °C (temperature)`.
    pub fn described(&self, quantity: &Quantity) -> String {
        self.units.describe(quantity)
    }
}
