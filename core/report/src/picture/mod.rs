//! Pictures that a procedure asks for: their numbers, from the plan and what was entered, and how they are drawn.
//!
//! What is drawn is a plain list of numbers in one unit, and stands in the data as well; the drawing adds nothing.

mod bars;
mod collect;
mod curve;
mod draw;
mod draw_course;
mod intervals;
mod kept;
mod live;
mod map;
mod readings;
mod scale;
mod sources;
mod spread;
mod svg;
mod time_axis;
mod trace;

use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

pub(crate) use bars::{Bar, bars};
pub use collect::{for_card, for_record};
pub use draw::draw;
pub(crate) use intervals::{Interval, intervals};
pub use live::live;
pub use map::map;
pub(crate) use spread::{Spread, spread};
pub use svg::{Svg, Table};
pub use trace::{Trace, letter};

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Picture {
    pub id: String,
    pub title: String,
    /// For which variant, where they differ and none is settled.
    pub variant: Option<String>,
    /// What is to be seen, in a sentence.
    pub says: String,
    pub drawn: Drawn,
}

/// A picture that could not be drawn, and what it lacks.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NotDrawn {
    pub id: String,
    pub title: String,
    pub missing: Vec<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Drawn {
    Layout(Layout),
    Course(Course),
    Balance(Balance),
    Curve(Curve),
    Rounds(Curve),
}

/// Items where they lie, seen as the table of points has them: x to the right, y up.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Layout {
    pub unit: String,
    pub points: Vec<Point>,
    pub passes: Vec<String>,
    /// What lies at the top of it, and from where it is seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub up: Option<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Point {
    pub item: usize,
    /// Whose turn it is first, from 1.
    pub turn: usize,
    pub x: f64,
    pub y: f64,
}

/// Readings over time.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct Course {
    /// No time of the day is known: times count from 0001-01-01T00:00, the start of the log.
    pub since_start: bool,
    pub unit: String,
    pub series: Vec<Series>,
    pub window: Option<[f64; 2]>,
    pub limit: Option<f64>,
    pub events: Vec<Marked>,
    /// Curves of logs that the readings were taken from, or that were kept.
    pub traces: Vec<Trace>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Series {
    pub name: String,
    pub points: Vec<Sample>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Sample {
    #[schemars(with = "String")]
    pub at: Moment,
    pub value: f64,
    pub shown: String,
    /// Not so for a reading that its gate refused, or that came too early.
    pub counts: bool,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Marked {
    #[schemars(with = "String")]
    pub at: Moment,
    pub title: String,
}

/// What was added against what was taken, as measured, and what is left of it at one temperature.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Balance {
    pub unit: String,
    pub added: Vec<Amount>,
    pub removed: Vec<Amount>,
    pub added_shown: String,
    pub removed_shown: String,
    pub net: Option<Shown>,
    pub uncertainty: Option<Shown>,
    pub allowed: Option<Shown>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Amount {
    pub name: String,
    #[serde(flatten)]
    pub amount: Shown,
    #[schemars(with = "String")]
    pub at: Moment,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Shown {
    pub value: f64,
    pub shown: String,
}

/// An output of a sheet over one of its inputs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Curve {
    pub x_name: String,
    pub x_unit: String,
    pub y_name: String,
    pub y_unit: String,
    pub points: Vec<CurvePoint>,
    /// Where the formula holds; beyond it the curve is an extrapolation.
    pub holds: Option<[f64; 2]>,
    pub today: Option<CurvePoint>,
    pub sheet: String,
    /// Where the formula is from.
    pub from: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CurvePoint {
    pub x: f64,
    pub y: f64,
    pub x_shown: String,
    pub y_shown: String,
}
