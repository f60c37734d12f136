//! A new job by the questions of its form, opened by whoever may accept something in it.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{RawQuery, State};
use axum::http::StatusCode;
use axum::response::Response;
use indexmap::IndexMap;
use serde::Serialize;
use serde_json::{Value as Json, json};

use super::{Sent, get_field};
use crate::App;
use crate::guard::Visitor;
use crate::page;
use crate::said::{Fields, too_long, with_unit};
use crate::view::Person;
use standpipe_diagnostic::{Diagnostic, Problems};
use standpipe_drivers::setting::symbol;
use standpipe_drivers::{JobKind, NewJob};
use standpipe_form::{Field, Kind, Variant};
use standpipe_job::plan::Parsed;
use standpipe_library::{Files, Kind as File};

/// What new jobs are made of.
#[derive(Clone)]
pub struct Books {
    /// Reads plugins and units as they are now.
    pub read: Arc<dyn Fn(&mut Problems) -> Parsed + Send + Sync>,
    /// The shop's file, which new jobs name.
    pub shop: Option<std::path::PathBuf>,
    /// Units that the shop likes to see.
    pub style: standpipe_quantity::Style,
    /// Roles in which somebody may accept something in one procedure or another.
    pub roles: Vec<String>,
}

impl Books {
    /// What ships, which nobody may open jobs of.
    pub fn built_in() -> Self {
        let read = |problems: &mut Problems| Parsed::new(Files::built_in(), problems);
        Self { read: Arc::new(read), shop: None, style: Default::default(), roles: Vec::new() }
    }

    /// Whether somebody is offered to open a job at all.
    pub fn offers(&self, person: &Person) -> bool {
        person.roles.iter().any(|role| self.roles.contains(role))
    }
}

#[derive(Serialize)]
struct Offer {
    /// Family and procedure, as a form sends them.
    of: String,
    family: String,
    procedure: String,
}

/// One question of a form, as it is asked.
#[derive(Serialize)]
struct Question {
    path: String,
    ask: String,
    help: Option<String>,
    expected: String,
    wanted: bool,
    options: Vec<String>,
    units: Vec<(String, String)>,
    unit: String,
    keys: &'static str,
    value: String,
    faults: Vec<String>,
    /// It was sent once and is hardly possible: the same again keeps it.
    sure: bool,
}

enum Made {
    Page(StatusCode, Json),
    Opened(String),
    Refused(StatusCode, String),
}

pub async fn form(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    RawQuery(query): RawQuery,
) -> Response {
    let fields = form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    answered(app, device.person, fields, false).await
}

pub async fn open(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Sent(fields): Sent,
) -> Response {
    answered(app, device.person, fields, true).await
}

async fn answered(app: Arc<App>, person: Option<String>, fields: Fields, sent: bool) -> Response {
    let known = app.people.iter().find(|known| person.as_deref() == Some(&known.id)).cloned();
    let Some(person) = known.filter(|person| app.books.offers(person)) else {
        let says = "A job is opened on a device of one's own, by somebody who may accept what turns out otherwise.";
        return page::plain(&app, StatusCode::FORBIDDEN, "Not from here", says);
    };
    let shared = app.clone();
    // Plugins are read anew, and what is read stays on its thread.
    let made = tokio::task::spawn_blocking(move || made(&shared, &person, &fields, sent)).await;
    match made {
        Ok(Made::Page(status, page)) => page::show(&app, status, "new.html", &page),
        Ok(Made::Opened(id)) => page::to(&format!("/job/{id}")),
        Ok(Made::Refused(status, why)) => page::plain(&app, status, "Not opened", &why),
        Err(_) => page::plain(&app, StatusCode::INTERNAL_SERVER_ERROR, "Not opened", "A defect of the program."),
    }
}

