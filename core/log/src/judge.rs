//! What a log shows: the checks of a plugin, each met, not met or not shown.

use std::borrow::Cow;
use std::sync::Arc;

use indexmap::{IndexMap, IndexSet};

use super::collected::Collected;
use super::description::{Check, Description};
use standpipe_diagnostic::Diagnostic;
use standpipe_job::event::Verdict;
use standpipe_quantity::series::Series;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Quantity, Units};
use standpipe_script::{Fault, Names, Scripts};

/// What `log.` counts.
pub const FACTS: [&str; 6] = ["rows", "backwards", "repeated", "unreadable", "odd", "torn"];

/// Besides the log itself, what its checks look at.
#[derive(Clone, Debug, Default)]
pub struct Around {
    /// Facts of the family; none if no family is known.
    pub spec: Option<Value>,
    pub window: Option<(Quantity, Quantity)>,
    /// Seconds on the log's clock.
    pub events: IndexMap<String, f64>,
    pub job_time: Option<(f64, f64)>,
}

#[derive(Clone, Debug)]
pub struct Judged {
    pub id: String,
    pub title: String,
    pub at_stake: String,
    pub verdict: Verdict,
    /// Why it is not shown.
    pub missing: Vec<String>,
    /// The check itself failed, or gave no verdict.
    pub fault: Option<Box<Diagnostic>>,
}

struct LogNames<'a> {
    series: &'a IndexMap<String, Arc<Series>>,
    latest: IndexMap<String, Value>,
}

impl Names for LogNames<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        self.latest.get(name).map(Cow::Borrowed)
    }

    fn all(&self, _name: &str) -> Vec<Value> {
        Vec::new()
    }

    fn series(&self, name: &str) -> Option<Arc<Series>> {
        self.series.get(name).cloned()
    }
}

impl Description {
    /// The window that is looked at: the one given, else what the family says.
    pub fn window_of(&self, around: &Around, scripts: &Scripts) -> Option<(Quantity, Quantity)> {
        if around.window.is_some() {
            return around.window.clone();
        }
        let latest = around.spec.iter().map(|spec| ("spec".to_owned(), spec.clone())).collect();
        let names = LogNames { series: &IndexMap::new(), latest };
        match self.window.as_ref()?.evaluate(scripts, &names) {
            Ok(Value::Range(low, high)) => Some((low, high)),
            _ => None,
        }
    }

    pub fn judge(&self, log: &Collected, around: &Around, units: &Units, scripts: &Scripts) -> Vec<Judged> {
        let mut names = LogNames { series: &log.series, latest: self.names(log, around, units, scripts) };
        let mut untold: IndexMap<&str, Vec<String>> = IndexMap::new();
        let mut faults: IndexMap<&str, Box<Diagnostic>> = IndexMap::new();
        for (name, moment) in &self.moments {
            let value = match moment.evaluate(scripts, &names) {
                Ok(value) => value,
                Err(Fault::NotShown(missing)) => {
                    untold.insert(name, self.missing(&missing, &untold));
                    Value::Unknown
                }
                Err(Fault::Failed(fault)) => {
                    faults.insert(name, fault);
                    Value::Unknown
                }
            };
            names.latest.insert(name.clone(), value);
        }
        let applies = |check: &&Check| {
            let when = check.when.as_ref().map(|when| when.evaluate(scripts, &names));
            // Where it is not known whether a check applies, it does: it may not go unnoticed.
            !matches!(when, Some(Ok(Value::Truth(false))))
        };
        let checks = self.checks.iter().filter(applies);
        checks
            .map(|check| {
                let (verdict, missing, fault) = match check.must.evaluate(scripts, &names) {
                    Ok(Value::Truth(true)) => (Verdict::Met, Vec::new(), None),
                    Ok(Value::Truth(false)) => (Verdict::NotMet, Vec::new(), None),
                    // Neither true nor false is no verdict, and never a good one.
                    Ok(_) => (Verdict::NotShown, vec!["its check gives neither true nor false".to_owned()], None),
                    Err(Fault::NotShown(missing)) => {
                        let fault = missing.iter().find_map(|name| faults.get(name.as_str()).cloned());
                        (Verdict::NotShown, self.missing(&missing, &untold), fault)
                    }
                    Err(Fault::Failed(fault)) => (Verdict::NotShown, Vec::new(), Some(fault)),
                };
                let (id, title, at_stake) = (check.id.clone(), check.title.clone(), check.at_stake.clone());
                Judged { id, title, at_stake, verdict, missing, fault }
            })
            .collect()
    }

    /// What is not there, in words, each once; `untold` says it of moments that could not be worked out.
    fn missing(&self, names: &[String], untold: &IndexMap<&str, Vec<String>>) -> Vec<String> {
        let mut words: Vec<String> = Vec::new();
        for name in names {
            match untold.get(name.as_str()) {
                Some(reasons) => words.extend(reasons.iter().cloned()),
                None => words.push(self.missing_one(name)),
            }
        }
        IndexSet::<String>::from_iter(words).into_iter().collect()
    }

