//! A checked procedure: what the job machine runs.

use indexmap::IndexMap;

use super::expr::Expr;
use super::learned::Learned;
use super::mark::Mark;
use super::page::{Block, Call, Picture};
use super::proposes::Proposed;
use super::step::Kind;
use super::template::Template;
use standpipe_diagnostic::source::Place;
use standpipe_quantity::Quantity;
use standpipe_yaml::At;

/// A checked procedure.
#[derive(Debug)]
pub struct Procedure {
    /// What it is called by.
    pub id: At<String>,
    /// What people call it.
    pub title: String,
    /// The form whose families it is for.
    pub form: Option<At<String>>,
    /// It is not for real work.
    pub invented: bool,
    /// Fields of `spec` that it uses.
    pub needs: Vec<At<String>>,
    /// Procedures that can be called at any step, when something goes wrong.
    pub reachable: Vec<At<String>>,
    /// The procedure that runs before a pause.
    pub on_pause: Option<At<String>>,
    /// The procedure that runs after a pause.
    pub on_resume: Option<At<String>>,
    /// Lines of the tag that is hung on the work when the job is paused.
    pub tag: Vec<TagLine>,
    /// In a called procedure: judged at its end; true abandons the job.
    pub abandon_when: Option<Expr>,
    /// Roles that may accept a verdict that turned bad after a correction.
    pub may_accept: Vec<At<String>>,
    /// Warnings by the word that steps name them with.
    pub cautions: IndexMap<String, At<String>>,
    /// What an audit asks of the job as it ended.
    pub points: IndexMap<String, Expr>,
    /// What a table of many jobs says of each.
    pub columns: IndexMap<String, Expr>,
    /// In the order of the work.
    pub steps: Vec<Step>,
    /// Steps that an overlay took out.
    pub left_out: Vec<LeftOut>,
    /// What its card tells.
    pub card: Vec<Block>,
    /// What its record tells.
    pub record: Vec<Block>,
    /// What is drawn.
    pub pictures: Vec<Picture>,
    /// What a finished job tells of its family.
    pub learned: IndexMap<String, Learned>,
    /// What finished jobs say of the family's values.
    pub proposes: Vec<Proposed>,
}

/// A step that an overlay took out.
#[derive(Debug)]
pub struct LeftOut {
    /// As it was.
    pub step: Step,
    /// By whom and why.
    pub mark: Mark,
}

/// A line of the tag that hangs on paused work.
#[derive(Debug)]
pub struct TagLine {
    /// What it says.
    pub text: Template,
    /// When it is said; always, if nothing is written.
    pub when: Option<Expr>,
}

/// One step, checked.
#[derive(Debug)]
pub struct Step {
    /// What answers call it by.
    pub id: At<String>,
    /// What is shown first.
    pub title: Template,
    /// What it does.
    pub kind: Box<dyn Kind>,
    /// When it is done; always, if nothing is written.
    pub when: Option<Expr>,
    /// What must hold before the next step.
    pub gate: Option<Gate>,
    /// What it is good for.
    pub why: Option<Template>,
    /// Ids of cautions, in order.
    pub caution: Vec<At<String>>,
    /// Lines of live facts under the title.
    pub show: Vec<Template>,
    /// What has to be attached.
    pub evidence: Option<Evidence>,
    /// What a second person looks at, now.
    pub witness: Option<Template>,
    /// What ends what was entered here.
    pub stale: Stale,
    /// Events after which it starts over where it is half done; what is complete stands.
    pub starts_over: Vec<String>,
    /// Events that its completion raises.
    pub raises: Vec<At<String>>,
    /// Steps that its completion undoes: what was done there is due again.
    pub undoes: Vec<At<String>>,
    /// No overlay may remove or loosen it.
    pub keep: bool,
    pub needs: Vec<At<String>>,
    /// What overlays have done to it.
    pub marks: Vec<Mark>,
    /// Where it stands.
    pub place: Place,
}

/// A condition that must be met to go on.
#[derive(Debug)]
pub struct Gate {
    /// The condition.
    pub must: Expr,
    /// What happens where it is not met, or not shown.
    pub otherwise: Otherwise,
    /// What goes wrong if one goes on all the same.
    pub at_stake: Option<Template>,
    /// How likely it must be met, between 0.5 and 1.
    pub confidence: Option<f64>,
}

