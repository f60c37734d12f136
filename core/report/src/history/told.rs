//! What one finished job tells: a sheet over what was read in it.

use std::borrow::Cow;
use std::path::Path;

use indexmap::IndexMap;
use jiff::civil::Date;

use super::course::{Origin, longest};
use standpipe_job::names::JobNames;
use standpipe_job::plan::Plan;
use standpipe_job::{Record, State};
use standpipe_procedure::Learned;
use standpipe_procedure::learned::READINGS;
use standpipe_quantity::value::Value;
use standpipe_script::{Fault, Names};
use standpipe_sheet::{Shape, Sheet};

#[derive(Clone, Debug)]
pub struct Told {
    /// Number of the job.
    pub job: String,
    pub on: Date,
    pub variant: Option<String>,
    pub value: Value,
    /// Standard uncertainty.
    pub uncertainty: Value,
    pub readings: usize,
    pub from: Origin,
    pub warnings: Vec<String>,
}

impl Told {
    /// The sheets are those of the plan that asks, what they are handed is that of the finished job.
    ///
    /// Errors: why it tells nothing.
    pub fn of(
        plan: &Plan,
        learned: &Learned,
        job: &str,
        (past, state, records): (&Plan, &State, &[Record]),
        folder: &Path,
    ) -> Result<Self, String> {
        let sheet = plan.sheets.get(learned.call.sheet.as_str()).ok_or("the sheet is not there")?;
        let course = longest(past, learned, state, records, folder).ok_or("it was not read there")?;
        let mut inputs = IndexMap::from([(READINGS.to_owned(), list(plan, sheet, &course.readings)?)]);
        let names = JobNames::in_the_end(past, state);
        for (name, expr) in &learned.call.with {
            match expr.evaluate(&plan.scripts, &names) {
                Ok(value) if !value.is_unknown() => {
                    inputs.insert(name.clone(), value);
                }
                Ok(_) | Err(Fault::NotShown(_)) if sheet.is_optional(name) => {}
                Ok(_) => return Err(format!("`{name}` is not known")),
                Err(fault) => return Err(said(fault)),
            }
        }
        let outcome = sheet.run(&plan.scripts, inputs).map_err(said)?;
        let output = |name: &str| outcome.outputs.get(name).filter(|value| !value.is_unknown()).cloned();
        let value = output(&learned.gives).ok_or("the sheet gives nothing")?;
        let uncertainty = output(&learned.uncertainty).ok_or("nothing says by how much it may be off")?;
        if let Some(must) = &learned.must {
            match must.evaluate(&plan.scripts, &Outputs(&outcome.outputs)) {
                Ok(Value::Truth(true)) => {}
                Ok(_) => {
                    let found = format!("{}, give or take {}", plan.show(&value), plan.show(&uncertainty));
                    return Err(format!("{found}, is not good enough"));
                }
                Err(fault) => return Err(said(fault)),
            }
        }
        Ok(Self {
            job: job.to_owned(),
            on: course.last_at.date(),
            variant: state.variant.clone(),
            value,
            uncertainty,
            readings: course.readings.len(),
            from: course.from,
            warnings: outcome.warnings,
        })
    }
}

/// Why it tells nothing.
pub(crate) fn said(fault: Fault) -> String {
    match fault {
        Fault::NotShown(names) => format!("{} not known", names.join(", ")),
        Fault::Failed(problem) => problem.message,
    }
}

/// As the sheet's records call the time and what was read.
fn list(plan: &Plan, sheet: &Sheet, readings: &[(f64, standpipe_quantity::Quantity)]) -> Result<Value, String> {
    let parts = match sheet.inputs.get(READINGS).map(|input| &input.shape) {
        Some(Shape::Record(parts)) if parts.len() == 2 => parts,
        _ => return Err("the sheet takes no readings".to_owned()),
    };
    let mut names = parts.keys();
    let (Some(time), Some(read)) = (names.next(), names.next()) else { return Err(String::new()) };
    let one = |(at, value): &(f64, standpipe_quantity::Quantity)| -> Option<Value> {
        let at = Value::Quantity(plan.units.quantity(*at, "s").ok()?);
        let record = [(time.clone(), at), (read.clone(), Value::Quantity(value.clone()))];
        Some(Value::Record(IndexMap::from(record)))
    };
    let all = readings.iter().map(one).collect::<Option<Vec<Value>>>();
    Ok(Value::List(all.ok_or("there is no unit of time")?))
}

/// Outputs of a sheet under their own names.
struct Outputs<'a>(&'a IndexMap<String, Value>);

impl Names for Outputs<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        self.0.get(name).map(Cow::Borrowed)
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.0.get(name).cloned().into_iter().collect()
    }
}
