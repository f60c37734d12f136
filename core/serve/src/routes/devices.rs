//! Which devices may come in: others are let in and shut out from one that was paired at the console.

use std::sync::Arc;

use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap};
use axum::response::Response;
use fast_qr::qr::QRBuilder;
use serde_json::json;

use super::{Sent, get_field};
use crate::App;
use crate::devices::Device;
use crate::guard::Visitor;
use crate::page;

pub async fn list(State(app): State<Arc<App>>, Extension(Visitor { device }): Extension<Visitor>) -> Response {
    shown(&app, &device, None, "")
}

fn shown(app: &App, device: &Device, code: Option<(String, String, String)>, says: &str) -> Response {
    if !device.lets_in {
        let says = "Devices are let in from one that was paired with the code of the console.";
        return page::plain(app, StatusCode::FORBIDDEN, "Not from here", says);
    }
    let name = |id: &String| app.people.iter().find(|person| person.id == *id).map_or(id.clone(), |it| it.name.clone());
    let devices: Vec<_> = app
        .devices
        .all()
        .into_iter()
        .map(|one| {
            json!({
                "id": one.id, "since": one.since, "lets_in": one.lets_in, "this": one.id == device.id,
                "whose": one.person.as_ref().map(name),
            })
        })
        .collect();
    let code = code.map(|(code, whose, host)| {
        let address = format!("{}://{host}/pair?code={code}", app.scheme());
        let here = host.starts_with("127.") || host.starts_with("localhost") || host.starts_with("[::1]");
        json!({ "code": code, "whose": whose, "address": address, "picture": picture(&address), "here": here })
    });
    let page = json!({ "title": "Devices", "devices": devices, "people": app.people, "code": code, "says": says });
    page::show(app, StatusCode::OK, "devices.html", &page)
}

pub async fn change(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    headers: HeaderMap,
    Sent(fields): Sent,
) -> Response {
    // Where it listens on all addresses, the one that this page was asked for by is known to lead here.
    let host = match app.address.ip().is_unspecified() {
        true => headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default().to_owned(),
        false => app.address.to_string(),
    };
    if !device.lets_in {
        return shown(&app, &device, None, "");
    }
    let withdraw = get_field(&fields, "withdraw");
    if !withdraw.is_empty() {
        let says = match app.devices.withdraw(withdraw) {
            Ok(()) => {
                app.log(&format!("{withdraw} is shut out"));
                "That device is shut out."
            }
            Err(_) => "The list of devices can't be written. Nothing has changed.",
        };
        return shown(&app, &device, None, says);
    }
    let whose = get_field(&fields, "for");
    match app.people.iter().find(|person| person.id == whose) {
        Some(person) => {
            let code = app.devices.code_for(Some(person.id.clone()));
            shown(&app, &device, Some((code, person.name.clone(), host)), "")
        }
        None if whose == "shared" => {
            let code = app.devices.code_for(None);
            shown(&app, &device, Some((code, "one that several use".to_owned(), host)), "")
        }
        None => shown(&app, &device, None, "Say first whose device it is."),
    }
}

/// The dark modules as one path, and how many modules wide it is, with the quiet zone of four that the code needs.
/// ISO/IEC 18004 asks for that zone.
fn picture(text: &str) -> Option<(String, usize)> {
    const QUIET: usize = 4;
    let code = QRBuilder::new(text).build().ok()?;
    let mut path = String::new();
    for y in 0..code.size {
        for x in 0..code.size {
            if code[y][x].value() {
                path.push_str(&format!("M{} {}h1v1h-1z", x + QUIET, y + QUIET));
            }
        }
    }
    Some((path, code.size + 2 * QUIET))
}
