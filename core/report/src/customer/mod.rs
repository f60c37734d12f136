//! One page of a record for who brought the work in: what it came to, what was done, what to know. It says nothing that the
//! record does not say, and of each thing only what stands there by then: names of fields, expressions and addresses do not.

mod text;

use indexmap::IndexMap;
use serde::Serialize;

pub use text::text;

use super::NOTICE;
use super::block::Block;
use super::record::{RecordView, StepView};
use super::shown::words;
use standpipe_audit::Verdict as Audited;
use standpipe_job::Verdict;
use standpipe_job::plan::Plan;

#[derive(Clone, Debug, Serialize)]
pub struct CustomerView {
    pub shop: String,
    pub job: String,
    pub subject: String,
    pub on: String,
    pub work: String,
    pub invented: bool,
    pub simulated: bool,
    /// Whether the record holds, looked at as this is drawn; empty where nobody looked.
    pub checked: String,
    pub outcome: String,
    /// The word of each, and its sentence.
    pub answers: Vec<(&'static str, String)>,
    /// What did not go as it was to go.
    pub otherwise: Vec<String>,
    /// Parts of the work, and how each ended.
    pub done: Vec<(String, &'static str)>,
    pub told: Vec<(String, Vec<String>)>,
    pub seal: Option<String>,
    pub notice: &'static str,
}

/// `record`: checked, as it is drawn.
pub fn view(record: &RecordView, plan: &Plan) -> CustomerView {
    let variant = record.variant.as_ref().map(|variant| format!(", {}", words(variant))).unwrap_or_default();
    let checked = record.checked.as_ref().map(|checked| match checked.verdict {
        Audited::Holds => "Checked as this was printed: what stands here holds.",
        Audited::NotShown => "Checked as this was printed: NOT SHOWN in full. The workshop's record says why.",
        Audited::DoesNotHold => "THE RECORD OF THIS WORK DOES NOT HOLD. The workshop's record says why.",
    });
    CustomerView {
        shop: plan.shop.title.clone(),
        job: record.job.clone(),
        subject: if record.subject.is_empty() { format!("Job {}", record.job) } else { record.subject.clone() },
        on: format!("{}{variant}", record.family.title),
        work: record.procedure.title.clone(),
        invented: record.invented,
        simulated: record.simulated.is_some(),
        checked: checked.unwrap_or_default().to_owned(),
        outcome: record.outcome.lines[0].clone(),
        answers: record.answers().map(|answer| (answer.word, answer.plain.clone())).collect(),
        otherwise: otherwise(record),
        done: done(record),
        told: record.blocks.iter().filter(|block| block.for_customer).map(told).collect(),
        seal: record.made_with.seal.clone(),
        notice: NOTICE,
    }
}

fn otherwise(record: &RecordView) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for step in &record.steps {
        let word = match step.verdict {
            Some(Verdict::NotMet) => "not met",
            Some(Verdict::NotShown) => "not shown",
            _ if step.status.starts_with("left out") => "left out",
            _ => continue,
        };
        let by = record.accepted.iter().rfind(|accepted| step.accepted && accepted.address == step.address);
        let by = by.map(|accepted| format!("; {} decided to go on", accepted.by)).unwrap_or_default();
        lines.push(format!("{}: {word}{by}", step.title));
    }
    lines.extend(record.calls.iter().map(|call| format!("During the work: {}", call.title)));
    lines
}

/// Parts of the work in the order in which they were come to.
fn done(record: &RecordView) -> Vec<(String, &'static str)> {
    let mut parts: IndexMap<&str, Vec<&StepView>> = IndexMap::new();
    for step in record.steps.iter().filter(|step| step.status != "not needed") {
        parts.entry(&step.section).or_default().push(step);
    }
    let mut done: Vec<(String, &str)> =
        parts.into_iter().map(|(part, steps)| (part.to_owned(), ended(&steps))).collect();
    // Where a job stands, its part has not come to its end.
    if let Some(last) = done.last_mut().filter(|_| record.outcome.state != "finished") {
        last.1 = NOT_FINISHED;
    }
    done
}

const NOT_FINISHED: &str = "NOT FINISHED";

fn ended(steps: &[&StepView]) -> &'static str {
    let is_left_out = |step: &StepView| step.status.starts_with("left out");
    let is_fault = |step: &StepView| matches!(step.verdict, Some(Verdict::NotMet | Verdict::NotShown));
    if steps.iter().any(|step| step.status != "done" && !is_left_out(step)) {
        NOT_FINISHED
    } else if steps.iter().all(|step| is_left_out(step)) {
        "left out"
    } else if steps.iter().any(|step| is_left_out(step) || is_fault(step)) {
        "done, but not as planned"
    } else {
        "done"
    }
}

/// Sentences of a heading, as far as all that they name is known.
fn told(block: &Block) -> (String, Vec<String>) {
    let all: Vec<_> = block.parts.iter().flat_map(|part| &part.said).collect();
    let known = all.iter().filter(|said| said.missing.is_empty());
    let mut sentences: Vec<String> = known.map(|said| said.text.clone()).collect();
    match sentences.len() {
        0 => sentences.push("Not known yet.".to_owned()),
        known if known < all.len() => sentences.push("More of it is not known.".to_owned()),
        _ => {}
    }
    (block.title.clone(), sentences)
}