    fn missing_one(&self, name: &str) -> String {
        if let Some(column) = self.wanted.columns.get(name) {
            return format!("{}, which no column holds", column.title);
        }
        let event = name.strip_prefix("event.").and_then(|name| self.events.get(name));
        match event {
            Some(event) => format!("when: {}", event.title),
            None if name == "window" || name == "spec" => format!("{name}, as no family is named"),
            None => name.to_owned(),
        }
    }

    fn names(&self, log: &Collected, around: &Around, units: &Units, scripts: &Scripts) -> IndexMap<String, Value> {
        let time = |seconds: f64| units.quantity(seconds, "s").map_or(Value::Unknown, Value::Quantity);
        let mut names = IndexMap::new();
        if let Some(spec) = &around.spec {
            names.insert("spec".to_owned(), spec.clone());
        }
        if let Some((low, high)) = self.window_of(around, scripts) {
            names.insert("window".to_owned(), Value::Range(low, high));
        }
        let events = self
            .events
            .keys()
            .map(|name| (name.clone(), around.events.get(name).map_or(Value::Unknown, |seconds| time(*seconds))));
        names.insert("event".to_owned(), Value::Record(events.collect()));
        if let Some((from, to)) = around.job_time
            && let (Value::Quantity(from), Value::Quantity(to)) = (time(from), time(to))
        {
            names.insert("job_time".to_owned(), Value::Range(from, to));
        }
        names.insert("gap".to_owned(), Value::Quantity(self.gap.clone()));
        let apart = self.wanted.columns.keys().map(|name| {
            let seconds = log.series.get(name).map_or(self.gap.si, |series| self.apart(series));
            (name.clone(), time(seconds))
        });
        names.insert("apart".to_owned(), Value::Record(apart.collect()));
        let tally = &log.tally;
        let unreadable: u64 = tally.unreadable.iter().map(|first| first.count).sum::<u64>() + tally.timeless.count;
        let counts = [tally.rows, tally.backwards.count, tally.repeated.count, unreadable, tally.odd.count];
        let mut facts: IndexMap<String, Value> =
            FACTS.iter().zip(counts).map(|(name, count)| ((*name).to_owned(), Value::Number(count as f64))).collect();
        facts.insert("torn".to_owned(), Value::Truth(tally.torn));
        names.insert("log".to_owned(), Value::Record(facts));
        names
    }
}

#[cfg(test)]
mod tests {
    use standpipe_diagnostic::Problems;
    use standpipe_diagnostic::source::Source;

    use super::*;
    use crate::Choices;

    const KILN: &str = "\
log: kiln-log
form: kiln
title: Kiln
time: [time]
columns:
  heat: { title: the heat, is: temperature, words: [heat] }
gap: 3 s
plot: heat
events:
  opened: { title: it was opened }
checks:
";

    /// What a check comes to on two rows of 20 and 30 degC.
    fn judged(must: &str) -> Judged {
        let units = Units::standard();
        let mut problems = Problems::new();
        let text = format!("{KILN}  - {{ id: one, title: One, must: '{must}', at_stake: much }}\n");
        let description = Description::read(&Source::new("kiln-log.yaml", text), &units, &mut problems);
        let description = description.unwrap_or_else(|| panic!("{problems:?}"));
        let bytes = &b"Time [s],Heat [degC]\n0,20\n1,30\n"[..];
        let log = Collected::read(bytes, &description.wanted, Choices::default(), &units);
        let log = log.unwrap_or_else(|unread| panic!("{}", unread.words("it")));
        let scripts = Scripts::new(units.clone(), Vec::new());
        description.judge(&log, &Around::default(), &units, &scripts).remove(0)
    }

    #[test]
    fn a_check_is_met_only_by_what_is_true() {
        assert_eq!(judged("log.rows == 2").verdict, Verdict::Met);
        assert_eq!(judged("log.rows == 3").verdict, Verdict::NotMet);
        for neither in ["log.rows", "gap", "\"yes\"", "[true]", "event"] {
            let one = judged(neither);
            assert_eq!(one.verdict, Verdict::NotShown, "{neither}");
            assert!(one.fault.is_some() || !one.missing.is_empty(), "{neither}: it says why");
        }
    }

    #[test]
    fn a_check_that_touches_what_is_not_there_or_fails_is_not_shown() {
        let absent = judged("log.rows == 2 || event.opened < 3.s");
        assert_eq!((absent.verdict, absent.missing), (Verdict::NotShown, vec!["when: it was opened".to_owned()]));
        let failed = judged("log.rows < 3.s");
        assert_eq!(failed.verdict, Verdict::NotShown);
        assert!(failed.fault.is_some());
    }
}
