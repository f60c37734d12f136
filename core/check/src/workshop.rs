//! What a procedure asks of a shop: people in a role, instruments of a kind.

use indexmap::{IndexMap, IndexSet};

use super::stock::Stock;
use super::tree::Tree;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Near, Problems};
use standpipe_library::Shop;
use standpipe_procedure::{Field, FieldKind, Otherwise, Procedure};

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
        if let (false, Some(near)) = (asked.contains(role.as_str()), Near::of(role, asked.iter().copied())) {
            problems.push(
                Diagnostic::warning(Code::FaultyShop, place, format!("nothing asks for the role `{role}`"))
                    .meant(role, &near)
                    .unsure(),
            );
        }
    }
}

/// Rates of the shop that nothing asks for, where something asks for one of nearly that name that it has not.
pub fn rates(stock: &Stock, shop: &Shop, problems: &mut Problems) {
    let of_steps = |procedure: &Procedure| -> Vec<String> {
        let calls = procedure.page_calls().flat_map(|call| call.with.values());
        let steps = procedure.all_steps();
        let own = steps.iter().flat_map(|step| step.kind.expressions());
        let names = calls.chain(own).flat_map(|expr| expr.names(&stock.scripts));
        let rates = names.filter(|name| name.path.len() > 2 && name.path[0] == "shop" && name.path[1] == "rates");
        rates.map(|name| name.path[2].clone()).collect()
    };
    let asked: IndexSet<String> = stock.procedures.values().flat_map(of_steps).collect();
    let missing = || asked.iter().map(String::as_str).filter(|name| !shop.rates.contains_key(*name));
    for (name, place) in shop.rates.keys().zip(&shop.rate_places).filter(|(name, _)| !asked.contains(*name)) {
        if let Some(near) = Near::of(name, missing()).filter(|near| near.certain) {
            let message = format!("nothing asks for the rate `{name}`");
            problems.push(Diagnostic::warning(Code::FaultyShop, place, message).meant(name, &near).unsure());
        }
    }
}

/// A kind of instrument that one field alone names, and that is nearly one that others do and the shop, if there is one, has.
pub fn kinds(stock: &Stock, shop: Option<&Shop>, problems: &mut Problems) {
    let mut kinds: IndexMap<&str, Vec<&Place>> = IndexMap::new();
    for step in stock.procedures.values().flat_map(Procedure::all_steps) {
        for instrument in step.kind.fields().iter().filter_map(Field::of_instrument) {
            kinds.entry(instrument.as_str()).or_default().push(&instrument.place);
        }
    }
    let has = |kind: &str| shop.is_some_and(|shop| shop.instruments.values().any(|own| own.kind == kind));
    for (kind, places) in kinds.iter().filter(|(kind, places)| places.len() == 1 && !has(kind)) {
        let others = kinds.iter().filter(|(_, places)| places.len() > 1).map(|(other, _)| *other);
        if let Some(near) = Near::of(kind, others).filter(|near| near.certain) {
            let message = format!("nothing else is read with a `{kind}`");
            problems.push(Diagnostic::warning(Code::MissingInstrument, places[0], message).meant(kind, &near));
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
                if let Some(with) = field.of_instrument() {
                    kinds.entry(with.value.clone()).or_insert_with(|| with.place.clone());
                }
            }
        }
    }
    let known: Vec<&str> = shop.people.values().flat_map(|person| &person.roles).map(String::as_str).collect();
    for (role, place) in roles.iter().filter(|(role, _)| !known.contains(&role.as_str())) {
        let message = format!("nobody in the shop `{}` is `{role}`, which `{}` asks for", shop.id, tree.root.id.value);
        let problem = Diagnostic::warning(Code::VacantRole, place, message);
        let otherwise = format!("give somebody in the shop file the role: `roles: [{role}]`");
        problems.push(problem.nearest(role, known.iter().copied(), otherwise).unsure());
    }
    let known: Vec<&str> = shop.instruments.values().map(|instrument| instrument.kind.as_str()).collect();
    for (kind, place) in kinds.iter().filter(|(kind, _)| !known.contains(&kind.as_str())) {
        let message = format!("the shop `{}` has no `{kind}`, with which `{}` reads", shop.id, tree.root.id.value);
        let problem = Diagnostic::warning(Code::MissingInstrument, place, message);
        let otherwise = format!("add an instrument with `kind: {kind}` to the shop file");
        problems.push(problem.nearest(kind, known.iter().copied(), otherwise).unsure());
    }
}
