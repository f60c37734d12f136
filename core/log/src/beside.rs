//! What was entered in a job beside what a log shows of the same minute: the two have to agree.

use standpipe_job::Moment;

use super::collected::Collected;
use super::description::Description;
use standpipe_job::state::Reading;
use standpipe_quantity::Quantity;
use standpipe_quantity::series::Kind;
use standpipe_quantity::value::Value;

/// What is read is entered within so many seconds. No source: own choice.
const SOON: f64 = 60.0;

/// A reading that the log contradicts.
#[derive(Clone, Debug)]
pub struct Contradiction<'a> {
    pub reading: &'a Reading,
    /// The lowest and the highest that the log shows within a minute of it.
    pub low: Quantity,
    pub high: Quantity,
}

impl Description {
    /// Of readings that count, those that the log contradicts. `zero`: the moment of its second 0. Where it has no row within a
    /// minute of a reading, it says nothing of it.
    pub fn contradictions<'a>(
        &self,
        log: &Collected,
        zero: Moment,
        readings: impl IntoIterator<Item = &'a Reading>,
    ) -> Vec<Contradiction<'a>> {
        let counting = readings.into_iter().filter(|reading| reading.counts && !reading.rejected && !reading.computed);
        counting.filter_map(|reading| self.contradiction(log, zero, reading)).collect()
    }

    fn contradiction<'a>(&self, log: &Collected, zero: Moment, reading: &'a Reading) -> Option<Contradiction<'a>> {
        let Value::Quantity(value) = &reading.value else { return None };
        let of = |entered: &super::wanted::Entered| entered.names.iter().any(|name| name.value == reading.name);
        let (name, column) = self.wanted.columns.iter().find(|(_, column)| column.entered.as_ref().is_some_and(of))?;
        let within = column.entered.as_ref()?.within;
        let series = log.series.get(name)?;
        let Kind::Measured(scale) = &series.kind else { return None };
        let sample = scale.quantity(0.0);
        if (sample.dimension, sample.point) != (value.dimension, value.point) {
            return None;
        }
        let second = reading.at.duration_since(zero).as_secs_f64();
        let near = series.within((second - SOON, second + SOON));
        let (low, high) =
            near.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, value)| (low.min(value), high.max(value)));
        let apart = (low - value.si).max(value.si - high);
        let contradicts = low <= high && apart > within * (1.0 + 1e-9);
        contradicts.then(|| Contradiction { reading, low: scale.quantity(low), high: scale.quantity(high) })
    }
}
