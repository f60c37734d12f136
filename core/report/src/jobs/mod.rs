//! The list of jobs: what each is about, where it stands, what is open, since when and by whom.

use std::path::Path;

use comfy_table::{ContentArrangement, Table, presets};
use serde::Serialize;
use standpipe_job::Moment;

use super::shown::{count, minute, painted, person};
use standpipe_diagnostic::columns::clean;
use standpipe_job::{Event, Machine, Pending, Record, State, replay};

#[derive(Clone, Debug, Serialize)]
pub struct Row {
    pub job: String,
    pub folder: String,
    pub subject: String,
    pub invented: bool,
    /// A model answers it.
    pub simulated: bool,
    /// `running`, `paused`, `finished` ...
    pub phase: &'static str,
    /// Not finished, not abandoned.
    pub open: bool,
    /// Number of the step it stands at, of how many, and its title.
    pub stands: String,
    pub step: Option<(usize, usize)>,
    /// What is open, in the words of the tag, or what holds the job.
    pub remains: Vec<String>,
    /// Since when it has stood there.
    pub since: Option<Moment>,
    pub by: String,
}

/// What a job's records say of where it stands.
pub fn row(machine: &Machine, records: &[Record], folder: &Path) -> Row {
    let state = replay::replay(records);
    row_of(machine, &state, &machine.pending(&state), records, folder)
}

/// The same where its state and what it waits for are known.
pub fn row_of(machine: &Machine, state: &State, pending: &Pending, records: &[Record], folder: &Path) -> Row {
    let plan = &machine.plan;
    let actor = state.actor.clone().unwrap_or_default();
    let (stands, step, remains) = stands(pending, &state.tag, || before_pause(machine, records));
    Row {
        job: plan.job.id.clone(),
        folder: folder.display().to_string(),
        subject: plan.subject(&state.supplied),
        invented: plan.invented,
        simulated: plan.simulated().is_some(),
        phase: if state.is_open() && pending.is_held() { "stopped" } else { state.phase.words() },
        open: state.is_open(),
        stands,
        step,
        remains,
        since: state.at,
        by: person(plan, &actor),
    }
}

/// A job that can't be read is a line of the list all the same: it is there, and somebody may be at work on it.
pub fn unread(folder: &Path, why: &str) -> Row {
    Row {
        job: folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned(),
        folder: folder.display().to_string(),
        subject: String::new(),
        invented: false,
        simulated: false,
        phase: "not read",
        open: true,
        stands: why.to_owned(),
        step: None,
        remains: Vec::new(),
        since: None,
        by: String::new(),
    }
}

/// What the job waited for when its last pause began.
fn before_pause(machine: &Machine, records: &[Record]) -> Option<Pending> {
    let at = records.iter().rposition(|record| matches!(record.event, Event::Pausing { .. }))?;
    Some(machine.pending(&replay::replay(&records[..at])))
}

fn no_pause() -> Option<Pending> {
    None
}

fn stands(
    pending: &Pending,
    tag: &[String],
    before: impl FnOnce() -> Option<Pending>,
) -> (String, Option<(usize, usize)>, Vec<String>) {
    match pending {
        Pending::Entry(prompt) => {
            let label = prompt.label.as_ref().map(|label| format!(", {label}")).unwrap_or_default();
            let step = (prompt.position.0 > 0).then_some(prompt.position);
            (format!("{}{label}", prompt.title), step, Vec::new())
        }
        Pending::Acceptance { title, because, roles, .. } => {
            (title.clone(), None, vec![because.clone(), format!("waits for {}", roles.join(" or "))])
        }
        Pending::Stopped { title, because, .. } => (title.clone(), None, vec![because.clone()]),
        Pending::Facts { title, missing, .. } => {
            (title.clone(), None, missing.iter().map(|path| format!("unknown: {path}")).collect())
        }
        Pending::Fault { message, place, .. } => {
            ("a fault of the plan".to_owned(), None, vec![message.clone(), place.clone()])
        }
        Pending::Resumption { .. } => {
            let (stands, step, mut remains) = match before() {
                Some(Pending::Resumption { .. }) | None => (String::new(), None, Vec::new()),
                Some(before) => stands(&before, &[], no_pause),
            };
            remains.splice(0..0, tag.iter().cloned());
            (stands, step, remains)
        }
        Pending::Opening => ("not begun".to_owned(), None, Vec::new()),
        Pending::Nothing { .. } => (String::new(), None, Vec::new()),
    }
}

/// The list as text; `finished`: how many jobs more say of themselves that they are finished.
pub fn text(rows: &[Row], finished: usize, width: usize, colour: bool) -> String {
    let not_audited = match finished {
        0 => String::new(),
        1 => "1 job says that it is finished. That was not audited.\n".to_owned(),
        many => format!("{many} jobs say that they are finished. That was not audited.\n"),
    };
    let open = rows.iter().filter(|row| row.open).count();
    let heading = match (open, rows.len() - open) {
        (0, 0) => return format!("No open jobs.\n{not_audited}"),
        (open, 0) => count(open, "open job"),
        (open, closed) => format!("{}, {closed} closed", count(open, "open job")),
    };
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(width).unwrap_or(80));
    table.set_header(["JOB", "WORK ON", "STANDS AT", "STATE, OPEN", "SINCE, BY"]);
    for row in rows {
        let step = row.step.map(|(step, all)| format!("step {step} of {all}\n")).unwrap_or_default();
        let mut remains: Vec<String> = row.remains.iter().map(|text| clean(text)).collect();
        if row.phase != "running" {
            remains.insert(0, row.phase.to_owned());
        }
        let invented = match (row.simulated, row.invented) {
            (true, _) => "\nSIMULATED",
            (false, true) => "\ninvented",
            (false, false) => "",
        };
        let since = row.since.map(minute).unwrap_or_default();
        table.add_row([
            format!("{}{invented}", clean(&row.job)),
            clean(&row.subject),
            format!("{step}{}", clean(&row.stands)),
            remains.join("\n"),
            format!("{since}\n{}", clean(&row.by)),
        ]);
    }
    let mut text = format!("{heading}\n\n");
    for line in table.lines() {
        // The preset leaves a space before every cell.
        text.push_str(line.strip_prefix(' ').unwrap_or(&line).trim_end());
        text.push('\n');
    }
    if !not_audited.is_empty() {
        text.push_str(&format!("\n{not_audited}"));
    }
    painted(&text, colour)
}
