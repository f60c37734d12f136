//! Card, record, the customer's page and audit of a job. They are made from what lies on the disk at the moment they are asked for, never from what
//! the server remembers.

use std::path::Path as File;
use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;

use crate::App;
use crate::page;
use crate::shelf::Place;
use standpipe_audit::{Asked, audit};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Kept, Plan, build};
use standpipe_job::{Hold, OpenJob};
use standpipe_report::history::Earlier;
use standpipe_report::{audit as audited, card, customer, page as paper, record};

/// Wide enough for a phone held upright.
const COLUMNS: usize = 60;

enum Drawn {
    Page(String),
    Text(String),
}

pub async fn show(State(app): State<Arc<App>>, Path((id, which)): Path<(String, String)>) -> Response {
    let shelf = app.clone();
    let (job, wanted) = (id.clone(), which.clone());
    let drawn = tokio::task::spawn_blocking(move || {
        let place = shelf.shelf.place(&job).ok_or_else(|| "There is no job of that name here.".to_owned())?;
        match wanted.as_str() {
            "card" => drawn_card(&shelf, &place),
            "record" => drawn_record(&place, false),
            "customer" => drawn_record(&place, true),
            "audit" => {
                let found = audit(&place.folder, &Asked::default(), &mut Kept::default());
                Ok(Drawn::Text(audited::text(&[found], COLUMNS, false)))
            }
            _ => Err("There is nothing under this address.".to_owned()),
        }
    });
    match drawn.await {
        Ok(Ok(Drawn::Page(text))) => page::paper(&text, &id, &which),
        Ok(Ok(Drawn::Text(text))) => {
            let page =
                serde_json::json!({ "title": format!("Audit of {id}"), "text": text, "back": format!("/job/{id}") });
            page::show(&app, StatusCode::OK, "message.html", &page)
        }
        Ok(Err(why)) => page::plain(&app, StatusCode::NOT_FOUND, &format!("No {which}"), &why),
        Err(_) => page::plain(&app, StatusCode::INTERNAL_SERVER_ERROR, "Not drawn", "A defect of the program."),
    }
}

fn drawn_card(app: &App, place: &Place) -> Result<Drawn, String> {
    let mut problems = Problems::new();
    let plan: Plan = match &place.file {
        Some(file) => {
            let inputs = app.shelf.inputs(file).map_err(|faults| words(&faults))?;
            build(inputs, &mut problems).ok_or_else(|| words(&problems))?
        }
        None => opened(&place.folder)?.plan().clone(),
    };
    let view = card::view(&plan, &Earlier::look(&plan, Some(app.shelf.folder())));
    paper::card(&view).map(Drawn::Page).map_err(|fault| fault.to_string())
}

fn drawn_record(place: &Place, for_customer: bool) -> Result<Drawn, String> {
    let job = opened(&place.folder)?;
    let found = audit(&place.folder, &Asked::default(), &mut Kept::default());
    let view = record::view(job.machine(), job.records(), Some(&job.seal()), Some(&place.folder)).checked(&found);
    let page = if for_customer { paper::customer(&customer::view(&view, job.plan())) } else { paper::record(&view) };
    page.map(Drawn::Page).map_err(|fault| fault.to_string())
}

fn opened(folder: &File) -> Result<OpenJob, String> {
    OpenJob::open(folder, Hold::Look).map_err(|problems| words(&problems))
}

fn words(problems: &Problems) -> String {
    problems.iter().map(|problem| problem.message.clone()).collect::<Vec<_>>().join("; ")
}
