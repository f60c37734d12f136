//! A case, checked: everything that can be told without running it.

use indexmap::IndexMap;

use super::raw::{RawCase, RawJobExpect, RawSimulation};
use super::simulation::{self, SimulationCase};
use crate::Stock;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_drivers::answers::Answers;
use standpipe_job::plan::{Parsed, RawJob};
use standpipe_library::{Document, Kind, Library, Shop};
use standpipe_yaml::{self as yaml, At, Node};

#[derive(Debug)]
pub struct Case {
    pub id: At<String>,
    pub plugin: String,
    pub source: String,
    pub what: What,
}

#[derive(Debug)]
pub enum What {
    Sheet { sheet: At<String>, given: IndexMap<At<String>, Node>, expect: Node },
    Job(Box<JobCase>),
    Simulation(Box<SimulationCase>),
    Faulty { path: At<String>, text: At<String>, expect: Vec<At<String>> },
}

#[derive(Debug)]
pub struct JobCase {
    pub procedure: At<String>,
    pub family: String,
    pub job: At<String>,
    pub answers: At<String>,
    pub expect: RawJobExpect,
}

/// How a job can end.
pub const ENDS: [&str; 5] = ["finished", "stopped", "paused", "abandoned", "waiting"];
/// What can be said of a gate.
pub const VERDICTS: [&str; 4] = ["met", "not met", "not shown", "accepted"];

impl What {
    pub fn word(&self) -> &'static str {
        match self {
            Self::Sheet { .. } => "sheet",
            Self::Job(_) => "procedure",
            Self::Simulation(_) => "simulation",
            Self::Faulty { .. } => "check",
        }
    }

    /// What the case is about.
    pub fn of(&self) -> &str {
        match self {
            Self::Sheet { sheet, .. } => sheet,
            Self::Job(job) => &job.procedure,
            Self::Simulation(simulation) => &simulation.question.procedure,
            Self::Faulty { path, .. } => path,
        }
    }
}

impl Case {
    /// All cases of all plugins; what is wrong with one is reported, and it is left out.
    pub fn all(parsed: &Parsed, stock: &Stock, problems: &mut Problems) -> Vec<Case> {
        let mut cases: Vec<Case> = Vec::new();
        for document in parsed.library.documents(Kind::Case) {
            if let Some(case) = read(document, parsed, stock, problems) {
                cases.push(case);
            }
        }
        cases
    }
}

/// Plugins that bring something to be tried and that no case tries.
pub fn uncovered(parsed: &Parsed, cases: &[Case]) -> Problems {
    let library = &parsed.library;
    let of_plugin = |kind: Kind, id: &str| library.document(kind, id).map(|document| document.plugin.clone());
    let mut tried: Vec<String> = Vec::new();
    for case in cases {
        tried.push(case.plugin.clone());
        match &case.what {
            What::Sheet { sheet, .. } => tried.extend(of_plugin(Kind::Sheet, sheet)),
            What::Job(job) => {
                tried.extend(of_plugin(Kind::Procedure, &job.procedure));
                tried.extend(of_plugin(Kind::Family, &job.family));
            }
            What::Simulation(simulation) => {
                tried.extend(of_plugin(Kind::Procedure, &simulation.question.procedure));
                tried.extend(of_plugin(Kind::Family, simulation.family()));
            }
            What::Faulty { .. } => {}
        }
    }
    let brings = |id: &str| {
        [Kind::Sheet, Kind::Procedure, Kind::Family]
            .iter()
            .any(|kind| library.documents(*kind).any(|document| document.plugin == id))
    };
    library
        .plugins
        .values()
        .filter(|plugin| brings(&plugin.id) && !tried.contains(&plugin.id))
        .map(|plugin| {
            Diagnostic::warning(
                Code::NoCase,
                &plugin.place,
                format!("no case tries what the plugin `{}` brings", plugin.id),
            )
            .help("write one into `cases/`, with what is given, what is expected and where that is from")
        })
        .collect()
}

