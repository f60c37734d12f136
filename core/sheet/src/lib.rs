#![doc = include_str!("../README.md")]

mod cell;
mod check;
mod heading;
mod inputs;
mod lanes;
mod look;
mod raw;
mod run;
mod series;
mod shape;
pub mod table;
mod text;
pub mod uncertainty;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use indexmap::IndexMap;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Name, Quantity, Units};
use standpipe_script::Scripts;
use standpipe_yaml::{self as yaml, At};

pub use cell::cell;
pub use heading::{Heading, separator};
pub use inputs::{Checked, Places, Refused};
pub use run::Outcome;
pub use shape::Shape;

/// A sheet, checked.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// What it is called by.
    pub id: String,
    /// The plugin that it belongs to, which decides what scripts it sees.
    pub plugin: String,
    /// What people call it.
    pub title: String,
    /// `script::function`.
    pub script: At<String>,
    /// Where the formula was published.
    pub source: String,
    /// The formula in words.
    pub formula: Option<String>,
    /// Where it holds.
    pub holds: Option<String>,
    /// What to mind when its results are used.
    pub cautions: Vec<String>,
    /// It is not from the real world.
    pub invented: bool,
    /// By name.
    pub inputs: IndexMap<String, Input>,
    /// By name.
    pub outputs: IndexMap<String, Output>,
    /// Where its id stands.
    pub place: Place,
}

/// One input of a sheet.
#[derive(Clone, Debug)]
pub struct Input {
    /// What it takes.
    pub shape: Shape,
    /// A list of such.
    pub list: bool,
    /// May be left out; the function sees no such input then.
    pub optional: bool,
    /// Taken when it is left out.
    pub default: Option<Value>,
    /// What helps to give it.
    pub help: Option<String>,
    /// Nothing below is taken.
    pub at_least: Option<At<Quantity>>,
    /// Nothing above is taken.
    pub at_most: Option<At<Quantity>>,
    /// Where the formula holds.
    pub valid: Option<At<(Quantity, Quantity)>>,
    /// Outside `valid` the sheet refuses instead of warning.
    pub refuses: bool,
    /// Where its name stands.
    pub place: Place,
}

/// One output of a sheet.
#[derive(Clone, Debug)]
pub struct Output {
    /// What it is.
    pub shape: Shape,
    /// A list of such.
    pub list: bool,
    /// The function may leave it out; it is unknown then.
    pub optional: bool,
    /// The unit in which tables carry it.
    pub unit: Option<Name>,
    /// What it tells.
    pub help: Option<String>,
    /// Where its name stands.
    pub place: Place,
}

impl Sheet {
    /// Reads and checks a sheet of a plugin; everything wrong with it goes into `problems`.
    pub fn read(source: &Arc<Source>, plugin: &str, units: &Units, problems: &mut Problems) -> Option<Self> {
        let raw: raw::RawSheet = yaml::read(source, problems)?;
        check::check(raw, plugin, units, problems)
    }

    /// Whether the sheet works without this input.
    pub fn is_optional(&self, name: &str) -> bool {
        self.inputs.get(name).is_some_and(|input| input.optional || input.default.is_some())
    }

    /// What is wrong with the script that it names. Gives the place of the function and its `///` comments.
    pub fn check_script(&self, scripts: &Scripts) -> Result<(Place, String), Problems> {
        scripts.check_function(&self.plugin, &self.script, &self.script.place)
    }
}

/// What editors are told of a sheet's file.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(raw::RawSheet)
}
