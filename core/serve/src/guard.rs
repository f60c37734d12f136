//! What stands before every page: the name that was asked for, the page that a form came from, and the device.
//!
//! A name can be made to mean this computer by whoever owns the name, and a page of theirs then counts as one of ours. So a
//! host is an address, or a name that the server was started with; and a form comes from a page of that very host.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::Extension;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::App;
use crate::devices::Device;
use crate::page;

/// Where a connection comes from.
#[derive(Clone, Copy, Debug)]
pub struct Remote(pub SocketAddr);

/// Who asks for a page.
#[derive(Clone, Debug)]
pub struct Visitor {
    pub device: Device,
}

pub const COOKIE: &str = "standpipe";

/// Pages run our script and show our style, and nothing else; nobody frames them; nothing of them is kept anywhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Names of hosts that this server goes by, beside its addresses.
#[derive(Clone, Debug, Default)]
pub struct Names(pub Vec<String>);

impl Names {
    fn know(&self, host: &str) -> bool {
        let name = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
            _ => host,
        };
        let bare = name.trim_start_matches('[').trim_end_matches(']');
        bare.parse::<IpAddr>().is_ok()
            || name.eq_ignore_ascii_case("localhost")
            || self.0.iter().any(|known| known.eq_ignore_ascii_case(name))
    }
}

pub async fn guard(
    State(app): State<Arc<App>>,
    Extension(Remote(remote)): Extension<Remote>,
    mut request: Request,
    next: Next,
) -> Response {
    let refused = refuse(&app, &request);
    let mut response = match refused {
        Some((status, why)) => {
            app.log(&format!("refused {} {} from {}: {why}", request.method(), request.uri().path(), remote.ip()));
            page::plain(&app, status, "Refused", why)
        }
        None => {
            let device = cookie(request.headers()).and_then(|cookie| app.devices.of(cookie));
            match device {
                Some(device) => {
                    request.extensions_mut().insert(Visitor { device });
                    next.run(request).await
                }
                None if is_for_all(request.uri().path()) => next.run(request).await,
                None => {
                    app.log(&format!("no device: {} {} from {}", request.method(), request.uri().path(), remote.ip()));
                    page::stranger(&app)
                }
            }
        }
    };
    secure(response.headers_mut());
    response
}

fn refuse(app: &App, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok());
    let Some(host) = host.filter(|host| app.names.know(host)) else {
        return Some((StatusCode::MISDIRECTED_REQUEST, "this server does not go by that name"));
    };
    match *request.method() {
        Method::GET | Method::HEAD => None,
        Method::POST => {
            let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
            let ours = origin.and_then(|origin| origin.split_once("://")) == Some((app.scheme(), host));
            (!ours).then_some((StatusCode::FORBIDDEN, "the form comes from another page"))
        }
        _ => Some((StatusCode::METHOD_NOT_ALLOWED, "pages can be read and answered, nothing else")),
    }
}

fn is_for_all(path: &str) -> bool {
    matches!(path, "/pair" | "/favicon.ico" | "/style.css" | "/bay.js")
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = all.flat_map(|value| value.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(name, _)| *name == COOKIE).map(|(_, value)| value)
}

fn secure(headers: &mut HeaderMap) {
    let mut set = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::CACHE_CONTROL, "no-store");
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(header::X_FRAME_OPTIONS, "DENY");
    // A form says where it comes from only if pages say so at all.
    set(header::REFERRER_POLICY, "same-origin");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
}

/// The cookie of a device that was just paired: no script reads it, no page of anybody else sends it, and by TLS it goes no other
/// way.
pub fn paired(app: &App, cookie: &str) -> Response {
    const YEAR: u32 = 365 * 24 * 3600;
    let secure = if app.tls.is_some() { "; Secure" } else { "" };
    let value = format!("{COOKIE}={cookie}; Path=/; HttpOnly; SameSite=Strict; Max-Age={YEAR}{secure}");
    let mut response = page::to("/");
    match HeaderValue::from_str(&value) {
        Ok(value) => {
            response.headers_mut().insert(header::SET_COOKIE, value);
            response
        }
        Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_an_address_or_a_name_it_was_given() {
        let names = Names(vec!["bay.lan".to_owned()]);
        for host in ["127.0.0.1:8717", "192.168.1.5", "[::1]:8717", "localhost:8717", "Bay.lan:8717"] {
            assert!(names.know(host), "{host}");
        }
        for host in ["evil.example:8717", "bay.lan.evil.example", "127.0.0.1.evil.example", "", "localhost.evil"] {
            assert!(!names.know(host), "{host}");
        }
    }
}
