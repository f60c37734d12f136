//! One document read as one type, in as many passes as it takes to see all of it.
//!
//! serde gives up at the first faulty value. So a fault is reported and marked, and the next pass leaves the marked value
//! out: what stands behind it is looked at too.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashSet};

use serde::de::DeserializeOwned;

use super::deserialize::NodeDeserializer;
use super::fault::Fault;
use super::node::Node;
use super::unknown_key::UnknownKeys;
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// Each pass but the last finds one fault; a file with more of them than this shows the rest once these are mended.
const MOST_PASSES: usize = 100;

/// What the passes share.
#[derive(Default)]
pub(super) struct Reading {
    /// Nodes that a pass goes round, by address: the tree does not move while it is read.
    failed: RefCell<HashSet<usize>>,
    found: RefCell<BTreeMap<(usize, Code, String), Diagnostic>>,
    pub(super) unknown: RefCell<UnknownKeys>,
}

impl Reading {
    pub(super) fn is_failed(&self, node: &Node) -> bool {
        self.failed.borrow().contains(&address(node))
    }

    /// Reports a fault of a value and marks the value; the fault that is left says only that this has happened.
    pub(super) fn note(&self, node: &Node, fault: Fault) -> Fault {
        match fault.at(node) {
            Fault::Placed(diagnostic) => {
                self.report(*diagnostic);
                self.failed.borrow_mut().insert(address(node));
            }
            Fault::Silent => {
                self.failed.borrow_mut().insert(address(node));
            }
            _ => {}
        }
        Fault::Reported
    }

    pub(super) fn report(&self, diagnostic: Diagnostic) {
        // Later passes see the same unknown keys again.
        let key = (diagnostic.place.range().start, diagnostic.code, diagnostic.message.clone());
        self.found.borrow_mut().entry(key).or_insert(diagnostic);
    }
}

fn address(node: &Node) -> usize {
    std::ptr::from_ref(node).addr()
}

pub(super) fn read_tree<T: DeserializeOwned>(root: &Node, problems: &mut Problems) -> Option<T> {
    let reading = Reading::default();
    let mut value = None;
    for _ in 0..MOST_PASSES {
        let before = reading.failed.borrow().len();
        match T::deserialize(NodeDeserializer::new(root, &reading)) {
            Ok(read) => value = Some(read),
            Err(Fault::Reported) => {}
            Err(fault) => {
                reading.note(root, fault);
                break;
            }
        }
        if reading.failed.borrow().len() == before {
            break;
        }
    }
    let sound = reading.failed.borrow().is_empty();
    let mut found: Problems = reading.found.into_inner().into_values().collect();
    reading.unknown.into_inner().explain(&mut found);
    problems.append(&mut found);
    value.filter(|_| sound)
}
