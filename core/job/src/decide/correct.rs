//! A correction: a new value for an entry that was made.

use indexmap::{IndexMap, IndexSet};

use super::{Changed, Decision, needs_reason};
use crate::event::Event;
use crate::input::Refusal;
use crate::state::Reading;
use standpipe_diagnostic::{Code, nearest};
use standpipe_quantity::value::Value;

impl Decision<'_> {
    pub(super) fn correct(
        &mut self,
        entry: Option<u64>,
        values: &IndexMap<String, String>,
        because: &str,
    ) -> Result<(), Refusal> {
        needs_reason(because)?;
        let mut earliest = u64::MAX;
        let mut changed: IndexSet<String> = IndexSet::new();
        for (name, typed) in values {
            let (entry, value) = self.corrected(entry, name, typed)?;
            earliest = earliest.min(entry);
            changed.insert(name.clone());
            self.emit(Event::Corrected {
                entry,
                values: IndexMap::from([(name.clone(), value)]),
                typed: IndexMap::from([(name.clone(), typed.clone())]),
                because: because.to_owned(),
            });
        }
        self.follow(Changed::names(changed.clone()), |_, seq| seq > earliest);
        if self.plan.sign_names().iter().any(|(name, _)| changed.contains(name))
            && let Some(reading) = changed.iter().find_map(|name| self.state.latest(name))
        {
            let address = reading.address.clone();
            self.recognise(&address);
        }
        Ok(())
    }

    /// The entry that a name's correction is about, and the new value.
    fn corrected(&self, entry: Option<u64>, name: &str, typed: &str) -> Result<(u64, Value), Refusal> {
        let found = self.state.readings.iter().rev().find(|reading| {
            reading.name == name && !reading.rejected && entry.is_none_or(|entry| entry == reading.seq)
        });
        let Some(reading) = found else {
            let of_it = |reading: &&Reading| !reading.computed && entry.is_none_or(|entry| entry == reading.seq);
            let known = self.state.readings.iter().filter(of_it).map(|reading| reading.name.as_str());
            let message = match entry {
                None => format!("nothing has been entered for `{name}` yet"),
                Some(_) => format!("`{name}` was not entered there"),
            };
            let mut refusal = Refusal::new(Code::UnfitAnswer, message);
            if let Some(near) = nearest(name, known) {
                refusal = refusal.help(format!("did you mean `{near}`?"));
            }
            return Err(refusal);
        };
        if reading.computed {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{name}` is computed"))
                .help("correct what it was computed from; it follows"));
        }
        let field = self
            .plan
            .step(&reading.address.step)
            .and_then(|step| step.kind.fields().iter().find(|field| field.name.as_str() == name));
        let Some(field) = field else {
            return Err(Refusal::new(Code::UnfitAnswer, format!("`{name}` is not a value that can be corrected")));
        };
        let unit = reading.with.as_ref().and_then(|id| self.plan.shop.unit_of(id));
        let value =
            field.read(typed, &self.plan.units, unit.as_deref()).map_err(|misread| Refusal::misread(name, misread))?;
        if let Value::Text(person) = &value {
            self.person(field, person, &IndexMap::new()).map_err(|refusal| refusal.of(name))?;
        }
        Ok((reading.seq, value))
    }
}
