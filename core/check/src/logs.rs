//! Descriptions of logs, and how the shop says that its readers write them.

use super::stock::Stock;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::Form;
use standpipe_job::plan::Parsed;
use standpipe_library::{Kind, Shop};
use standpipe_log::{Description, of_mapping};
use standpipe_yaml::At;

pub(super) fn check(parsed: &Parsed, stock: &Stock, shop: Option<&Shop>, problems: &mut Problems) {
    let mut columns: Vec<String> = vec!["time".to_owned()];
    for document in parsed.library.documents(Kind::Log) {
        let Some(description) = Description::read(&document.source, &stock.units, problems) else { continue };
        document.check_id(&description.id, &description.place, problems);
        columns.extend(description.wanted.columns.keys().cloned());
        if parsed.library.find(Kind::Form, &description.form, problems).is_none() {
            continue;
        }
        // A form with a fault was reported where it stands.
        let form = stock.forms.get(description.form.as_str());
        description.check(&stock.scripts, |path| form.is_none_or(|form| has_field(form, path)), problems);
        steps(parsed, stock, &description, problems);
        entered(parsed, stock, &description, problems);
    }
    for instrument in shop.iter().flat_map(|shop| shop.instruments.values()) {
        let Some(mapping) = &instrument.log else { continue };
        of_mapping(mapping, problems);
        let names = mapping.columns.keys().chain(mapping.units.keys()).chain(mapping.words.keys());
        for name in names.filter(|name| !columns.contains(name)) {
            let problem = Diagnostic::error(Code::FaultyShop, &name.place, format!("no log has a `{}`", name.value))
                .expected(columns.join(", "));
            problems.push(problem.nearest(name, columns.iter().map(String::as_str), "name one of these"));
        }
    }
}

/// A field, or the beginning of the path of one: `spec.cycle` holds `cycle.hold`.
fn has_field(form: &Form, path: &str) -> bool {
    let inside = format!("{path}.");
    let mut outside = path;
    if form.fields.keys().any(|field| field.starts_with(&inside)) {
        return true;
    }
    loop {
        if form.field(outside).is_some() {
            return true;
        }
        match outside.rsplit_once('.') {
            Some((before, _)) => outside = before,
            None => return false,
        }
    }
}

fn steps(parsed: &Parsed, stock: &Stock, description: &Description, problems: &mut Problems) {
    let all: Vec<&At<String>> =
        stock.procedures.values().flat_map(|procedure| procedure.all_steps()).map(|step| &step.id).collect();
    let some_unread = some_unread(parsed, stock);
    for step in description.events.values().flat_map(|event| &event.steps) {
        if some_unread || all.iter().any(|id| id.value == step.value) {
            continue;
        }
        let problem =
            Diagnostic::error(Code::FaultyLogDescription, &step.place, format!("there is no step `{}`", step.value));
        let steps = all.iter().map(|id| id.as_str());
        problems.push(problem.nearest(step, steps, "name a step of a procedure, or leave it out"));
    }
}

fn some_unread(parsed: &Parsed, stock: &Stock) -> bool {
    !stock.incomplete.is_empty() || parsed.library.documents(Kind::Procedure).next().is_none()
}

/// Readings that no step asks for would never be held against a log.
fn entered(parsed: &Parsed, stock: &Stock, description: &Description, problems: &mut Problems) {
    if some_unread(parsed, stock) {
        return;
    }
    let steps = stock.procedures.values().flat_map(|procedure| procedure.all_steps());
    let all: Vec<&str> = steps.flat_map(|step| step.kind.fields()).map(|field| field.name.as_str()).collect();
    let names =
        description.wanted.columns.values().flat_map(|column| &column.entered).flat_map(|entered| &entered.names);
    for name in names.filter(|name| !all.contains(&name.as_str())) {
        let message = format!("no step asks for `{}`", name.value);
        let problem = Diagnostic::error(Code::FaultyLogDescription, &name.place, message);
        problems.push(problem.nearest(name, all.iter().copied(), "name what a step reads, or leave it out"));
    }
}
