//! An instrument is found to be off: what would have become of finished jobs, had it shown what was true.

use jiff::civil::Date;
use standpipe_job::State;
use standpipe_job::plan::Plan;
use standpipe_job::state::Reading;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};

use super::against::{Recheck, between};

/// What is wrong with which instrument.
#[derive(Clone, Debug)]
pub struct Recall {
    pub instrument: String,
    /// One way of being off, or two where it is not known which way.
    pub off: Vec<Off>,
    /// The first day of entries that are looked at.
    pub since: Option<Date>,
}

/// What an instrument shows, less what is true.
#[derive(Clone, Debug)]
pub struct Off {
    by: By,
    /// `8 % too much`
    words: String,
}

#[derive(Clone, Debug)]
enum By {
    /// Of what is true: the relative deviation of ISO 6789-2 (from memory).
    Share(f64),
    Amount(Quantity),
}

impl Recall {
    /// `off`: `+8 %` for one that shows too much, `-2 K` for one that shows too little, without a sign for either.
    ///
    /// Errors: neither a share above -100 % nor an amount with a unit; nothing.
    pub fn read(instrument: &str, off: &str, since: Option<Date>, units: &Units) -> Result<Self, String> {
        let text = off.trim();
        let (signs, amount): (&[f64], &str) = match (text.strip_prefix('+'), text.strip_prefix(['-', '−'])) {
            (Some(rest), _) => (&[1.0], rest),
            (_, Some(rest)) => (&[-1.0], rest),
            _ => (&[1.0, -1.0], text),
        };
        let amount = amount.trim();
        let read = |sign: f64| {
            let by = match amount.strip_suffix('%') {
                Some(share) => {
                    let share = share.trim().parse::<f64>().ok().map(|share| sign * share / 100.0);
                    share.filter(|share| share.is_finite() && *share > -1.0 && *share != 0.0).map(By::Share)
                }
                None => by(amount, sign, units).map(By::Amount),
            };
            let words = format!("{amount} too {}", if sign > 0.0 { "much" } else { "little" });
            by.map(|by| Off { by, words }).ok_or_else(|| format!("`{off}` does not say by how much it is off"))
        };
        let off = signs.iter().map(|sign| read(*sign)).collect::<Result<_, _>>()?;
        Ok(Self { instrument: instrument.to_owned(), off, since })
    }

    /// `None` for a job in which it was not used since then.
    pub fn recheck(&self, plan: &Plan, state: &State) -> Option<Recheck> {
        let concerned = |reading: &Reading| {
            plan.measured_with(reading) == Some(&self.instrument)
                && !reading.computed
                && self.since.is_none_or(|since| reading.at.date() >= since)
        };
        let all: Vec<usize> = (0..state.readings.len()).filter(|at| concerned(&state.readings[*at])).collect();
        if all.is_empty() {
            return None;
        }
        let mut recheck = Recheck { missed: Vec::new(), not_judged: Vec::new() };
        for off in &self.off {
            let mut truly = state.clone();
            for at in &all {
                let reading = &state.readings[*at];
                match off.truth(&reading.value) {
                    Some(value) => truly.readings.change_at(*at).value = value,
                    None => recheck.not_judged.push(format!(
                        "`{}`: {} can't be off by {}",
                        reading.address,
                        plan.show(&reading.value),
                        off.words
                    )),
                }
            }
            let found = between(plan, plan, state, &truly);
            recheck.not_judged.extend(found.not_judged);
            let assumed = &off.words;
            let missed = found.missed.into_iter();
            recheck.missed.extend(missed.map(|missed| super::Missed { assumed: Some(assumed.clone()), ..missed }));
        }
        recheck.not_judged.dedup();
        Some(recheck)
    }
}

/// An amount, not a point on a scale: 2 K is one, 2 °C is none.
fn by(amount: &str, sign: f64, units: &Units) -> Option<Quantity> {
    let place = standpipe_job::plan::typed("--off", amount);
    match units.read(&place, None, None).ok()? {
        Value::Quantity(by) if by.si != 0.0 && by.si.is_finite() => {
            // Kelvins above nothing are as many kelvins of difference; degrees are not.
            let as_written = by.written.as_ref().is_some_and(|written| (written.value - by.si).abs() < 1e-9);
            (!by.point || as_written).then_some(Quantity { si: sign * by.si, point: false, written: None, ..by })
        }
        _ => None,
    }
}

impl Off {
    /// What was true where this was shown; `None` where it can't be off so.
    fn truth(&self, shown: &Value) -> Option<Value> {
        let Value::Quantity(shown) = shown else { return None };
        let si = match &self.by {
            By::Share(share) if !shown.point => shown.si / (1.0 + share),
            By::Amount(by) if by.dimension == shown.dimension => shown.si - by.si,
            _ => return None,
        };
        Some(Value::Quantity(Quantity { si, written: None, ..shown.clone() }))
    }
}
