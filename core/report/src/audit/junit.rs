//! The report that build servers read. The format has no standard; this is the part that all of them understand.
//!
//! What is not shown has not failed: it is given as skipped.

use super::{Audited, Point, Verdict, place, told};
use crate::xml::escaped;

pub fn report(audited: &[Audited]) -> String {
    let suites: Vec<(&Audited, Vec<Case>)> = audited.iter().map(|journal| (journal, cases(journal))).collect();
    let counted = |cases: &[Case]| (cases.len(), number(cases, true), number(cases, false));
    let all =
        suites.iter().map(|(_, cases)| counted(cases)).fold((0, 0, 0), |(a, b, c), (x, y, z)| (a + x, b + y, c + z));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"standpipe audit\" tests=\"{}\" failures=\"{}\" skipped=\"{}\">\n",
        all.0, all.1, all.2
    );
    for (journal, cases) in &suites {
        let (tests, failures, skipped) = counted(cases);
        let name = escaped(format!("{} {}", journal.job, journal.subject).trim());
        out.push_str(&format!(
            "  <testsuite name=\"{name}\" tests=\"{tests}\" failures=\"{failures}\" skipped=\"{skipped}\">\n"
        ));
        cases.iter().for_each(|case| out.push_str(&case.text(journal)));
        out.push_str("  </testsuite>\n");
    }
    out.push_str("</testsuites>\n");
    out
}

struct Case {
    name: String,
    verdict: Verdict,
    lines: Vec<String>,
}

fn number(cases: &[Case], failed: bool) -> usize {
    let wanted = if failed { Verdict::DoesNotHold } else { Verdict::NotShown };
    cases.iter().filter(|case| case.verdict == wanted).count()
}

fn cases(journal: &Audited) -> Vec<Case> {
    let of_point = |point: &Point| {
        let lines = point.findings.iter().map(|finding| format!("{}: {}", place(&finding.place), finding.message));
        Case { name: point.point.clone(), verdict: point.verdict, lines: lines.collect() }
    };
    let mut cases: Vec<Case> = journal.points.iter().map(of_point).collect();
    for missed in journal.recheck.iter().flat_map(|recheck| &recheck.missed) {
        cases.push(Case {
            name: format!("newer data: {}", missed.address),
            verdict: Verdict::DoesNotHold,
            lines: vec![format!("{}: {}: {}", place(&missed.place), missed.verdict.words(), told(missed))],
        });
    }
    for reason in journal.recheck.iter().flat_map(|recheck| &recheck.not_judged) {
        let lines = vec![reason.clone()];
        cases.push(Case { name: "newer data: not judged".to_owned(), verdict: Verdict::NotShown, lines });
    }
    cases
}

impl Case {
    fn text(&self, journal: &Audited) -> String {
        let head = format!("    <testcase name=\"{}\" classname=\"{}\"", escaped(&self.name), escaped(&journal.folder));
        let first = escaped(self.lines.first().map_or("", String::as_str));
        let all = escaped(&self.lines.join("\n"));
        match self.verdict {
            Verdict::Holds => format!("{head}/>\n"),
            Verdict::NotShown => format!("{head}>\n      <skipped message=\"{first}\"/>\n    </testcase>\n"),
            Verdict::DoesNotHold => {
                format!("{head}>\n      <failure message=\"{first}\">{all}</failure>\n    </testcase>\n")
            }
        }
    }
}
