//! Columns as plugins describe the logs of a form: by which words they are recognised.

use indexmap::IndexMap;

use super::Column;
use super::stream::{TIME_WORDS, limits};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_library::Kind;
use standpipe_log::{Description, Wanted, WantedColumn};

/// All that is described for one form. Of two descriptions of a name the first counts.
#[derive(Clone, Debug, Default)]
pub struct Described {
    pub time: Vec<String>,
    pub columns: IndexMap<String, WantedColumn>,
}

/// What is wrong with a description is for `check` to say.
pub fn described(parsed: &Parsed, form: &str) -> Described {
    let mut quiet = Problems::new();
    let mut all = Described::default();
    for document in parsed.library.documents(Kind::Log) {
        let Some(description) = Description::read(&document.source, &parsed.units, &mut quiet) else { continue };
        if description.form.value != form {
            continue;
        }
        all.time.extend(description.wanted.time.iter().cloned());
        for (name, column) in &description.wanted.columns {
            all.columns.entry(name.clone()).or_insert_with(|| column.clone());
        }
    }
    all
}

impl Described {
    /// One column and nothing else: what is open about another one need not be asked.
    pub fn only(&self, name: &str, quantity: &str) -> Wanted {
        let own = name.replace('_', " ");
        let mut column = self.columns.get(name).cloned().unwrap_or_else(|| WantedColumn {
            title: own.clone(),
            quantity: None,
            words: Vec::new(),
            not: Vec::new(),
            required: true,
            entered: None,
            stands_for: IndexMap::new(),
        });
        column.words.push(own);
        (column.quantity, column.required) = (Some(quantity.to_owned()), true);
        let time = if self.time.is_empty() { TIME_WORDS.map(str::to_owned).to_vec() } else { self.time.clone() };
        Wanted { time, columns: IndexMap::from([(name.to_owned(), column)]) }
    }

    /// A column that is followed for a value read with this kind of instrument.
    pub fn column(&self, plan: &Plan, name: &str, quantity: &str, with: Option<&str>) -> Column {
        Column {
            name: name.to_owned(),
            quantity: quantity.to_owned(),
            with: with.map(str::to_owned),
            limits: limits(plan, with),
        }
    }
}