impl Gate {
    /// The condition as written, with the confidence it asks for.
    pub fn words(&self) -> String {
        let must = self.must.text().trim();
        match self.confidence {
            None => must.to_owned(),
            // Rounded: a share of 0.95 is 95 hundredths only up to the last bit.
            Some(share) => format!("{must}, with at least {} %", (share * 1e8).round() / 1e6),
        }
    }
}

/// What happens where a gate is not met, or not shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// The step is asked again; these before it are to be done once more, which is due first.
    Wait(Vec<At<String>>),
    /// The job stops until the entry is corrected or the job abandoned.
    Stop,
    /// The round of the enclosing `repeat` ends and the next begins.
    NextRound,
    /// Someone in one of these roles may accept it, with a reason.
    Ask(Vec<String>),
}

impl Otherwise {
    /// What follows, in words.
    pub fn words(&self) -> String {
        match self {
            Self::Wait(anew) if anew.is_empty() => "asked again until met".to_owned(),
            Self::Wait(anew) => {
                let anew: Vec<&str> = anew.iter().map(|id| id.as_str()).collect();
                format!("asked again after {} once more, until met", anew.join(", "))
            }
            Self::Stop => "stops the job".to_owned(),
            Self::NextRound => "on to the next round".to_owned(),
            Self::Ask(roles) => format!("to be accepted by {}", roles.join(" or ")),
        }
    }

    /// The same in a word or two.
    pub fn briefly(&self) -> String {
        match self {
            Self::Wait(anew) if anew.is_empty() => "asked again".to_owned(),
            Self::Wait(_) => "done again".to_owned(),
            Self::Stop => "stops".to_owned(),
            Self::NextRound => "next round".to_owned(),
            Self::Ask(roles) => roles.join(" or "),
        }
    }
}

/// What a step wants attached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evidence {
    /// A picture.
    Photo,
    /// A picture, if there is one.
    PhotoOptional,
}

impl Evidence {
    /// What is wanted, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Photo => "photo",
            Self::PhotoOptional => "photo if useful",
        }
    }

    /// Whether the step can't be entered without.
    pub fn required(self) -> bool {
        self == Self::Photo
    }
}

/// What ends a reading or a confirmation.
#[derive(Clone, Debug, Default)]
pub struct Stale {
    /// A time after which it is asked again.
    pub age: Option<Age>,
    /// `pause`, `person`, or an event that a step raises.
    pub events: Vec<String>,
    /// Where it is written.
    pub place: Option<Place>,
}

/// A value older than this is not shown any more.
#[derive(Clone, Debug)]
pub struct Age(pub Quantity);

/// The events that the machine itself raises.
pub const PAUSE: &str = "pause";
/// The event of another person taking over.
pub const PERSON: &str = "person";
/// By which something starts over whose items a correction has changed.
pub const CORRECTION: &str = "correction";

impl Procedure {
    /// Every other procedure that it names: included, called, or run when pausing.
    pub fn names(&self) -> impl Iterator<Item = &At<String>> {
        let included = self.all_steps().into_iter().filter_map(|step| match step.kind.children() {
            super::step::Children::Procedure(id) => Some(id),
            _ => None,
        });
        self.reachable.iter().chain(&self.on_pause).chain(&self.on_resume).chain(included)
    }

    /// Sheets that its pages call.
    pub fn page_calls(&self) -> impl Iterator<Item = &Call> {
        let blocks = self.card.iter().chain(&self.record).filter_map(|block| block.compute.as_ref());
        let learned = self.learned.values().map(|learned| &learned.call);
        blocks.chain(self.pictures.iter().filter_map(Picture::call)).chain(learned)
    }

    /// Every step, in reading order, with those inside `repeat` steps.
    pub fn all_steps(&self) -> Vec<&Step> {
        let mut all = Vec::new();
        for step in &self.steps {
            step.and_inner(&mut all);
        }
        all
    }
}

impl Step {
    /// Why it can't be left out; nothing where it can, with a reason.
    pub fn has_to_stand(&self) -> Option<&'static str> {
        if self.keep {
            return Some("it is marked `keep`");
        }
        self.gate.is_some().then_some("it has a gate")
    }

    /// Itself and the steps inside it, in reading order.
    pub fn and_inner<'a>(&'a self, all: &mut Vec<&'a Step>) {
        all.push(self);
        if let super::step::Children::Steps(children) = self.kind.children() {
            for child in children {
                child.and_inner(all);
            }
        }
    }
}