pub(super) fn faulty(at: &At<String>, message: impl Into<String>) -> Diagnostic {
    Diagnostic::error(Code::FaultyCase, &at.place, message)
}

/// Other files lie in `cases/` too: jobs, answers and shops that cases name.
fn read(document: &Document, parsed: &Parsed, stock: &Stock, problems: &mut Problems) -> Option<Case> {
    let written = yaml::Parsed::new(&document.source);
    let has = |key: &str| written.root().is_some_and(|root| root.get(key).is_some());
    if !has("case") {
        // The order tells an answers file, which may speak of a job, from a job, which may speak of a shop.
        if has("answers") {
            Answers::read(&document.source, problems);
            return None;
        }
        if has("job") {
            RawJob::read(&document.source, problems);
            return None;
        }
        if has("shop") {
            Shop::read(&document.source, &parsed.units, problems);
            return None;
        }
    }
    let before = problems.len();
    let raw: RawCase = written.read(problems)?;
    document.check_id(&raw.case, &raw.case.place, problems);
    if raw.source.trim().is_empty() {
        problems.push(
            faulty(&raw.source, "nothing says where the expected values are from")
                .help("write `published: ...`, `computed by ...` or `our own design, no source`"),
        );
    }
    let what = what(&raw.case, (raw.sheet, raw.procedure, raw.simulate, raw.check), problems)?;
    let what = match what {
        Named::Sheet(sheet) => of_sheet(sheet, raw.given, raw.expect, stock, problems),
        Named::Procedure(procedure) => {
            let found = of_job(document, parsed, procedure, raw.job, raw.answers, &raw.expect, problems);
            if let Some(What::Job(job)) = &found {
                steps_of(job, stock, problems);
            }
            found
        }
        Named::Simulation(simulate) => {
            simulation::read(*simulate, &raw.expect, parsed, problems).map(|case| What::Simulation(Box::new(case)))
        }
        Named::Check(path) => of_check(path, raw.text, &raw.expect, problems),
    }?;
    if problems[before..].iter().any(Diagnostic::is_error) {
        return None;
    }
    Some(Case { id: raw.case, plugin: document.plugin.clone(), source: raw.source.value, what })
}

enum Named {
    Sheet(At<String>),
    Procedure(At<String>),
    Simulation(Box<RawSimulation>),
    Check(At<String>),
}

type Keys = (Option<At<String>>, Option<At<String>>, Option<RawSimulation>, Option<At<String>>);

fn what(case: &At<String>, keys: Keys, problems: &mut Problems) -> Option<Named> {
    match keys {
        (Some(sheet), None, None, None) => Some(Named::Sheet(sheet)),
        (None, Some(procedure), None, None) => Some(Named::Procedure(procedure)),
        (None, None, Some(simulate), None) => Some(Named::Simulation(Box::new(simulate))),
        (None, None, None, Some(check)) => Some(Named::Check(check)),
        _ => {
            problems.push(
                faulty(case, "a case is about one thing")
                    .expected("one of the keys `sheet`, `procedure`, `simulate` and `check`")
                    .help("write which sheet or procedure it tries, what it simulates, or which file has the fault"),
            );
            None
        }
    }
}

fn absent<'a>(what: &str, id: &At<String>, known: impl Iterator<Item = &'a str>) -> Diagnostic {
    let problem = faulty(id, format!("there is no {what} `{}`", id.value)).speaks_of(id);
    problem.nearest(id, known, format!("`standpipe show {what}` lists those in force"))
}

