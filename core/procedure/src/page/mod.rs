//! What a procedure wants to see on its card and its record, beside what stands there anyway: blocks of text and numbers,
//! and pictures. The words and the numbers are the procedure's; how they are drawn is not.

mod check;
pub mod raw;

use indexmap::IndexMap;

use super::expr::Expr;
use super::template::Template;
use standpipe_quantity::Quantity;
use standpipe_yaml::At;

/// One heading with what stands below it, in this order.
#[derive(Debug)]
pub struct Block {
    pub title: At<String>,
    pub say: Vec<Template>,
    /// Paths below `spec`.
    pub facts: Vec<At<String>>,
    pub compute: Option<Call>,
    pub settings: Option<Settings>,
    /// Steps whose verdicts show it.
    pub shown_by: Vec<At<String>>,
    pub answer: Option<Answer>,
    /// It stands on the customer's page as well.
    pub for_customer: bool,
}

/// What a block comes to, in one sentence.
#[derive(Debug)]
pub struct Answer {
    pub what: Template,
    pub found: Option<Template>,
    pub must: Option<Expr>,
    pub step: At<String>,
}

/// A sheet, called for what it tells.
#[derive(Debug)]
pub struct Call {
    pub sheet: At<String>,
    pub with: IndexMap<String, Expr>,
    /// Inputs that earlier jobs may have told, by their ids in `learned:`.
    pub earlier: IndexMap<String, At<String>>,
    /// Outputs to show; all of them if none is named.
    pub shows: Vec<At<String>>,
}

/// Facts of one quantity as the instruments of one kind have them on their scales.
#[derive(Debug)]
pub struct Settings {
    pub quantity: At<String>,
    pub instrument: At<String>,
}

#[derive(Debug)]
pub struct Picture {
    pub id: At<String>,
    pub title: Template,
    pub on_card: bool,
    pub on_record: bool,
    pub drawn: Drawn,
}

#[derive(Debug)]
pub enum Drawn {
    /// Where the items of an `each` step lie, and their order.
    Layout { step: At<String>, points: Box<Expr>, up: Option<Template> },
    /// Readings over time, with what they had to meet.
    Course(Box<Course>),
    /// What was added against what was taken.
    Balance(Box<Balance>),
    /// An output of a sheet over one of its inputs.
    Curve(Box<Curve>),
    /// The same, for an input that counts.
    Rounds(Box<Curve>),
}

#[derive(Debug)]
pub struct Course {
    /// Names of readings.
    pub of: Vec<At<String>>,
    pub window: Option<Expr>,
    pub limit: Option<Expr>,
    /// Steps to mark when they were done.
    pub events: Vec<At<String>>,
}

#[derive(Debug)]
pub struct Balance {
    /// Names of readings and results.
    pub added: Vec<At<String>>,
    pub removed: Vec<At<String>>,
    pub net: Option<Expr>,
    /// By how much the net may be wrong.
    pub uncertainty: Option<Expr>,
    pub allowed: Option<Expr>,
}

#[derive(Debug)]
pub struct Curve {
    pub call: Call,
    pub over: At<String>,
    pub from: Quantity,
    pub to: Quantity,
    pub gives: At<String>,
    pub unit: Option<At<String>>,
    /// Where it stands today.
    pub at: Option<Expr>,
}

impl Block {
    pub fn expressions(&self) -> impl Iterator<Item = &Expr> {
        let must = self.answer.iter().filter_map(|answer| answer.must.as_ref());
        self.compute.iter().flat_map(|call| call.with.values()).chain(must)
    }
}

impl Picture {
    pub fn call(&self) -> Option<&Call> {
        match &self.drawn {
            Drawn::Curve(curve) | Drawn::Rounds(curve) => Some(&curve.call),
            _ => None,
        }
    }

    /// Without those that a sheet is handed.
    pub fn expressions(&self) -> Vec<&Expr> {
        match &self.drawn {
            Drawn::Layout { points, .. } => vec![points],
            Drawn::Course(of) => of.window.iter().chain(&of.limit).collect(),
            Drawn::Balance(of) => of.net.iter().chain(&of.uncertainty).chain(&of.allowed).collect(),
            Drawn::Curve(curve) | Drawn::Rounds(curve) => curve.at.iter().collect(),
        }
    }
}