fn made(app: &App, person: &Person, fields: &Fields, sent: bool) -> Made {
    let parsed = (app.books.read)(&mut Problems::new());
    let offers = offers(&parsed);
    let of = get_field(fields, "of");
    if of.is_empty() {
        return Made::Page(StatusCode::OK, json!({ "title": "A new job", "offers": offers }));
    }
    let Some(offer) = offers.into_iter().find(|offer| offer.of == of) else {
        return Made::Refused(StatusCode::NOT_FOUND, "There is no such work here.".to_owned());
    };
    let (family, procedure) = of.split_once(' ').unwrap_or((of, ""));
    let variant = Some(get_field(fields, "variant")).filter(|variant| !variant.is_empty());
    let named = variant.map_or_else(|| family.to_owned(), |variant| format!("{family}/{variant}"));
    let kind = match JobKind::of(&parsed, &named) {
        Ok(kind) => kind,
        Err(fault) => return Made::Refused(StatusCode::UNPROCESSABLE_ENTITY, words(&fault).join(". ")),
    };
    let (mut known, mut questions) = (IndexMap::new(), Vec::new());
    for (path, field) in &kind.form.job {
        let (question, value) = asked(app, &parsed, path, field, fields);
        known.extend(value.map(|value| (path.clone(), value)));
        questions.push(question);
    }
    let id = get_field(fields, "id").trim();
    let mut refusal = Vec::new();
    if sent {
        let file = app.shelf.folder().join(format!("{id}.yaml"));
        refusal.extend(too_long(fields));
        let number = NewJob::number(id).and_then(|()| NewJob::free(&file));
        refusal.extend(number.err().map(|fault| words(&fault)).unwrap_or_default());
        let is_sound = refusal.is_empty() && questions.iter().all(|question| question.faults.is_empty());
        if is_sound {
            let job = NewJob { id, kind: &kind, procedure, shop: app.books.shop.as_deref(), known };
            match job.write(&file) {
                Ok(()) => {
                    app.log(&format!("{} opened job {id}", person.id));
                    return Made::Opened(app.shelf.opened(&file));
                }
                Err(fault) => refusal.extend(words(&fault)),
            }
        } else if refusal.is_empty() {
            refusal.push("look at what is marked below".to_owned());
        }
    }
    let status = if sent { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let variants = kind
        .family
        .variants
        .values()
        .map(|it| (&it.id, it.title.clone().unwrap_or_else(|| it.id.replace('-', " ")), signs(it)));
    let page = json!({
        "title": "A new job", "offer": offer, "id": id, "questions": questions, "refusal": refusal,
        "variants": variants.collect::<Vec<_>>(), "variant": variant,
    });
    Made::Page(status, page)
}

/// Whole procedures for each family.
fn offers(parsed: &Parsed) -> Vec<Offer> {
    let mut quiet = Problems::new();
    let mut of_form: IndexMap<String, Vec<(String, String)>> = IndexMap::new();
    let mut offers = Vec::new();
    for document in parsed.library.documents(File::Family) {
        let Ok(kind) = JobKind::of(parsed, &document.id) else { continue };
        let procedures = of_form.entry(kind.form.id.clone()).or_insert_with(|| {
            let ids = parsed.procedures_for(&kind.form.id);
            let found = ids.iter().filter_map(|id| parsed.library.document(File::Procedure, id));
            let read = found.filter_map(|document| parsed.procedure(document, &mut quiet));
            read.map(|it| (it.id.value.clone(), it.title.clone())).collect()
        });
        offers.extend(procedures.iter().map(|(id, procedure)| Offer {
            of: format!("{} {id}", document.id),
            family: kind.family.title.clone().unwrap_or_else(|| document.id.clone()),
            procedure: procedure.clone(),
        }));
    }
    offers
}

/// What a variant is recognised by.
fn signs(variant: &Variant) -> String {
    let signs = variant.signs.iter().map(|(sign, value)| format!("{} {}", sign.replace('_', " "), value.words()));
    signs.collect::<Vec<_>>().join(", ")
}

/// A question with what was answered to it, and the answer if it can be taken.
fn asked(app: &App, parsed: &Parsed, path: &str, field: &Field, fields: &Fields) -> (Question, Option<String>) {
    let units = match &field.kind {
        Kind::Quantity(of) | Kind::Range(of) => parsed.units.shown_units(of, &app.books.style),
        _ => Vec::new(),
    };
    let units: Vec<(String, String)> =
        units.iter().map(|unit| (unit.to_string(), symbol(&parsed.units, unit))).collect();
    let value = get_field(fields, &format!("f.{path}")).trim().to_owned();
    let unit = get_field(fields, &format!("u.{path}")).to_owned();
    let typed = with_unit(&value, Some(unit.as_str()).filter(|unit| !unit.is_empty()));
    let (mut faults, mut sure) = (Vec::new(), false);
    let taken = match Some(&typed).filter(|typed| !typed.is_empty()).map(|typed| field.read(typed, &parsed.units)) {
        None => None,
        Some(Ok(read)) => {
            let usual = field.usual(&read).filter(|_| get_field(fields, &format!("sure.{path}")) != typed);
            if let Some((low, high)) = usual {
                let usual = parsed.units.show_range(low, high, &app.books.style);
                faults.push(format!("that is far from the usual {usual}; send it again to keep it"));
                sure = true;
            }
            faults.is_empty().then(|| typed.clone())
        }
        Some(Err(unfit)) => {
            faults.extend([Some(unfit.message), unfit.help].into_iter().flatten());
            None
        }
    };
    let question = Question {
        path: path.to_owned(),
        ask: field.question(),
        help: field.help.clone(),
        // A text needs no explanation, and a number none where its unit stands beside it.
        expected: if matches!(field.kind, Kind::Text) || !units.is_empty() { String::new() } else { field.expected() },
        wanted: field.required,
        options: field.options(),
        units,
        unit,
        keys: match field.kind {
            Kind::Quantity(_) | Kind::Number => "decimal",
            Kind::Count => "numeric",
            _ => "text",
        },
        // What is sure is sure of the whole, with its unit.
        value: if sure { typed } else { value },
        faults,
        sure,
    };
    (question, taken)
}

fn words(fault: &Diagnostic) -> Vec<String> {
    let expected = fault.expected.as_ref().map(|text| format!("Expected: {text}"));
    [Some(fault.message.clone()), expected, fault.help.clone()].into_iter().flatten().collect()
}
