//! The list of jobs.

use std::sync::Arc;
use std::time::Duration;

use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::json;

use crate::App;
use crate::guard::Visitor;
use crate::page;
use crate::streams::Told;

/// Nobody reads a list that changes more often, and each change is another page for each who shows it.
const GAP: Duration = Duration::from_secs(1);

pub async fn list(State(app): State<Arc<App>>, Extension(Visitor { device }): Extension<Visitor>) -> Response {
    let shelf = app.clone();
    let Ok(jobs) = tokio::task::spawn_blocking(move || shelf.shelf.list()).await else {
        return page::plain(&app, StatusCode::INTERNAL_SERVER_ERROR, "No list", "The list of jobs can't be made.");
    };
    let me = device.person.as_ref().and_then(|id| app.people.iter().find(|person| person.id == *id));
    let page = json!({
        "title": format!("Jobs - {}", app.shop), "shop": app.shop, "jobs": jobs, "me": me,
        "opens": me.is_some_and(|me| app.books.offers(me)), "lets_in": device.lets_in, "live": "/live", "now": standpipe_job::Moment::now(),
    });
    page::show(&app, StatusCode::OK, "jobs.html", &page)
}

pub async fn live(State(app): State<Arc<App>>, Extension(Visitor { device }): Extension<Visitor>) -> Response {
    let (known, id) = (app.clone(), device.id.clone());
    let told = Told::of(app.shelf.changes(), GAP, u64::to_string);
    let stream = app.streams.of(&device.id, told, move || known.devices.is_known(&id));
    stream.unwrap_or_else(|| StatusCode::TOO_MANY_REQUESTS.into_response())
}

pub async fn nowhere(State(app): State<Arc<App>>) -> Response {
    page::plain(&app, StatusCode::NOT_FOUND, "No such page", "There is nothing under this address.")
}