fn of_sheet(
    id: At<String>,
    given: IndexMap<At<String>, Node>,
    expect: Node,
    stock: &Stock,
    problems: &mut Problems,
) -> Option<What> {
    let Some(sheet) = stock.sheets.get(id.as_str()) else {
        problems.push(absent("sheet", &id, stock.sheets.keys().map(String::as_str)));
        return None;
    };
    let Some(entries) = expect.as_map() else {
        problems.push(
            Diagnostic::error(Code::FaultyCase, &expect.head(), "nothing is expected")
                .expected("outputs with their values, or `refused: true`"),
        );
        return None;
    };
    let refused = expect.get("refused").is_some();
    tolerances(&expect, stock, problems);
    for (name, node) in &given {
        if let Some(input) = sheet.inputs.get(name.as_str()) {
            // A case of a refusal may give what can't be read.
            if let (Err(fault), false) = (input.read_node(node, &stock.units), refused) {
                problems.push(*fault);
            }
        } else if !refused {
            let problem = faulty(name, format!("the sheet `{}` has no input `{}`", sheet.id, name.value));
            problems.push(problem.nearest(name, sheet.inputs.keys().map(String::as_str), "leave it out"));
        }
    }
    let missing = sheet.inputs.keys().filter(|name| !sheet.is_optional(name) && !given.contains_key(name.as_str()));
    let missing: Vec<&str> = missing.map(String::as_str).collect();
    if let (Some(first), false) = (missing.first(), refused) {
        let place = given.keys().next().unwrap_or(&id);
        problems.push(
            faulty(place, format!("the sheet `{}` also needs {}", sheet.id, missing.join(", ")))
                .also(&sheet.inputs[*first].place, "declared here")
                .help(format!("add `{first}:` under `given:`")),
        );
    }
    let outputs = entries.iter().filter(|(name, _)| !["refused", "tolerance", "code"].contains(&name.as_str()));
    for (name, node) in outputs {
        match sheet.outputs.get(name.as_str()) {
            Some(output) => {
                if let Err(fault) = output.read_node(node, &stock.units) {
                    problems.push(*fault);
                }
            }
            None => {
                let problem = faulty(name, format!("the sheet `{}` has no output `{}`", sheet.id, name.value));
                let otherwise = format!("`standpipe show sheet {}` lists them", sheet.id);
                problems.push(problem.nearest(name, sheet.outputs.keys().map(String::as_str), otherwise));
            }
        }
    }
    Some(What::Sheet { sheet: id, given, expect })
}

/// Whether each tolerance is a share or a number with a unit.
fn tolerances(expect: &Node, stock: &Stock, problems: &mut Problems) {
    let Some(node) = expect.get("tolerance") else { return };
    let each: Vec<&Node> = match node.as_map() {
        Some(entries) => entries.iter().map(|(_, node)| node).collect(),
        None => vec![node],
    };
    for node in each {
        if let Err(fault) = stock.units.read(node.as_text().unwrap_or_default(), None, None) {
            problems.push(fault.at(&node.text_place()));
        }
    }
}

