//! The procedures that a job can come to, with overlays laid over them, and what is checked of them together.

use indexmap::{IndexMap, IndexSet};

use super::Parsed;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::{self as form, Form};
use standpipe_library::Kind;
use standpipe_overlay::{Overlay, Written};
use standpipe_procedure::raw::RawProcedure;
use standpipe_procedure::{Children, Expr, Procedure, Step};
use standpipe_script::Scripts;
use standpipe_yaml::{self as yaml, At};

pub struct Reached {
    pub procedures: IndexMap<String, Procedure>,
    /// The plugins that they stand in.
    pub plugins: IndexSet<String>,
    /// Overlays that had something to say about them.
    pub laid_over: IndexSet<String>,
}

/// A procedure and all that it includes, calls, or runs when pausing, and the same for others beside it; changed as the
/// overlays say.
pub fn reach(
    parsed: &Parsed,
    main: &At<String>,
    beside: &[At<String>],
    overlays: &mut [Overlay],
    problems: &mut Problems,
) -> Option<Reached> {
    let mut reading = Reading { parsed, written: Written::new(), plugins: IndexSet::new(), absent: IndexSet::new() };
    reading.follow(vec![main.clone()], problems);
    reading.follow(beside.to_vec(), problems);
    if !reading.written.contains_key(main.as_str()) {
        return None;
    }
    let mut laid_over = IndexSet::new();
    for overlay in overlays.iter_mut() {
        if overlay.concerns(&reading.written) {
            overlay.apply(&mut reading.written, problems);
            laid_over.insert(overlay.id.clone());
            // A step that was added may include a procedure.
            let named = reading.written.values().flat_map(RawProcedure::names).cloned().collect();
            reading.follow(named, problems);
        }
    }
    let procedures: IndexMap<String, Procedure> =
        reading.written.into_iter().map(|(id, raw)| (id, parsed.checked(raw, problems))).collect();
    circles(&procedures, main, &mut Vec::new(), problems);
    Some(Reached { procedures, plugins: reading.plugins, laid_over })
}

struct Reading<'a> {
    parsed: &'a Parsed,
    written: Written,
    plugins: IndexSet<String>,
    /// Named, but not there or not readable; that has been said.
    absent: IndexSet<String>,
}

impl Reading<'_> {
    fn follow(&mut self, mut wanted: Vec<At<String>>, problems: &mut Problems) {
        while let Some(id) = wanted.pop() {
            if self.written.contains_key(id.as_str()) || self.absent.contains(id.as_str()) {
                continue;
            }
            let document = self.parsed.library.find(Kind::Procedure, &id, problems);
            let raw = document.and_then(|document| {
                self.plugins.insert(document.plugin.clone());
                yaml::read::<RawProcedure>(&document.source, problems)
            });
            let Some(raw) = raw else {
                self.absent.insert(id.value);
                continue;
            };
            wanted.extend(raw.names().into_iter().cloned());
            self.written.insert(raw.procedure.value.clone(), raw);
        }
    }
}

/// Reports procedures that include themselves, however far around.
pub fn circles<'a>(
    procedures: &'a IndexMap<String, Procedure>,
    at: &'a At<String>,
    path: &mut Vec<&'a str>,
    problems: &mut Problems,
) {
    if path.contains(&at.as_str()) {
        let mut circle: Vec<&str> = path.iter().copied().skip_while(|id| *id != at.as_str()).collect();
        circle.push(at);
        problems.push(
            Diagnostic::error(Code::IncludeCycle, &at.place, format!("`{}` includes itself", at.value))
                .label(circle.join(" > "))
                .help("a procedure can't be part of itself; use `repeat` to do steps again"),
        );
        return;
    }
    let Some(procedure) = procedures.get(at.as_str()) else { return };
    path.push(at);
    for step in procedure.all_steps() {
        if let Children::Procedure(id) = step.kind.children() {
            circles(procedures, id, path, problems);
        }
    }
    path.pop();
}

