//! Which address leads to which page.

mod devices;
mod job;
mod jobs;
mod new;
mod pair;
mod papers;
mod photo;
mod sign;

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use axum::routing::{get, post};

use crate::App;
use crate::guard::guard;
use crate::page;
use crate::said::Fields;
use standpipe_diagnostic::Problems;
use standpipe_job::{Hold, OpenJob};

pub use new::Books;

/// Of a form; a person types less.
const FORM: usize = 64 << 10;
/// Of a photo.
const PHOTO: usize = 8 << 20;

pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(jobs::list))
        .route("/live", get(jobs::live))
        .route("/job/{id}", get(job::show))
        .route("/job/{id}/in", post(job::said))
        .route("/job/{id}/live", get(job::live))
        .route("/job/{id}/photo", post(photo::take))
        .route("/job/{id}/photo/{hash}", get(photo::show))
        .route("/job/{id}/sign", get(sign::show).post(sign::take))
        .route("/job/{id}/{paper}", get(papers::show))
        .route("/new", get(new::form).post(new::open))
        .route("/pair", get(pair::form).post(pair::pair))
        .route("/devices", get(devices::list).post(devices::change))
        .route("/style.css", get(|| async { page::asset("text/css; charset=utf-8", page::style()) }))
        .route("/bay.js", get(|| async { page::asset("text/javascript; charset=utf-8", page::SCRIPT.to_owned()) }))
        .route("/sign.js", get(|| async { page::asset("text/javascript; charset=utf-8", page::SIGNS.to_owned()) }))
        .route("/favicon.ico", get(|| async { StatusCode::NO_CONTENT }))
        .fallback(jobs::nowhere)
        .layer(from_fn_with_state(app.clone(), guard))
        .with_state(app)
}

/// The fields of a form that was sent, as far as it may be long and late.
struct Sent(Fields);

impl FromRequest<Arc<App>> for Sent {
    type Rejection = Response;

    async fn from_request(request: Request, app: &Arc<App>) -> Result<Self, Response> {
        let bytes = bytes(request.into_body(), FORM, Duration::from_secs(10)).await;
        let bytes = bytes.map_err(|(status, why)| page::plain(app, status, "Not taken", why))?;
        Ok(Self(form_urlencoded::parse(&bytes).into_owned().collect()))
    }
}

async fn bytes(body: Body, most: usize, patience: Duration) -> Result<Bytes, (StatusCode, &'static str)> {
    match tokio::time::timeout(patience, to_bytes(body, most)).await {
        Ok(Ok(bytes)) => Ok(bytes),
        Ok(Err(_)) => Err((StatusCode::PAYLOAD_TOO_LARGE, "that is too much at once, or it was cut off")),
        Err(_) => Err((StatusCode::REQUEST_TIMEOUT, "that took too long")),
    }
}

fn get_field<'a>(fields: &'a Fields, name: &str) -> &'a str {
    fields.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str()).unwrap_or_default()
}

/// The job in this folder as it lies there, to be looked at.
fn opened(folder: &Path) -> Result<OpenJob, String> {
    OpenJob::open(folder, Hold::Look).map_err(|problems| words(&problems))
}

fn words(problems: &Problems) -> String {
    problems.iter().map(|problem| problem.message.clone()).collect::<Vec<_>>().join("; ")
}
