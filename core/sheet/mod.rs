use std::sync::Arc; use indexmap::IndexMap; use crate::{source::*, value::*, script::*, quantity::*, diagnostic::*};
pub struct Sheet; pub struct Outcome { pub outputs: IndexMap<String, Value>, pub warnings: Vec<String> }
impl Sheet { pub fn read(_: &Arc<Source>, _: &str, _: &Units, _: &mut Problems) -> Option<Sheet> { Some(Sheet) } pub fn is_optional(&self, _: &str) -> bool { false }
pub fn run(&self, _: &Scripts, _: IndexMap<String, Value>) -> Result<Outcome, Fault> { Err(Fault::NotShown(vec![])) } }
