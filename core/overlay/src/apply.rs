//! Lays an overlay over procedures as they are written.

use indexmap::IndexSet;

use super::{Action, Change, Overlay, Words, Written};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_procedure::raw::{RawProcedure, RawStep};
use standpipe_procedure::{Changed, Mark, confidence_in};
use standpipe_yaml::{At, Script};

/// What the steps that only compute or hold others can't be asked for.
const WITHOUT_EVIDENCE: &[&str] = &["compute", "repeat", "include"];

impl Overlay {
    /// Whether it has anything to say about one of these procedures.
    pub fn concerns(&self, written: &Written) -> bool {
        self.procedure.as_ref().is_some_and(|id| written.contains_key(id.as_str()))
    }

    /// Changes the steps; what it can't do is reported, with the place of both sides. Its values are not touched here.
    pub fn apply(&mut self, written: &mut Written, problems: &mut Problems) {
        let Some(procedure) = self.procedure.clone().filter(|id| written.contains_key(id.as_str())) else { return };
        let changes = std::mem::take(&mut self.changes);
        for change in changes {
            if let Action::Set { .. } = &change.action {
                self.changes.push(change);
                continue;
            }
            // Earlier changes may have brought in procedures and steps that a later one speaks of.
            let scope = reached(&procedure, written);
            if let Err(problem) = self.change(change, &scope, written) {
                problems.push(*problem);
            }
        }
    }

    fn change(&self, change: Change, scope: &IndexSet<String>, written: &mut Written) -> Result<(), Box<Diagnostic>> {
        let mark = |what: Changed, because: Option<String>| Mark {
            overlay: self.id.clone(),
            what,
            because,
            place: change.place.clone(),
        };
        match change.action {
            Action::Add { beside, after, steps } => {
                let found = find(written, scope, &beside)?;
                self.take_cautions(&steps, &found.procedure, written)?;
                let (list, at) = found.list(written).ok_or_else(|| Box::new(nothing(&beside)))?;
                for (offset, mut step) in steps.into_iter().enumerate() {
                    mark_all(&mut step, &mark(Changed::Added, None));
                    list.insert(at + usize::from(after) + offset, step);
                }
            }
            Action::LeaveOut { step, because } => {
                let found = find(written, scope, &step)?;
                if let Some((kept, id)) = kept_within(found.step(written), written) {
                    let message = match *id == *step.value {
                        true => format!("`{id}` is marked `keep` and can't be left out"),
                        false => format!("`{}` can't be left out: `{id}` in it is marked `keep`", step.value),
                    };
                    return Err(loosened(&step, &kept, message));
                }
                let (list, at) = found.list(written).ok_or_else(|| Box::new(nothing(&step)))?;
                let taken = list.remove(at);
                if let Some(procedure) = written.get_mut(&found.procedure) {
                    procedure.left_out.push((taken, mark(Changed::LeftOut, Some(because))));
                }
            }
            Action::Replace { step, words } => {
                let Words { title, act, why, show } = *words;
                let found = find(written, scope, &step)?;
                let target = found.step_mut(written).ok_or_else(|| Box::new(nothing(&step)))?;
                if target.value.keep && (title.is_some() || act.is_some() || show.is_some()) {
                    let message = format!("`{}` is marked `keep`: what it says is done stays as it is", step.value);
                    return Err(loosened(&step, &target.value.id.place, message));
                }
                if let Some(act) = act {
                    let place = act.place.clone();
                    if !target.value.say(act) {
                        let words = target.value.words().join(", ");
                        return Err(Box::new(
                            Diagnostic::error(Code::UnfitChange, &place, format!("`{}` has no `do` text", step.value))
                                .also(&target.value.id.place, format!("this one is of the kind `{words}`"))
                                .help("replace its `title:` or its `why:`"),
                        ));
                    }
                }
                if title.is_some() {
                    target.value.title = title;
                }
                if why.is_some() {
                    target.value.why = why;
                }
                if let Some(show) = show {
                    target.value.show = show;
                }
                target.value.marks.push(mark(Changed::Text, None));
            }
            Action::Tighten { step, must, confidence } => {
                let found = find(written, scope, &step)?;
                let target = found.step_mut(written).ok_or_else(|| Box::new(nothing(&step)))?;
                tighten(target, &step, must, confidence)?;
                target.value.marks.push(mark(Changed::Gate, None));
            }
            Action::Evidence { step } => {
                let found = find(written, scope, &step)?;
                let target = found.step_mut(written).ok_or_else(|| Box::new(nothing(&step)))?;
                let words = target.value.words();
                if let Some(word) = words.iter().find(|word| WITHOUT_EVIDENCE.contains(word)) {
                    return Err(Box::new(
                        Diagnostic::error(
                            Code::UnfitChange,
                            &step.place,
                            format!("nobody does `{}` by hand", step.value),
                        )
                        .also(&target.value.id.place, format!("it is of the kind `{word}`"))
                        .help("name a step at which there is something to see"),
                    ));
                }
                target.value.evidence = Some(At::new("photo".to_owned(), step.place.clone()));
                target.value.marks.push(mark(Changed::Evidence, None));
            }
            Action::Set { .. } => {}
        }
        Ok(())
    }

