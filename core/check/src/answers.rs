//! An answers file against the plan of its job, as far as it can be told without running it.

use std::path::Path;

use indexmap::IndexMap;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_drivers::answers::{Answer, Answers, Given};
use standpipe_job::What;
use standpipe_job::plan::Plan;
use standpipe_procedure::{Field, FieldKind, Step};
use standpipe_yaml::At;

/// `folder` is the one that its paths are relative to.
pub fn answers(answers: &Answers, plan: &Plan, folder: &Path, problems: &mut Problems) {
    let steps: Vec<&Step> = plan.procedures.values().flat_map(|procedure| procedure.all_steps()).collect();
    for answer in &answers.list {
        person(&answer.by, &answer.place, plan, problems);
        if let Some(id) = &answer.step
            && !steps.iter().any(|step| step.id.value == id.value)
        {
            let problem = Diagnostic::error(
                Code::UnfitAnswer,
                &id.place,
                format!("no step of this job is called `{}`", id.value),
            );
            problems.push(problem.nearest(
                id,
                steps.iter().map(|step| step.id.as_str()),
                format!("`standpipe show procedure {}` lists the steps", plan.procedure),
            ));
        }
        given(answer, &steps, plan, problems);
        files(answer, folder, problems);
    }
}

/// Photos and logs have to be there when their turn comes.
fn files(answer: &Answer, folder: &Path, problems: &mut Problems) {
    let named: Vec<&At<String>> = match &answer.given {
        Given::Enter { evidence, log, .. } => evidence.iter().chain(log.as_ref().map(|log| &log.file)).collect(),
        Given::Attach(file) => vec![file],
        _ => Vec::new(),
    };
    for file in named.into_iter().filter(|file| !folder.join(file.as_str()).is_file()) {
        problems.push(
            Diagnostic::error(Code::UnfitAnswer, &file.place, format!("there is no file `{}`", file.value))
                .expected("a path relative to the file of answers")
                .help("correct the path, or put the file there"),
        );
    }
}

fn person(id: &str, place: &Place, plan: &Plan, problems: &mut Problems) {
    if plan.shop.people.is_empty() || plan.shop.people.contains_key(id) {
        return;
    }
    let known = plan.shop.people.keys().map(String::as_str);
    let problem = Diagnostic::error(Code::UnknownPerson, place, format!("the shop file names nobody called `{id}`"))
        .expected(known.clone().collect::<Vec<_>>().join(", "));
    problems.push(problem.nearest(id, known, "write the id that the shop file has for the person"));
}

fn given(answer: &Answer, steps: &[&Step], plan: &Plan, problems: &mut Problems) {
    let place = &answer.place;
    match &answer.given {
        Given::Enter { entry, bare, .. } => {
            if let Some(witness) = &entry.witness {
                person(witness, place, plan, problems);
            }
            let Some(step) = steps.iter().find(|step| step.id.as_str() == entry.step) else { return };
            instruments(&entry.with, step, place, plan, problems);
            for (name, typed) in &entry.typed {
                value(step, name, typed, entry.with.get(name).map(String::as_str), place, plan, problems);
            }
            if let (Some(bare), [field]) = (bare, step.kind.fields())
                && bare.value != "done"
            {
                value(step, &field.name, &bare.value, None, &bare.place, plan, problems);
            }
        }
        Given::What(What::Call { procedure }) => {
            let known: Vec<&str> =
                plan.procedures.values().flat_map(|one| &one.reachable).map(|id| id.value.as_str()).collect();
            if !known.contains(&procedure.as_str()) {
                let message = format!("`{procedure}` can't be called in this job");
                let problem = Diagnostic::error(Code::UnfitAnswer, place, message).expected(known.join(", "));
                problems.push(problem.nearest(
                    procedure,
                    known.iter().copied(),
                    "add it to `reachable:` of the procedure",
                ));
            }
        }
        Given::What(What::Supply { path, typed, .. }) => {
            if let Err(unfit) = plan.read_fact(path, typed) {
                let mut problem = Diagnostic::error(Code::UnfitAnswer, place, unfit.message);
                problem.expected = unfit.expected;
                problem.help = unfit.help;
                problems.push(problem);
            }
        }
        Given::Attach(_) | Given::Correct { .. } | Given::What(_) => {}
    }
}

fn instruments(with: &IndexMap<String, String>, step: &Step, place: &Place, plan: &Plan, problems: &mut Problems) {
    for (name, id) in with {
        let field = step.kind.fields().iter().find(|field| field.name.as_str() == name);
        let asked = field.and_then(Field::of_instrument);
        let (Some(asked), Some(used)) = (asked, plan.shop.instruments.get(id)) else { continue };
        if used.kind != asked.value {
            let message = format!("`{name}` is read with a `{}`, and `{id}` is a `{}`", asked.value, used.kind);
            let fitting = plan.shop.instruments_of(asked);
            problems.push(
                Diagnostic::error(Code::UnfitInstrument, place, message)
                    .expected(fitting.join(", "))
                    .help("name the instrument that it was read with"),
            );
        }
    }
    for id in with.values().filter(|id| !plan.shop.instruments.contains_key(id.as_str())) {
        let known = plan.shop.instruments.keys().map(String::as_str);
        let problem = Diagnostic::error(Code::UnfitInstrument, place, format!("the shop has no instrument `{id}`"))
            .expected(known.clone().collect::<Vec<_>>().join(", "));
        problems.push(problem.nearest(id, known, "write the id that the shop file has for it"));
    }
}

/// What the time of a hold is entered as; no expression sees it.
const HELD: &str = "held";

fn is_held(step: &Step) -> bool {
    step.kind.word() == "hold" || step.kind.fields().iter().any(|field| matches!(field.kind, FieldKind::Held))
}

fn value(
    step: &Step,
    name: &str,
    typed: &str,
    instrument: Option<&str>,
    place: &Place,
    plan: &Plan,
    problems: &mut Problems,
) {
    let held;
    let field = match step.kind.fields().iter().find(|field| field.name.as_str() == name) {
        None if name == HELD && is_held(step) => {
            held = Field::new(step.id.clone(), FieldKind::Held);
            Some(&held)
        }
        other => other,
    };
    let Some(field) = field else {
        let known: Vec<&str> = step.kind.fields().iter().map(|field| field.name.as_str()).collect();
        let message = format!("`{}` asks for nothing called `{name}`", step.id.value);
        let problem = Diagnostic::error(Code::UnfitAnswer, place, message).expected(known.join(", "));
        problems.push(problem.nearest(name, known.iter().copied(), "enter what the step asks for"));
        return;
    };
    let unit = instrument.and_then(|id| plan.shop.unit_of(id));
    if let Err(misread) = field.read(typed, &plan.units, unit.as_deref()) {
        let mut problem = Diagnostic::error(Code::UnfitAnswer, place, format!("`{name}`: {}", misread.found))
            .expected(misread.expected);
        problem.help = misread.help;
        problems.push(problem);
    }
}
