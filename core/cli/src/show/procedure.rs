//! One procedure as work, overlays of the shop laid over it.

use indexmap::IndexMap;
use serde_json::json;

use super::{Found, Known, Shown, absent};
use standpipe_check::Stock;
use standpipe_check::course::{Course, Stop, Way, course};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_form::Facts;
use standpipe_procedure::{Evidence, Field, FieldKind, Gate, Step, Template};
use standpipe_quantity::{Style, Units};
use standpipe_report::outline::{self, Condition, Given, LeftOut, Limit, OutlineView, Read, Said};
use standpipe_report::{page, words};
use standpipe_yaml::At;

/// What belongs to the page and not to the procedure.
pub(super) struct Wanted<'a> {
    /// Only what concerns this family, or this variant of it.
    pub family: Option<&'a At<String>>,
    pub width: usize,
    pub colour: bool,
}

pub(super) fn show(id: &At<String>, wanted: &Wanted<'_>, known: Known<'_>, problems: &mut Problems) -> Found {
    let Known { parsed, mut overlays, places, .. } = known;
    let mut found = Problems::new();
    let stock = Stock::read(parsed, &mut overlays, &mut found);
    let Some(course) = course(&stock, id) else {
        // One that is there and can't be read says so itself.
        let own = |problem: &Diagnostic| problem.place.name().ends_with(&format!("/procedures/{}.yaml", id.value));
        problems.extend(found.into_iter().filter(own));
        return Err(absent("procedure", id, nearest(id, stock.procedures.keys().map(String::as_str))));
    };
    let ways = ways(&course, wanted.family)?;
    let view = view(id, &stock, &course, &ways);
    let html = page::outline(&view).map_err(|fault| {
        Box::new(Diagnostic::error(Code::FaultyPage, &id.place, fault.to_string()).help("tell who made the program"))
    })?;
    Ok(Shown { text: outline::text(&view, places, wanted.width, wanted.colour), json: json!(view), html: Some(html) })
}

fn ways<'a>(course: &'a Course<'a>, family: Option<&At<String>>) -> Result<Vec<&'a Way<'a>>, Box<Diagnostic>> {
    let named = |way: &Way<'_>| family.is_none_or(|id| *id.value == name(way) || id.value == way.family.id);
    let ways: Vec<&Way<'_>> = course.ways.iter().filter(|way| named(way)).collect();
    match family {
        Some(id) if ways.is_empty() => {
            let known: Vec<String> = course.ways.iter().map(name).collect();
            Err(absent("family", id, nearest(id, known.iter().map(String::as_str))))
        }
        _ => Ok(ways),
    }
}

fn name(way: &Way<'_>) -> String {
    match way.variant {
        Some(variant) => format!("{}/{variant}", way.family.id),
        None => way.family.id.clone(),
    }
}

fn view(id: &At<String>, stock: &Stock, course: &Course<'_>, ways: &[&Way<'_>]) -> OutlineView {
    let root = &stock.procedures[id.as_str()];
    let outer = |around: &[&str]| {
        let mut deepest = None;
        let mut ids = Vec::new();
        for stop in &course.stops {
            let inside = deepest.is_some_and(|depth| stop.depth > depth);
            if !inside {
                deepest = around.contains(&stop.step.id.as_str()).then_some(stop.depth);
                ids.extend(deepest.map(|_| stop.step.id.value.clone()));
            }
        }
        ids
    };
    let mut families: Vec<outline::Way> = Vec::new();
    for way in ways {
        let (steps, around) = (course.stops.len() - way.around.len(), outer(&way.around));
        match families.iter_mut().find(|known| known.around == around && known.lacks == way.lacks) {
            Some(known) => known.of.push(name(way)),
            None => families.push(outline::Way { of: vec![name(way)], steps, around, lacks: way.lacks.clone() }),
        }
    }
    OutlineView {
        procedure: root.id.value.clone(),
        title: root.title.clone(),
        invented: root.invented,
        form: course.form.map(|form| form.id.clone()),
        reachable: root.reachable.iter().map(|id| id.value.clone()).collect(),
        on_pause: root.on_pause.as_ref().map(|id| id.value.clone()),
        on_resume: root.on_resume.as_ref().map(|id| id.value.clone()),
        steps: nested(&mut course.stops.iter().peekable(), 0, &|stop| told(stop, stock, ways)),
        left_out: course
            .left_out
            .iter()
            .map(|gone| LeftOut {
                step: gone.step.id.value.clone(),
                place: gone.step.place.clone(),
                changed: gone.mark.clone(),
            })
            .collect(),
        families,
    }
}