/// What can only be seen with all procedures at hand.
pub fn check_together(
    procedures: &IndexMap<String, Procedure>,
    form: &Form,
    scripts: &Scripts,
    problems: &mut Problems,
) {
    let mut seen: IndexMap<&str, (&At<String>, &Place)> = IndexMap::new();
    for procedure in procedures.values() {
        if let Some(named) = &procedure.form
            && named.as_str() != form.id
        {
            problems.push(
                Diagnostic::error(
                    Code::UnmetNeed,
                    &named.place,
                    format!("`{}` is for the form `{}`", procedure.id.value, named.value),
                )
                .expected(format!("a procedure for `{}`", form.id)),
            );
        }
        for need in &procedure.needs {
            if form.field(&form::snake(need)).is_none() {
                problems.push(
                    Diagnostic::error(
                        Code::UnmetNeed,
                        &need.place,
                        format!("the form `{}` has no field `{}`", form.id, need.value),
                    )
                    .help("correct the name, or add the field to the form"),
                );
            }
        }
        for step in procedure.all_steps() {
            // Within one procedure this has been reported already.
            if let Some((owner, first)) = seen.insert(&step.id, (&procedure.id, &step.id.place))
                && owner.value != procedure.id.value
            {
                problems.push(
                    Diagnostic::error(
                        Code::DuplicateStep,
                        &step.id.place,
                        format!("a second step `{}`", step.id.value),
                    )
                    .also(first, "the first one")
                    .help("ids are unique over all procedures of a job: entries are kept under them"),
                );
            }
            compile(step, scripts, problems);
        }
    }
    undone(procedures, problems);
    left_open(&procedures.values().collect::<Vec<_>>(), scripts, problems);
}

/// A step that is not there can't be undone: what is meant would stand although it is gone.
fn undone(procedures: &IndexMap<String, Procedure>, problems: &mut Problems) {
    let steps: Vec<&Step> = procedures.values().flat_map(Procedure::all_steps).collect();
    for id in steps.iter().flat_map(|step| &step.undoes) {
        if steps.iter().any(|step| step.id.value == id.value) {
            continue;
        }
        let message = format!("no step `{}` that could be undone", id.value);
        let problem = Diagnostic::error(Code::UnknownReference, &id.place, message);
        problems.push(problem.nearest(
            &id.value,
            steps.iter().map(|step| step.id.as_str()),
            "name a step of the procedures that the job can come to",
        ));
    }
}

fn expressions(step: &Step) -> impl Iterator<Item = &Expr> {
    let own = step.kind.expressions();
    own.into_iter().chain(&step.when).chain(step.gate.as_ref().map(|gate| &gate.must))
}

fn compile(step: &Step, scripts: &Scripts, problems: &mut Problems) {
    for part in expressions(step).flat_map(Expr::parts) {
        if let Err(faults) = part.compiled(scripts) {
            problems.extend(faults);
        }
    }
}

/// A step that an overlay left out may have been the only one to give a name that others look at: they could never be
/// met.
pub fn left_open(procedures: &[&Procedure], scripts: &Scripts, problems: &mut Problems) {
    let steps: Vec<&Step> = procedures.iter().flat_map(|procedure| procedure.all_steps()).collect();
    for left_out in procedures.iter().flat_map(|procedure| &procedure.left_out) {
        let mut taken = Vec::new();
        left_out.step.and_inner(&mut taken);
        for name in taken.iter().flat_map(|step| step.kind.gives()) {
            if steps.iter().any(|step| step.kind.gives().iter().any(|given| given.value == name.value)) {
                continue;
            }
            let uses =
                |step: &&&Step| expressions(step).any(|expression| expression.uses(scripts).contains(&name.value));
            if let Some(user) = steps.iter().find(uses) {
                let message = format!("`{}` can't be left out: `{}` is read there", left_out.step.id.value, name.value);
                problems.push(
                    Diagnostic::error(Code::LeavesOutNeeded, &left_out.mark.place, message)
                        .also(&user.id.place, format!("`{}` looks at it", user.id.value))
                        .help("leave that step out too, or keep this one"),
                );
            }
        }
    }
}
