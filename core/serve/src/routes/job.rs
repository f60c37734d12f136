//! One job: the step as it stands, and what is said to it.

use std::sync::Arc;
use std::time::Duration;

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::json;

use super::{Sent, get_field};
use crate::App;
use crate::devices::Device;
use crate::guard::Visitor;
use crate::keeper::{Keeper, Speaker, Told};
use crate::page;
use crate::said::{self, Fields, Wanted};
use crate::step::{self, Refusal};
use crate::streams;
use crate::view::View;

/// The keeper of a job, and what it shows. Starting one reads the disk.
pub(super) async fn keeper(app: &Arc<App>, id: &str) -> Option<Keeper> {
    // At once where it can: what reads the disk may have to wait for others that do.
    if let Some(keeper) = app.shelf.running(id) {
        return Some(keeper);
    }
    let (app, id) = (app.clone(), id.to_owned());
    tokio::task::spawn_blocking(move || app.shelf.keeper(&id)).await.ok().flatten()
}

/// The newest view; a keeper that was just started takes a moment to make its first. None: there is no journal.
pub(super) async fn view(keeper: &Keeper) -> Option<Arc<View>> {
    let mut views = keeper.views.clone();
    let _ = tokio::time::timeout(Duration::from_secs(20), views.wait_for(Option::is_some)).await;
    views.borrow().clone()
}

pub async fn show(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
) -> Response {
    drawn(&app, &device, &id, StatusCode::OK, Refusal::default()).await
}

async fn drawn(app: &Arc<App>, device: &Device, id: &str, status: StatusCode, refusal: Refusal) -> Response {
    let place = if app.shelf.running(id).is_some() {
        None
    } else {
        let (shared, of) = (app.clone(), id.to_owned());
        let place = tokio::task::spawn_blocking(move || shared.shelf.place(&of)).await.ok().flatten();
        let Some(place) = place else { return no_such(app) };
        Some(place)
    };
    if let Some(place) = place.filter(|place| place.file.is_some()) {
        let (shared, of) = (app.clone(), id.to_owned());
        let listed = tokio::task::spawn_blocking(move || shared.shelf.listed(of, &place)).await.ok();
        let page = json!({
            "title": id, "id": id, "listed": listed, "form": format!("{:032x}", crate::random::number()), "new": true,
            "refusal": refusal, "said_by": if device.person.is_none() { &app.people[..] } else { &[] },
        });
        return page::show(app, status, "job.html", &page);
    }
    let Some(keeper) = keeper(app, id).await else { return no_such(app) };
    match view(&keeper).await {
        Some(view) => {
            let to_sign = super::sign::waiting(&view, device).await;
            let reading = keeper.readings.borrow().clone();
            let page = step::page(&view, reading.as_deref(), (device, &app.devices), to_sign, refusal);
            page::show(app, status, "job.html", &page)
        }
        None => {
            let says = "The journal of this job can't be read. `standpipe audit` says why.";
            page::plain(app, StatusCode::INTERNAL_SERVER_ERROR, "This job can't be shown", says)
        }
    }
}

/// What is said of a name that no job has.
pub(super) const NO_SUCH: &str = "There is no job of that name here.";

pub(super) fn no_such(app: &App) -> Response {
    page::plain(app, StatusCode::NOT_FOUND, "No such job", NO_SUCH)
}

pub async fn said(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
    Sent(fields): Sent,
) -> Response {
    let refuse = |words: String, fields: Fields| Refusal { words: vec![words], fields, ..Refusal::default() };
    let said = match said::read(&fields) {
        Ok(said) => said,
        Err(why) => return drawn(&app, &device, &id, StatusCode::UNPROCESSABLE_ENTITY, refuse(why, fields)).await,
    };
    let by = match speaker(&app, &device, &fields) {
        Ok(by) => by,
        Err(why) => {
            return drawn(&app, &device, &id, StatusCode::UNPROCESSABLE_ENTITY, refuse(why.to_owned(), fields)).await;
        }
    };
    if let Some(why) = forbidden(&said.wanted, &by) {
        app.log(&format!("refused to {} at {}: {why}", by.person, by.device));
        return drawn(&app, &device, &id, StatusCode::FORBIDDEN, refuse(why.to_owned(), fields)).await;
    }
    let Some(keeper) = keeper(&app, &id).await else { return no_such(&app) };
    let told = keeper.say(said, by).await;
    let (status, refusal) = match told {
        Told::Kept | Told::Awaits => return page::to(&format!("/job/{id}")),
        Told::Refused { field, words } => {
            (StatusCode::UNPROCESSABLE_ENTITY, Refusal { words, field, fields, late: None })
        }
        Told::Late { since } => (StatusCode::CONFLICT, Refusal { late: Some(since), fields, ..Refusal::default() }),
        Told::Held(by) => (StatusCode::CONFLICT, refuse(by, fields)),
        Told::Fault(why) => (StatusCode::INTERNAL_SERVER_ERROR, refuse(format!("Not kept: {why}"), fields)),
        Told::Busy => {
            (StatusCode::SERVICE_UNAVAILABLE, refuse("Too much at once. Not kept: try again".to_owned(), fields))
        }
    };
    drawn(&app, &device, &id, status, refusal).await
}

/// Who says it: the device's own person, or whoever is said to on one that several use.
pub(super) fn speaker(app: &App, device: &Device, fields: &Fields) -> Result<Speaker, &'static str> {
    let (person, own) = match &device.person {
        Some(person) => (person.clone(), true),
        None => (get_field(fields, "by").to_owned(), false),
    };
    if !app.people.iter().any(|known| known.id == person) {
        return Err("say first who does this");
    }
    Ok(Speaker { device: device.id.clone(), own, person })
}

/// What counts only from a device of one's own.
fn forbidden(wanted: &Wanted, by: &Speaker) -> Option<&'static str> {
    match wanted {
        Wanted::Accept { .. } if !by.own => {
            Some("a verdict is accepted on a device of one's own, never on a shared one")
        }
        _ => None,
    }
}

pub async fn live(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
) -> Response {
    let Some(keeper) = keeper(&app, &id).await else { return StatusCode::NOT_FOUND.into_response() };
    let (known, of) = (app.clone(), device.id.clone());
    // The page asks for what it shows; the stream only says that there is something new.
    let say = |view: &Option<Arc<View>>| view.as_ref().map_or(0, |view| view.version).to_string();
    let drawn = app.clone();
    let told = streams::Told::of(keeper.views.clone(), Duration::ZERO, say)
        .and(keeper.readings.clone(), move |reading| page::reading(&drawn, reading.as_deref()));
    let stream = app.streams.of(&device.id, told, move || known.devices.is_known(&of));
    stream.unwrap_or_else(|| StatusCode::TOO_MANY_REQUESTS.into_response())
}
