//! Card, record, the customer's page and audit of a job. They are made from what lies on the disk at the moment they are asked for, never from what
//! the server remembers.

use std::cmp::Reverse;
use std::path::Path as File;
use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde_json::{Value as Json, json};

use super::job::NO_SUCH;
use super::{opened, words};
use crate::App;
use crate::page;
use crate::shelf::Place;
use standpipe_audit::{Asked, At, Audited, Point, Verdict, audit};
use standpipe_diagnostic::Problems;
use standpipe_job::plan::{Kept, Plan, build};
use standpipe_report::history::Earlier;
use standpipe_report::{card, customer, page as paper, record};

enum Drawn {
    Page(String),
    Audit(Json),
}

pub async fn show(State(app): State<Arc<App>>, Path((id, which)): Path<(String, String)>) -> Response {
    let shelf = app.clone();
    let (job, wanted) = (id.clone(), which.clone());
    let drawn = tokio::task::spawn_blocking(move || {
        let place = shelf.shelf.place(&job).ok_or_else(|| NO_SUCH.to_owned())?;
        match wanted.as_str() {
            "card" => drawn_card(&shelf, &place),
            "record" => drawn_record(&place, false),
            "customer" => drawn_record(&place, true),
            "audit" => {
                let found = audit(&place.folder, &Asked::default(), &mut Kept::default());
                Ok(Drawn::Audit(audited(&job, &found)))
            }
            _ => Err("There is nothing under this address.".to_owned()),
        }
    });
    match drawn.await {
        Ok(Ok(Drawn::Page(text))) => page::paper(&text, &id, &which),
        Ok(Ok(Drawn::Audit(page))) => page::show(&app, StatusCode::OK, "audit.html", &page),
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
    let mut earlier = Earlier::look(&plan, Some(app.shelf.folder()));
    // Where on the server that is concerns no device.
    earlier.folder = earlier.folder.and_then(|folder| Some(folder.file_name()?.into()));
    let view = card::view(&plan, &earlier);
    paper::card(&view).map(Drawn::Page).map_err(|fault| fault.to_string())
}

fn drawn_record(place: &Place, for_customer: bool) -> Result<Drawn, String> {
    let job = opened(&place.folder)?;
    let found = audit(&place.folder, &Asked::default(), &mut Kept::default());
    let view = record::view(job.machine(), job.records(), Some(&job.seal()), Some(&place.folder)).checked(&found);
    let page = if for_customer { paper::customer(&customer::view(&view, job.plan())) } else { paper::record(&view) };
    page.map(Drawn::Page).map_err(|fault| fault.to_string())
}

fn audited(id: &str, found: &Audited) -> Json {
    let mark = |verdict: Verdict| match verdict {
        Verdict::Holds => ("met", verdict.words()),
        Verdict::NotShown => ("open", verdict.words()),
        Verdict::DoesNotHold => ("bad", verdict.words()),
    };
    // Where the folder lies is for whoever runs the server.
    let place = |at: &At| {
        let file = File::new(&at.file).file_name().unwrap_or_default().to_string_lossy().into_owned();
        at.line.map_or_else(|| file.clone(), |line| format!("{file}, line {line}"))
    };
    // What does not hold first.
    let mut points: Vec<&Point> = found.points.iter().collect();
    points.sort_by_key(|point| Reverse(point.verdict));
    let points = points.into_iter().map(|point| {
        let findings = point.findings.iter().map(|it| json!({ "message": it.message, "place": place(&it.place) }));
        json!({
            "point": point.point, "verdict": mark(point.verdict), "looked_at": point.looked_at, "more": point.more,
            "findings": findings.collect::<Vec<_>>(),
        })
    });
    json!({
        "title": format!("Audit of {}", found.job), "id": id, "job": found.job, "subject": found.subject,
        "state": found.state, "events": found.events, "invented": found.invented, "simulated": found.simulated,
        "verdict": mark(found.verdict), "points": points.collect::<Vec<_>>(),
    })
}
