//! Inputs of a card that finished jobs of the same family tell: reckoned with only where nobody has entered another, and
//! never without saying where they are from.

use indexmap::IndexMap;

use super::{FromEarlier, ToldBy};
use crate::history::{Earlier, Origin, Told as By};
use crate::shown::{count, show, words};
use standpipe_diagnostic::columns::clean;
use standpipe_job::plan::Plan;
use standpipe_procedure::page::Call;
use standpipe_procedure::{Learned, Procedure};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_sheet::Sheet;
use standpipe_sheet::uncertainty::{self, Error, Found, Spread};

pub(super) struct Told<'a> {
    pub earlier: &'a Earlier,
    pub procedure: &'a Procedure,
    pub variant: Option<&'a str>,
}

impl Told<'_> {
    /// Adds what is told to the inputs, and takes it off what is missing.
    pub fn add(
        &self,
        plan: &Plan,
        call: &Call,
        inputs: &mut IndexMap<String, Value>,
        missing: &mut IndexMap<String, Vec<String>>,
    ) -> Vec<FromEarlier> {
        let ids =
            call.earlier.iter().filter_map(|(input, id)| Some((input, id, self.procedure.learned.get(id.as_str())?)));
        ids.map(|(input, id, learned)| {
            let told = self.earlier.told(&self.procedure.id, id, self.variant);
            let entered = inputs.get(input).cloned();
            let text = match (told, &entered) {
                (Some(told), None) => format!("{} {}.", learned.title, self.said(plan, told)),
                (Some(told), Some(entered)) => {
                    let said = self.said(plan, told);
                    format!("{} {}, as entered. An earlier job came to {said}.", learned.title, show(plan, entered))
                }
                (None, Some(entered)) => {
                    format!("{} {}, as entered; {}.", learned.title, show(plan, entered), self.nothing(id))
                }
                (None, None) => {
                    format!("{}: {}. {}", learned.title, self.nothing(id), by_hand(plan, call, learned, input))
                }
            };
            if let (Some(told), None) = (told, &entered) {
                inputs.insert(input.clone(), told.value.clone());
                missing.shift_remove(input);
            }
            FromEarlier {
                input: input.clone(),
                used: told.is_some() && entered.is_none(),
                told: told.map(|told| ToldBy {
                    job: told.job.clone(),
                    on: told.on,
                    variant: told.variant.clone(),
                    value: told.value.clone(),
                    uncertainty: told.uncertainty.clone(),
                    readings: told.readings,
                }),
                text: clean(&text),
            }
        })
        .collect()
    }

    /// `142 min, standard uncertainty 3 min, by 60 readings in the log of job 2026-1101 on 2026-11-23`.
    fn said(&self, plan: &Plan, told: &By) -> String {
        let by = match told.from {
            Origin::Entered => "entered in",
            Origin::Reader => "of the reader in",
            Origin::Log => "of the log of",
        };
        let other = match (&told.variant, self.variant) {
            (Some(of), Some(wanted)) if of != wanted => format!(", which was of another variant, {}", words(of)),
            _ => String::new(),
        };
        let warned: Vec<String> = told.warnings.iter().map(|warning| format!("; {warning}")).collect();
        format!(
            "{}, standard uncertainty {}, by {} {by} job {} on {}{other}{}",
            show(plan, &told.value),
            show(plan, &told.uncertainty),
            count(told.readings, "reading"),
            told.job,
            told.on,
            warned.join("")
        )
    }

    /// Why no job tells it.
    fn nothing(&self, id: &str) -> String {
        let Some(folder) = &self.earlier.folder else {
            return "nothing says where finished jobs are (`journals:` in the shop file, or `--journals DIR`)"
                .to_owned();
        };
        let folder = folder.display();
        match self.earlier.silent(&self.procedure.id, id) {
            None => format!("there is no finished job of this family below {folder}"),
            Some((job, why)) => {
                let jobs = count(self.earlier.looked_at, "finished job");
                format!("{jobs} of this family below {folder}, none of which shows it ({job}: {why})")
            }
        }
    }
}

/// How it is given without any earlier job.
fn by_hand(plan: &Plan, call: &Call, learned: &Learned, input: &str) -> String {
    let paths = call.with.get(input).into_iter().flat_map(|expr| expr.names(&plan.scripts));
    let places: Vec<String> = paths
        .filter_map(|name| {
            let (first, rest) = name.path.split_first()?;
            let file = match first.as_str() {
                "spec" => "family file",
                "job" => "job file",
                "shop" => "shop file",
                _ => return None,
            };
            Some(format!("`{}` in the {file}", rest.join(".")))
        })
        .collect();
    let sheet = &learned.call.sheet.value;
    match places.first() {
        Some(place) => format!("By hand: {place}; `standpipe calc {sheet}` works it out from readings."),
        None => format!("`standpipe calc {sheet}` works it out from readings."),
    }
}

/// In which range the outputs lie with 95 %, by what the told inputs alone may be off.
pub(super) fn intervals(
    plan: &Plan,
    sheet: &Sheet,
    inputs: &IndexMap<String, Value>,
    earlier: &[FromEarlier],
) -> IndexMap<String, (f64, f64)> {
    let spreads: IndexMap<String, Spread> = earlier
        .iter()
        .filter(|one| one.used)
        .filter_map(|one| match &one.told.as_ref()?.uncertainty {
            Value::Quantity(Quantity { si, .. }) => Some((one.input.clone(), Spread(vec![Error::Normal(*si)]))),
            _ => None,
        })
        .collect();
    if spreads.is_empty() {
        return IndexMap::new();
    }
    // Where some trials are refused the result stands without a range, and its inputs with their uncertainty.
    let trials = uncertainty::Plan::new(sheet, &plan.units, inputs, &spreads);
    let Ok(found) = uncertainty::propagate_here(&trials, &plan.scripts) else { return IndexMap::new() };
    let range = |found: Found| match found {
        Found::Number { uncertain, .. } if uncertain.standard > 0.0 => Some((uncertain.low, uncertain.high)),
        _ => None,
    };
    found.outputs.into_iter().filter_map(|(name, found)| Some((name, range(found)?))).collect()
}