fn of_job(
    document: &Document,
    parsed: &Parsed,
    procedure: At<String>,
    job: Option<At<String>>,
    answers: Option<At<String>>,
    expect: &Node,
    problems: &mut Problems,
) -> Option<What> {
    if parsed.library.document(Kind::Procedure, &procedure).is_none() {
        let known = parsed.library.documents(Kind::Procedure).map(|document| document.id.as_str());
        problems.push(absent("procedure", &procedure, known));
    }
    let expect: Option<RawJobExpect> = yaml::read_node(expect, problems);
    let (Some(job), Some(answers)) = (job, answers) else {
        problems.push(
            faulty(&procedure, "a case of a procedure needs a job and answers")
                .help("write `job: NAME.yaml` and `answers: NAME.yaml`, files beside this one"),
        );
        return None;
    };
    for file in [&job, &answers] {
        if beside(&parsed.library, &document.plugin, file).is_none() {
            let files = parsed.library.files_in(&document.plugin, Kind::Case);
            let names: Vec<&str> = files.filter_map(|file| file.path.rsplit('/').next()).collect();
            let problem = faulty(file, format!("there is no `{}` beside the case", file.value))
                .expected("a file in the same folder `cases/`");
            problems.push(problem.nearest(file, names, "put it there, or correct the name"));
        }
    }
    for (file, key) in [(&job, "job"), (&answers, "answers")] {
        let source = beside(&parsed.library, &document.plugin, file).map(|file| &file.source);
        let root = source.and_then(|source| yaml::parse(source, &mut Problems::new()));
        if root.is_some_and(|root| root.get(key).is_none() || root.get("case").is_some()) {
            problems.push(
                faulty(file, format!("`{}` is not a file of {key}", file.value))
                    .expected(format!("a file with the key `{key}:` at its head"))
                    .help(format!("name the file that has the {key} of this case")),
            );
        }
    }
    let expect = expect?;
    one_of(&expect.ends, &ENDS, problems);
    for verdict in expect.verdicts.values() {
        one_of(verdict, &VERDICTS, problems);
    }
    let source = beside(&parsed.library, &document.plugin, &job)?.source.clone();
    // What is wrong with it is said once, when it is met as a file of its own.
    let family = RawJob::read(&source, &mut Problems::new()).map(|job| job.family.value).unwrap_or_default();
    if let Some(shop) = super::job::shop_of(&source)
        && beside(&parsed.library, &document.plugin, &shop).is_none()
    {
        problems.push(
            faulty(&job, format!("the job names the shop `{shop}`, and there is none of that name beside it"))
                .expected("a shop file in the same folder `cases/`, named without any folder")
                .help("copy it there, or take the line `shop:` out of the job"),
        );
    }
    Some(What::Job(Box::new(JobCase { procedure, family, job, answers, expect })))
}

/// Steps that are expected to do something are steps of the procedure.
fn steps_of(job: &JobCase, stock: &Stock, problems: &mut Problems) {
    let Some(root) = stock.procedures.get(job.procedure.as_str()) else { return };
    let reached = stock.reached(root);
    if reached.iter().any(|id| stock.incomplete.contains(*id) || !stock.procedures.contains_key(*id)) {
        return;
    }
    let procedures = reached.iter().filter_map(|id| stock.procedures.get(*id));
    let known: Vec<&str> =
        procedures.flat_map(|procedure| procedure.all_steps()).map(|step| step.id.value.as_str()).collect();
    let named = job.expect.held_at.iter().chain(job.expect.verdicts.keys()).chain(job.expect.rounds.keys());
    for step in named.filter(|step| !known.contains(&step.as_str())) {
        let problem = faulty(step, format!("`{}` has no step `{}`", root.id.value, step.value));
        problems.push(problem.nearest(
            step,
            known.iter().copied(),
            format!("`standpipe show procedure {}` lists the steps", root.id.value),
        ));
    }
}

/// A file in the `cases/` of a plugin.
pub fn beside<'a>(library: &'a Library, plugin: &str, name: &str) -> Option<&'a standpipe_library::File> {
    library.file(plugin, &format!("{}/{name}", Kind::Case.folder()))
}

pub(super) fn one_of(word: &At<String>, known: &[&str], problems: &mut Problems) {
    if !known.contains(&word.as_str()) {
        let problem = faulty(word, format!("`{}` is not what can be expected here", word.value))
            .expected(format!("one of: {}", known.join(", ")));
        problems.push(problem.nearest(word, known.iter().copied(), "write one of these"));
    }
}

fn of_check(path: At<String>, text: Option<At<String>>, expect: &Node, problems: &mut Problems) -> Option<What> {
    let Some(text) = text else {
        problems
            .push(faulty(&path, "a case of a fault needs the text that has it").help("write the file below `text: |`"));
        return None;
    };
    let expect: Vec<At<String>> = yaml::read_node(expect, problems)?;
    for one in &expect {
        let code = one.split_once(':').filter(|(_, line)| line.parse::<usize>().is_ok()).map(|(code, _)| code);
        if !code.is_some_and(|code| Code::ALL.iter().any(|known| known.name() == code)) {
            problems.push(
                faulty(one, format!("`{}` is not a code and a line", one.value))
                    .expected("a code and the line in the text, such as `unknown-option:4`"),
            );
        }
    }
    Some(What::Faulty { path, text, expect })
}
