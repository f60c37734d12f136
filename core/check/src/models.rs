//! Models of invented units against the procedures that they answer, and files of people.

use super::stock::Stock;
use super::tree::Tree;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{Kind, Layer};
use standpipe_simulate::{Changes, Model, People, Question, Stand};
use standpipe_yaml::At;

pub(super) fn check(parsed: &Parsed, stock: &Stock, problems: &mut Problems) {
    for document in parsed.library.documents(Kind::People) {
        if let Some(people) = People::read(&document.source, problems) {
            document.check_id(&people.id, &people.place, problems);
        }
    }
    for document in parsed.library.documents(Kind::Model) {
        let before = problems.len();
        let Some(model) = Model::read(document, &parsed.library, &stock.units, problems) else { continue };
        document.check_id(&model.id, &model.place, problems);
        parsed.library.find(Kind::Form, &model.form, problems);
        model.check_functions(&stock.scripts, problems);
        for id in &model.serves {
            let found = parsed.library.find(Kind::Procedure, id, problems);
            // One with a fault was reported where it stands.
            let Some(root) = found.and_then(|_| stock.procedures.get(id.as_str())) else { continue };
            let tree = Tree::new(stock, root);
            if !tree.incomplete {
                model.check_against(&tree.procedures, true, problems);
            }
        }
        // Those that come with the program are looked at where they are made: it takes as long as all other checks.
        if problems.len() == before && document.layer != Layer::BuiltIn {
            interpreted(&model, parsed, problems);
        }
    }
}

/// A job is done on a unit of the first family that can be had: what programs can be made for depends on what is given.
fn interpreted(model: &Model, parsed: &Parsed, problems: &mut Problems) {
    let people = parsed.library.documents(Kind::People).next().map(|document| document.id.clone());
    let (Some(procedure), Some(people)) = (model.serves.first(), people) else { return };
    let mut quiet = Problems::new();
    for document in parsed.library.documents(Kind::Family) {
        let family = typed("family", &document.id);
        let found = parsed.family(&family, &mut quiet);
        if found.is_none_or(|(form, _)| form.id != model.form.value) {
            continue;
        }
        let question = Question {
            procedure: procedure.clone(),
            family,
            model: Some(At::new(model.id.clone(), model.place.clone())),
            people: typed("people", &people),
            rates: 0.0,
            seed: 1,
            changes: Changes::default(),
        };
        let stand = Stand::new(&question, parsed.library.files(), parsed, None, &mut quiet);
        let Some(stand) = stand.filter(|stand| stand.bench(&stand.files, &mut quiet).is_some()) else { continue };
        for one in stand.interpreted() {
            let name = &one.function.value;
            let message =
                format!("`{name}` is worked out by the interpreter alone, some seven times as slowly as by a program");
            let problem = Diagnostic::warning(Code::InterpretedModel, &one.function.place, message);
            let problem = match &one.place {
                Some(place) => problem.also(place, one.why.clone()),
                None => problem,
            };
            problems.push(problem.help(format!("{}: say it in another way", one.why)));
        }
        return;
    }
}
