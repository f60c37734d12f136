//! What an audit looks at, and what it finds.

use schemars::JsonSchema;
use serde::Serialize;

/// In the order of what matters: the worst comes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, JsonSchema, Serialize)]
pub enum Verdict {
    #[serde(rename = "holds")]
    Holds,
    #[serde(rename = "not shown")]
    NotShown,
    #[serde(rename = "does not hold")]
    DoesNotHold,
}

impl Verdict {
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Holds => "holds",
            Verdict::NotShown => "not shown",
            Verdict::DoesNotHold => "does not hold",
        }
    }
}

/// Something that does not hold, or is not shown, and where.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Finding {
    pub verdict: Verdict,
    /// File and line; the line of an event is its number.
    pub place: At,
    pub message: String,
}

#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct At {
    pub file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
}

/// A journal of years has thousands of events; what ails it is plain long before.
const MOST_FINDINGS: usize = 20;

/// One thing that is looked at in a journal.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Point {
    /// What it is called: `evidence`, `signatures` ...
    pub point: String,
    pub verdict: Verdict,
    /// How many events, files or persons were looked at.
    pub looked_at: u64,
    pub findings: Vec<Finding>,
    /// Findings beyond those listed.
    #[serde(skip_serializing_if = "is_zero")]
    pub more: u64,
    /// The procedure wants to see it of a job that is finished. It says how the work came out, not whether the record holds.
    #[serde(skip)]
    pub of_work: bool,
    #[serde(skip)]
    file: String,
}

fn is_zero(number: &u64) -> bool {
    *number == 0
}

impl Point {
    /// `file`: what its findings are about unless they say otherwise.
    pub fn new(point: &str, file: &str) -> Self {
        Self {
            point: point.to_owned(),
            verdict: Verdict::Holds,
            looked_at: 0,
            findings: Vec::new(),
            more: 0,
            of_work: false,
            file: file.to_owned(),
        }
    }

    pub fn find(&mut self, verdict: Verdict, line: Option<u64>, message: impl Into<String>) {
        let file = self.file.clone();
        self.find_in(verdict, At { file, line }, message);
    }

    pub fn find_in(&mut self, verdict: Verdict, place: At, message: impl Into<String>) {
        self.verdict = self.verdict.max(verdict);
        if self.findings.len() < MOST_FINDINGS {
            self.findings.push(Finding { verdict, place, message: message.into() });
        } else {
            self.more += 1;
        }
    }

    /// What does not hold is no more than not shown: somebody else may have computed it otherwise.
    pub fn doubt(&mut self) {
        self.verdict = self.verdict.min(Verdict::NotShown);
        for finding in &mut self.findings {
            finding.verdict = finding.verdict.min(Verdict::NotShown);
        }
    }

    pub fn fails(&mut self, line: u64, message: impl Into<String>) {
        self.find(Verdict::DoesNotHold, Some(line), message);
    }

    pub fn unshown(&mut self, line: u64, message: impl Into<String>) {
        self.find(Verdict::NotShown, Some(line), message);
    }
}