    /// The cautions that its steps name go with them, into the procedure where they come to stand.
    fn take_cautions(
        &self,
        steps: &[At<RawStep>],
        procedure: &str,
        written: &mut Written,
    ) -> Result<(), Box<Diagnostic>> {
        let Some(procedure) = written.get_mut(procedure) else { return Ok(()) };
        let mut named = Vec::new();
        steps.iter().for_each(|step| cautions(step, &mut named));
        for caution in named {
            let Some((id, text)) = self.cautions.get_key_value(caution.as_str()) else { continue };
            match procedure.cautions.get(id.as_str()) {
                Some(there) if there.value != text.value => {
                    return Err(Box::new(
                        Diagnostic::error(
                            Code::UnfitChange,
                            &id.place,
                            format!("`{}` has a caution `{}` already", procedure.procedure.value, id.value),
                        )
                        .also(&there.place, "this one")
                        .help("give yours another id"),
                    ));
                }
                Some(_) => {}
                None => {
                    procedure.cautions.insert(id.value.clone(), text.clone());
                }
            }
        }
        Ok(())
    }
}

fn tighten(
    target: &mut At<RawStep>,
    step: &At<String>,
    must: Option<Script>,
    confidence: Option<At<String>>,
) -> Result<(), Box<Diagnostic>> {
    match target.value.gate.as_mut() {
        Some(gate) => {
            gate.tightened.extend(must);
            if let Some(asked) = confidence {
                let share = |text: &At<String>| confidence_in(&text.value);
                if let Some(own) = gate.confidence.as_ref()
                    && share(&asked).zip(share(own)).is_some_and(|(asked, own)| asked < own)
                {
                    let message = format!("`{}` asks for {} already", step.value, own.value);
                    return Err(Box::new(
                        Diagnostic::error(Code::LoosensKept, &asked.place, message)
                            .also(&own.place, "asked for here")
                            .help("a gate can only be made stricter: write more, or take the key out"),
                    ));
                }
                gate.confidence = Some(asked);
            }
            Ok(())
        }
        None => Err(Box::new(
            Diagnostic::error(
                Code::UnfitChange,
                &step.place,
                format!("`{}` has no gate that could be tightened", step.value),
            )
            .also(&target.value.id.place, "this step")
            .help("add a step of your own after it, with a gate"),
        )),
    }
}

fn loosened(step: &At<String>, kept: &Place, message: String) -> Box<Diagnostic> {
    Box::new(
        Diagnostic::error(Code::LoosensKept, &step.place, message)
            .also(kept, "marked `keep` here")
            .help("take the change out; steps of your own can stand before and after it"),
    )
}

fn cautions(step: &At<RawStep>, named: &mut Vec<String>) {
    named.extend(step.value.caution.iter().map(|id| id.value.clone()));
    step.value.steps.iter().for_each(|step| cautions(step, named));
}

fn mark_all(step: &mut At<RawStep>, mark: &Mark) {
    step.value.marks.push(mark.clone());
    step.value.steps.iter_mut().for_each(|step| mark_all(step, mark));
}

