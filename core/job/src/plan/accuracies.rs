//! `shop.accuracy`: for each kind of instrument, how far any of that kind may be off.

use indexmap::IndexMap;

use standpipe_library::{Accuracy, Shop};
use standpipe_procedure::{Children, Procedure, Step};
use standpipe_quantity::value::Value;

/// A record for each kind, with `limit` (a quantity) and `share` (of the reading); what is not known of it is unknown. Which of
/// several instruments of a kind was taken makes no difference: the worst counts, and one without an accuracy leaves both unknown.
pub(super) fn accuracies<'a>(shop: &Shop, procedures: impl Iterator<Item = &'a Procedure>) -> Value {
    let mut kinds: IndexMap<String, Known> = IndexMap::new();
    for procedure in procedures {
        asked(&procedure.steps, &mut kinds);
    }
    for instrument in shop.instruments.values() {
        kinds.entry(name(&instrument.kind)).or_default().with(instrument.accuracy.as_ref());
    }
    Value::Record(kinds.into_iter().map(|(kind, known)| (kind, known.record())).collect())
}

/// As expressions name it.
fn name(kind: &str) -> String {
    kind.replace('-', "_")
}

/// Kinds that a step asks for, whether the shop has one or not.
fn asked(steps: &[Step], kinds: &mut IndexMap<String, Known>) {
    for step in steps {
        for kind in step.kind.fields().iter().filter_map(|field| field.instrument.as_ref()) {
            kinds.entry(name(&kind.value)).or_default();
        }
        if let Children::Steps(children) = step.kind.children() {
            asked(children, kinds);
        }
    }
}

#[derive(Default)]
struct Known {
    limit: Option<Value>,
    share: Option<f64>,
    /// One of the kind says nothing of its accuracy.
    silent: bool,
}

impl Known {
    fn with(&mut self, accuracy: Option<&Accuracy>) {
        match accuracy {
            Some(Accuracy::OfReading(share)) => self.share = Some(self.share.map_or(*share, |own| own.max(*share))),
            Some(Accuracy::Fixed(limit)) => match &self.limit {
                Some(Value::Quantity(own)) if own.si >= limit.si => {}
                _ => self.limit = Some(Value::Quantity(limit.clone())),
            },
            None => self.silent = true,
        }
    }

    fn record(self) -> Value {
        let limit = self.limit.filter(|_| !self.silent).unwrap_or(Value::Unknown);
        let share = self.share.filter(|_| !self.silent).map_or(Value::Unknown, Value::Number);
        Value::Record(IndexMap::from([("limit".to_owned(), limit), ("share".to_owned(), share)]))
    }
}