/// Steps of one depth, each with the deeper ones that follow it.
fn nested<'a>(
    stops: &mut std::iter::Peekable<std::slice::Iter<'a, Stop<'a>>>,
    depth: usize,
    told: &dyn Fn(&Stop<'_>) -> outline::Step,
) -> Vec<outline::Step> {
    let mut steps = Vec::new();
    while let Some(stop) = stops.next_if(|stop| stop.depth == depth) {
        let mut step = told(stop);
        step.steps = nested(stops, depth + 1, told);
        steps.push(step);
    }
    steps
}

fn told(stop: &Stop<'_>, stock: &Stock, ways: &[&Way<'_>]) -> outline::Step {
    let step = stop.step;
    let cautions = step.caution.iter().filter_map(|id| stop.procedure.cautions.get(id.as_str()));
    outline::Step {
        step: step.id.value.clone(),
        title: filled(&step.title),
        kind: step.kind.word(),
        does: step.kind.summary(),
        keep: step.keep,
        when: step.when.as_ref().map(|when| one_line(when.text())),
        gate: step.gate.as_ref().map(|gate| told_gate(gate, stop, stock, ways)),
        reads: stop.reads.iter().map(|read| Read { name: read.name.clone(), from: read.from.clone() }).collect(),
        gives: given(step),
        witness: step.witness.as_ref().map(filled),
        cautions: cautions.map(|text| text.value.clone()).collect(),
        evidence: step.evidence.map(Evidence::words),
        stale: {
            let age = step.stale.age.iter().map(|age| stock.units.show(&age.0, &Style::default()));
            age.chain(step.stale.events.iter().cloned()).collect()
        },
        raises: step.raises.iter().map(|event| event.value.clone()).collect(),
        undoes: step.undoes.iter().map(|id| id.value.clone()).collect(),
        changed: step.marks.clone(),
        place: step.place.clone(),
        steps: Vec::new(),
    }
}

fn told_gate(gate: &Gate, stop: &Stop<'_>, stock: &Stock, ways: &[&Way<'_>]) -> outline::Gate {
    let mut limits: Vec<Limit> = Vec::new();
    for name in gate.must.names(&stock.scripts).filter(|name| name.path[0] == "spec") {
        let field = match &name.path[1..] {
            [path @ .., end] if end == "low" || end == "high" => path.join("."),
            path => path.join("."),
        };
        if limits.iter().all(|known| known.field != field) {
            limits.extend(limit(field, stop, &stock.units, ways));
        }
    }
    outline::Gate {
        must: one_line(&gate.words()),
        conditions: gate
            .must
            .parts()
            .map(|part| Condition { must: one_line(part.own_text()), place: part.place().clone() })
            .collect(),
        otherwise: gate.otherwise.words(),
        briefly: gate.otherwise.briefly(),
        at_stake: gate.at_stake.as_ref().map(filled),
        limits,
    }
}

/// What the families that come here say of a field.
fn limit(field: String, stop: &Stop<'_>, units: &Units, ways: &[&Way<'_>]) -> Option<Limit> {
    let mut of: IndexMap<String, Vec<String>> = IndexMap::new();
    for way in ways.iter().filter(|way| !way.around.contains(&stop.step.id.as_str())) {
        let facts: &Facts = way.family.known(way.variant);
        let known = facts.value(&field).filter(|value| !value.is_unknown());
        let shown = known.map_or("unknown".to_owned(), |value| units.show_value(value, &Style::default()));
        of.entry(shown).or_default().push(name(way));
    }
    let of: Vec<Said> = of.into_iter().map(|(shown, families)| Said { families, shown }).collect();
    (!of.is_empty()).then_some(Limit { field, of })
}

fn given(step: &Step) -> Vec<Given> {
    let fields = step.kind.fields();
    let mut all: Vec<Given> = fields
        .iter()
        .filter(|field| !matches!(field.kind, FieldKind::Done | FieldKind::Held))
        .map(|field| Given { name: field.name.value.clone(), is: of_field(field) })
        .collect();
    for name in step.kind.gives() {
        if fields.iter().all(|field| field.name.value != name.value) {
            let is = step.kind.sheet().map(|sheet| format!("by the sheet {}", sheet.value)).unwrap_or_default();
            all.push(Given { name: name.value.clone(), is });
        }
    }
    all
}

fn of_field(field: &Field) -> String {
    let is = match &field.kind {
        FieldKind::Quantity(quantity) => quantity.replace('-', " "),
        FieldKind::Sign(_) => "recognises the variant".to_owned(),
        _ => field.expected(),
    };
    match &field.instrument {
        Some(instrument) => format!("{is} by {}", instrument.value),
        None => is,
    }
}

/// Nothing is filled yet: what would stand there is called by name.
fn filled(template: &Template) -> String {
    template.fill(|path| format!("({})", words(&path.join("."))))
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
