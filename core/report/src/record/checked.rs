//! Whether what a record says holds: looked at anew whenever it is drawn, and told at its top.

use schemars::JsonSchema;
use serde::Serialize;

use super::RecordView;
use crate::shown::count;
use standpipe_audit::{Audited, Verdict};

/// The end of an open job is not there yet; its record says that it is open.
const OPEN: &str = "closed";
/// As many as can be read at the top of a page; `audit` has them all.
const MOST: usize = 3;

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Checked {
    pub verdict: Verdict,
    /// What does not hold or is not shown, the gravest first.
    pub findings: Vec<String>,
    /// What holds, as far as it is there: texts that were left out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    pub open: bool,
}

impl Checked {
    fn new(audited: &Audited) -> Self {
        let points = || audited.points.iter().filter(|point| audited.closed || point.point != OPEN);
        let verdict =
            points().filter(|point| !point.of_work).map(|point| point.verdict).max().unwrap_or(Verdict::Holds);
        let (mut findings, mut left_out): (Vec<(Verdict, String)>, _) = (Vec::new(), Vec::new());
        for point in points() {
            for finding in &point.findings {
                if finding.verdict == Verdict::Holds {
                    left_out.push(format!("{}: {}", point.point, finding.message));
                    continue;
                }
                let line = finding.place.line.map(|line| format!(", line {line}")).unwrap_or_default();
                findings.push((finding.verdict, format!("{}{line}: {}", point.point, finding.message)));
            }
        }
        findings.sort_by_key(|(verdict, _)| std::cmp::Reverse(*verdict));
        let findings = findings.into_iter().map(|(_, text)| text).collect();
        Self { verdict, findings, left_out, open: !audited.closed }
    }

    pub fn does_not_hold(&self) -> bool {
        self.verdict == Verdict::DoesNotHold
    }

    /// What the check came to, and the worst of what it found.
    pub fn lines(&self) -> Vec<String> {
        let so_far = if self.open { ", as far as the job has come" } else { "" };
        let mut lines = vec![match self.verdict {
            Verdict::Holds => format!("Checked: what this record says holds{so_far}."),
            Verdict::NotShown => format!("Checked: NOT SHOWN in full{so_far}."),
            Verdict::DoesNotHold => format!("Checked: THIS RECORD DOES NOT HOLD{so_far}."),
        }];
        lines.extend(self.left_out.iter().map(|left_out| format!("- {left_out}")));
        lines.extend(self.findings.iter().take(MOST).map(|finding| format!("- {finding}")));
        if self.findings.len() > MOST {
            lines
                .push(format!("- and {}, see `standpipe audit`", count(self.findings.len() - MOST, "further finding")));
        }
        lines
    }
}

impl RecordView {
    /// With what an audit of the same journal found: nothing stands there as shown that does not hold, or is not shown.
    pub fn checked(mut self, audited: &Audited) -> Self {
        let checked = Checked::new(audited);
        let over = match checked.verdict {
            Verdict::Holds => None,
            Verdict::NotShown => Some("but the record is not shown in full"),
            Verdict::DoesNotHold => Some("but the record does not hold"),
        };
        if let Some(over) = over {
            let answers = self.blocks.iter_mut().flat_map(|block| &mut block.parts);
            for answer in answers.filter_map(|part| part.answer.as_mut()) {
                answer.overrule(over);
            }
        }
        if let Some(acts) = &mut self.acts {
            acts.checked(audited);
        }
        self.checked = Some(checked);
        self
    }
}
