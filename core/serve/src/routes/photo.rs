//! Photos: taken in as evidence, and shown again.

use std::sync::Arc;
use std::time::Duration;

use axum::Extension;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::response::{IntoResponse, Response};

use super::{PHOTO, bytes, job};
use crate::App;
use crate::guard::Visitor;
use crate::keeper::Told;
use crate::multipart;
use crate::page;
use crate::said::Fields;

/// What is no picture by its first bytes is none, whatever it is called. No SVG: that may hold a script.
fn kind_of(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some(("image/jpeg", "jpg")),
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Some(("image/png", "png")),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(("image/webp", "webp")),
        _ => None,
    }
}

pub async fn take(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
    headers: HeaderMap,
    body: Body,
) -> Response {
    let whole = match bytes(body, PHOTO, Duration::from_secs(60)).await {
        Ok(whole) => whole,
        Err((status, why)) => return page::plain(&app, status, "Not taken", why),
    };
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let Some(parts) = multipart::read(kind, &whole) else {
        return page::plain(&app, StatusCode::BAD_REQUEST, "Not taken", "That form holds no photo.");
    };
    let fields: Fields = parts.iter().filter(|part| part.file.is_none()).map(|part| part.field()).collect();
    let photo = parts.iter().find(|part| part.file.is_some() && !part.bytes.is_empty());
    let Some((photo, (_, end))) = photo.and_then(|photo| Some((photo, kind_of(photo.bytes)?))) else {
        let says = "That is not a photo: JPEG, PNG or WebP is taken. Set the camera to JPEG, or take a picture of the picture.";
        return page::plain(&app, StatusCode::UNSUPPORTED_MEDIA_TYPE, "Not taken", says);
    };
    let by = match job::speaker(&app, &device, &fields) {
        Ok(by) => by,
        Err(why) => return page::plain(&app, StatusCode::UNPROCESSABLE_ENTITY, "Not taken", why),
    };
    let Some(keeper) = job::keeper(&app, &id).await else { return job::no_such(&app) };
    let asks = fields.iter().find(|(name, asks)| name == "asks" && !asks.is_empty()).map(|(_, asks)| asks.clone());
    // The name that a phone gives says nothing, and may say too much.
    let name = format!("{}.{end}", standpipe_job::Moment::now().strftime("%Y-%m-%d-%H%M%S"));
    match keeper.photo(name, photo.bytes.to_vec(), asks, by).await {
        Told::Kept => page::to(&format!("/job/{id}")),
        Told::Refused { words, .. } => {
            page::plain(&app, StatusCode::UNPROCESSABLE_ENTITY, "Not taken", &words.join(". "))
        }
        Told::Late { .. } => page::plain(
            &app,
            StatusCode::CONFLICT,
            "Too late",
            "Something else is asked by now. The photo was not attached.",
        ),
        Told::Fault(why) | Told::Held(why) => page::plain(&app, StatusCode::INTERNAL_SERVER_ERROR, "Not kept", &why),
        Told::Busy | Told::Awaits => page::plain(&app, StatusCode::SERVICE_UNAVAILABLE, "Not kept", "Try again."),
    }
}

pub async fn show(State(app): State<Arc<App>>, Path((id, hash)): Path<(String, String)>) -> Response {
    let known = hash.len() == 64 && hash.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'a'..=b'f'));
    let shelf = app.clone();
    let read = move || {
        let folder = shelf.shelf.place(&id)?.folder;
        standpipe_disk::bytes(&folder.join("evidence").join(hash), PHOTO as u64).ok()
    };
    let bytes = if known { tokio::task::spawn_blocking(read).await.ok().flatten() } else { None };
    let Some((bytes, (kind, _))) = bytes.and_then(|bytes| {
        let kind = kind_of(&bytes)?;
        Some((bytes, kind))
    }) else {
        return page::plain(&app, StatusCode::NOT_FOUND, "No such photo", "There is no photo under this address.");
    };
    let policy = HeaderValue::from_static("default-src 'none'; sandbox");
    let headers = [(header::CONTENT_TYPE, HeaderValue::from_static(kind)), (header::CONTENT_SECURITY_POLICY, policy)];
    (headers, bytes).into_response()
}
