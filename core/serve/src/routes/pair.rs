//! A device comes in: it gives a code that was shown to somebody here.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{RawQuery, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde_json::json;

use super::{Sent, get_field};
use crate::App;
use crate::devices::Closed;
use crate::guard::{Remote, paired};
use crate::page;

/// The form. A code that stands in the address is filled in; only sending it uses it up.
pub async fn form(State(app): State<Arc<App>>, RawQuery(query): RawQuery) -> Response {
    let query = query.unwrap_or_default();
    let code =
        form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == "code").map(|(_, code)| code.into_owned());
    shown(&app, StatusCode::OK, &code.unwrap_or_default(), "", false)
}

fn shown(app: &App, status: StatusCode, code: &str, says: &str, who: bool) -> Response {
    let people = if who { &app.people[..] } else { &[] };
    let page = json!({ "title": "Let this device in", "code": code, "says": says, "people": people });
    page::show(app, status, "pair.html", &page)
}

pub async fn pair(
    State(app): State<Arc<App>>,
    Extension(Remote(remote)): Extension<Remote>,
    Sent(fields): Sent,
) -> Response {
    let code = get_field(&fields, "code");
    let person = Some(get_field(&fields, "person")).filter(|id| app.people.iter().any(|person| person.id == *id));
    let now = standpipe_job::Moment::now().to_string();
    match app.devices.pair(code, person, remote.ip(), &now) {
        Ok(cookie) => {
            let device = app.devices.of(&cookie);
            let whose = device.as_ref().and_then(|device| device.person.as_deref()).unwrap_or("nobody's own");
            app.log(&format!("paired a device from {}: {whose}", remote.ip()));
            paired(&app, &cookie)
        }
        Err(Closed::WhoIsIt) => shown(&app, StatusCode::OK, code, "", true),
        Err(Closed::Wrong) => {
            app.log(&format!("a wrong code from {}", remote.ip()));
            shown(
                &app,
                StatusCode::FORBIDDEN,
                "",
                "That code is not known, was used, or is older than 10 minutes.",
                false,
            )
        }
        Err(Closed::TooMany) => {
            app.log(&format!("pairing is closed for {}", remote.ip()));
            let says = "Too many wrong codes. Restart the server to pair further devices.";
            shown(&app, StatusCode::TOO_MANY_REQUESTS, "", says, false)
        }
        Err(Closed::Unwritten) => {
            let says = "The list of devices can't be written. Nothing has changed.";
            shown(&app, StatusCode::INTERNAL_SERVER_ERROR, code, says, false)
        }
    }
}