/// A procedure and all that it includes, calls or runs when pausing.
pub(super) fn reached(id: &str, written: &Written) -> IndexSet<String> {
    let mut found = IndexSet::from([id.to_owned()]);
    let mut next = 0;
    while let Some(id) = found.get_index(next).cloned() {
        next += 1;
        if let Some(procedure) = written.get(&id) {
            found.extend(procedure.names().into_iter().map(|id| id.value.clone()));
        }
    }
    found
}

/// Where a step stands: its procedure, and the index in each list of steps on the way to it.
struct Found {
    procedure: String,
    path: Vec<usize>,
}

impl Found {
    fn list<'a>(&self, written: &'a mut Written) -> Option<(&'a mut Vec<At<RawStep>>, usize)> {
        let (last, outer) = self.path.split_last()?;
        let mut list = &mut written.get_mut(&self.procedure)?.steps;
        for index in outer {
            list = &mut list.get_mut(*index)?.value.steps;
        }
        Some((list, *last))
    }

    fn step_mut<'a>(&self, written: &'a mut Written) -> Option<&'a mut At<RawStep>> {
        let (list, at) = self.list(written)?;
        list.get_mut(at)
    }

    fn step<'a>(&self, written: &'a Written) -> Option<&'a At<RawStep>> {
        let mut list = &written.get(&self.procedure)?.steps;
        let (last, outer) = self.path.split_last()?;
        for index in outer {
            list = &list.get(*index)?.value.steps;
        }
        list.get(*last)
    }
}

fn find(written: &Written, scope: &IndexSet<String>, id: &At<String>) -> Result<Found, Box<Diagnostic>> {
    fn within(steps: &[At<RawStep>], id: &str, path: &mut Vec<usize>) -> bool {
        for (index, step) in steps.iter().enumerate() {
            path.push(index);
            if step.value.id.as_str() == id || within(&step.value.steps, id, path) {
                return true;
            }
            path.pop();
        }
        false
    }
    for (name, procedure) in written.iter().filter(|(name, _)| scope.contains(*name)) {
        let mut path = Vec::new();
        if within(&procedure.steps, id, &mut path) {
            return Ok(Found { procedure: name.clone(), path });
        }
    }
    Err(absent(id, written, scope))
}

fn absent(id: &At<String>, written: &Written, scope: &IndexSet<String>) -> Box<Diagnostic> {
    fn ids<'a>(steps: &'a [At<RawStep>], all: &mut Vec<&'a str>) {
        for step in steps {
            all.push(step.value.id.as_str());
            ids(&step.value.steps, all);
        }
    }
    let procedures = || written.iter().filter(|(name, _)| scope.contains(*name)).map(|(_, procedure)| procedure);
    let taken = procedures().flat_map(|it| &it.left_out).find(|(step, _)| step.value.id.as_str() == id.as_str());
    if let Some((_, mark)) = taken {
        return Box::new(
            Diagnostic::error(
                Code::UnknownStep,
                &id.place,
                format!("the step `{}` was left out before this", id.value),
            )
            .also(&mark.place, "here")
            .help("take one of the two changes out"),
        );
    }
    let mut all = Vec::new();
    procedures().for_each(|procedure| ids(&procedure.steps, &mut all));
    let problem = nothing(id);
    Box::new(problem.nearest(id, all, "`standpipe show procedure ID` lists the steps of a procedure"))
}

fn nothing(id: &At<String>) -> Diagnostic {
    Diagnostic::error(
        Code::UnknownStep,
        &id.place,
        format!("there is no step `{}` in the procedure or what it reaches", id.value),
    )
}

/// The first step marked `keep` in a step and all that it holds, steps of included procedures among them.
fn kept_within(step: Option<&At<RawStep>>, written: &Written) -> Option<(Place, String)> {
    fn walk(step: &At<RawStep>, written: &Written, seen: &mut IndexSet<String>) -> Option<(Place, String)> {
        if step.value.keep {
            return Some((step.value.id.place.clone(), step.value.id.value.clone()));
        }
        let included: &[At<RawStep>] = match step.value.included() {
            Some(id) if seen.insert(id.value.clone()) => {
                written.get(id.as_str()).map_or(&[], |procedure: &RawProcedure| &procedure.steps)
            }
            _ => &[],
        };
        step.value.steps.iter().chain(included).find_map(|step| walk(step, written, seen))
    }
    walk(step?, written, &mut IndexSet::new())
}
