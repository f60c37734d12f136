//! What a procedure asks of a shop: people in a role, instruments of a kind.

use indexmap::{IndexMap, IndexSet};

use super::stock::Stock;
use super::tree::Tree;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_library::Shop;
use standpipe_procedure::{FieldKind, Otherwise};

/// Roles that nobody asks for, and that are nearly one that somebody does.
pub fn roles(stock: &Stock, shop: &Shop, problems: &mut Problems) {
    let mut asked: IndexSet<&str> = IndexSet::new();
    for procedure in stock.procedures.values() {
        asked.extend(procedure.may_accept.iter().map(|role| role.value.as_str()));
        for step in procedure.all_steps() {
            if let Some(Otherwise::Ask(roles)) = step.gate.as_ref().map(|gate| &gate.otherwise) {
                asked.extend(roles.iter().map(String::as_str));
            }
            asked.extend(step.kind.fields().iter().filter_map(|field| match &field.kind {
                FieldKind::Signature(role) => Some(role.as_str()),
                _ => None,
            }));
        }
    }
    // Whoever does the work is asked for by no procedure.
    asked.insert("doer");
    for (role, place) in shop.people.values().flat_map(|person| person.roles.iter().zip(&person.places)) {
        if let (false, Some(near)) = (asked.contains(role.as_str()), nearest(role, asked.iter().copied())) {
            problems.push(
                Diagnostic::warning(Code::FaultyShop, place, format!("nothing asks for the role `{role}`"))
                    .help(format!("did you mean `{near}`?")),
            );
        }
    }
}

pub fn check(tree: &Tree<'_>, shop: &Shop, problems: &mut Problems) {
    let mut roles: IndexMap<String, Place> = IndexMap::new();
    let mut kinds: IndexMap<String, Place> = IndexMap::new();
    for procedure in &tree.procedures {
        for role in &procedure.may_accept {
            roles.entry(role.value.clone()).or_insert_with(|| role.place.clone());
        }
        for step in procedure.all_steps() {
            if let Some(Otherwise::Ask(asked)) = step.gate.as_ref().map(|gate| &gate.otherwise) {
                for role in asked {
                    roles.entry(role.clone()).or_insert_with(|| step.id.place.clone());
                }
            }
            for field in step.kind.fields() {
                if let FieldKind::Signature(role) = &field.kind {
                    let place = field.place.as_ref().unwrap_or(&step.id.place);
                    roles.entry(role.clone()).or_insert_with(|| place.clone());
                }
                if let Some(with) = &field.instrument {
                    kinds.entry(with.value.clone()).or_insert_with(|| with.place.clone());
                }
            }
        }
    }
    let known: Vec<&str> = shop.people.values().flat_map(|person| &person.roles).map(String::as_str).collect();
    for (role, place) in roles.iter().filter(|(role, _)| !known.contains(&role.as_str())) {
        let message = format!("nobody in the shop `{}` is `{role}`, which `{}` asks for", shop.id, tree.root.id.value);
        let problem = Diagnostic::warning(Code::VacantRole, place, message);
        problems.push(match nearest(role, known.iter().copied()) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help(format!("give somebody in the shop file the role: `roles: [{role}]`")),
        });
    }
    let known: Vec<&str> = shop.instruments.values().map(|instrument| instrument.kind.as_str()).collect();
    for (kind, place) in kinds.iter().filter(|(kind, _)| !known.contains(&kind.as_str())) {
        let message = format!("the shop `{}` has no `{kind}`, with which `{}` reads", shop.id, tree.root.id.value);
        let problem = Diagnostic::warning(Code::MissingInstrument, place, message);
        problems.push(match nearest(kind, known.iter().copied()) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help(format!("add an instrument with `kind: {kind}` to the shop file")),
        });
    }
}
