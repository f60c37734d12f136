//! Pages from templates. Whatever was entered is escaped: templates are written for HTML, and nothing in them is marked safe.

use axum::body::Body;
use axum::http::header::{self, HeaderValue};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use base64::prelude::*;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value};
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};

use standpipe_diagnostic::columns::capital;

use crate::App;
use crate::followed::Reading;

const TEMPLATES: &[(&str, &str)] = &[
    ("base.html", include_str!("base.html")),
    ("message.html", include_str!("message.html")),
    ("jobs.html", include_str!("jobs.html")),
    ("job.html", include_str!("job.html")),
    ("asked.html", include_str!("asked.html")),
    ("held.html", include_str!("held.html")),
    ("beside.html", include_str!("beside.html")),
    ("macros.html", include_str!("macros.html")),
    ("connect.html", include_str!("connect.html")),
    ("reader.html", include_str!("reader.html")),
    ("reading.html", include_str!("reading.html")),
    ("new.html", include_str!("new.html")),
    ("audit.html", include_str!("audit.html")),
    ("pair.html", include_str!("pair.html")),
    ("devices.html", include_str!("devices.html")),
    ("sign.html", include_str!("sign.html")),
];

pub const SCRIPT: &str = include_str!("bay.js");
/// Signs by the key of a device, on the one page that needs it.
pub const SIGNS: &str = include_str!("sign.js");
const STYLE: &str = include_str!("bay.css");

/// That of cards and records, and what pages that are answered need beside it.
pub fn style() -> String {
    format!("{}{STYLE}", standpipe_report::page::STYLE)
}

pub struct Pages {
    environment: Environment<'static>,
    /// Changes with scripts and style: they may be kept as long as they are the same.
    version: String,
}

impl Pages {
    /// Errors: a template that has a fault.
    pub fn new() -> Result<Self, minijinja::Error> {
        let mut environment = Environment::new();
        environment.set_auto_escape_callback(|_| AutoEscape::Html);
        environment.set_formatter(standpipe_report::page::only_text);
        if let Ok(syntax) = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build() {
            environment.set_syntax(syntax);
        }
        environment.add_filter("clock", |at: &str| at.get(11..19).unwrap_or(at).to_owned());
        environment.add_filter("minute", |at: &str| at.get(..16).unwrap_or(at).replace('T', " "));
        environment.add_filter("words", |name: &str| name.replace(['_', '-'], " "));
        environment.add_filter("capital", capital);
        environment.add_filter("lasting", standpipe_stream::span);
        for (name, text) in TEMPLATES {
            environment.add_template(name, text)?;
        }
        let all = [style().as_bytes(), SCRIPT.as_bytes(), SIGNS.as_bytes()].concat();
        let version = format!("{:x}", Sha256::digest(all)).chars().take(12).collect();
        Ok(Self { environment, version })
    }

    fn render(&self, name: &str, page: &impl Serialize) -> Result<String, minijinja::Error> {
        let context = minijinja::context! { version => self.version.as_str(), ..Value::from(Serde(page)) };
        self.environment.get_template(name)?.render(context)
    }
}

pub fn show(app: &App, status: StatusCode, name: &str, page: &impl Serialize) -> Response {
    match app.pages.render(name, page) {
        Ok(text) => (status, html(), text).into_response(),
        Err(fault) => {
            app.log(&format!("a page can't be drawn, which is a defect of this program: {fault:#}"));
            (StatusCode::INTERNAL_SERVER_ERROR, "This page can't be drawn: a defect of the program.").into_response()
        }
    }
}

/// How the reader stands, as a piece of a page and what a script has to know beside it, in one line.
pub fn reading(app: &App, reading: Option<&Reading>) -> String {
    let html = match reading {
        Some(reading) => app.pages.render("reading.html", &json!({ "reading": reading })),
        None => Ok(String::new()),
    };
    let html = html.unwrap_or_else(|fault| {
        app.log(&format!("a reading can't be drawn, which is a defect of this program: {fault:#}"));
        "The reading can't be drawn: a defect of the program.".to_owned()
    });
    let (since, bells) = (reading.map(|reading| &reading.since), reading.map(|reading| reading.bells));
    let alarm = reading.is_some_and(|reading| reading.alarm);
    let take = reading.and_then(|reading| reading.take.as_ref());
    json!({ "html": html, "since": since, "bells": bells, "alarm": alarm, "take": take }).to_string()
}

/// A page of a few words.
pub fn plain(app: &App, status: StatusCode, title: &str, says: &str) -> Response {
    show(app, status, "message.html", &json!({ "title": title, "says": says }))
}

/// For who comes without a known device. A link from elsewhere brings no cookie: one of our own does.
pub fn stranger(app: &App) -> Response {
    let page = json!({ "title": "This device is not paired", "stranger": true });
    show(app, StatusCode::UNAUTHORIZED, "message.html", &page)
}

/// On to another page.
pub fn to(path: &str) -> Response {
    let mut headers = HeaderMap::new();
    if let Ok(path) = HeaderValue::from_str(path) {
        headers.insert(header::LOCATION, path);
    }
    (StatusCode::SEE_OTHER, headers).into_response()
}

fn html() -> [(header::HeaderName, &'static str); 1] {
    [(header::CONTENT_TYPE, "text/html; charset=utf-8")]
}

/// A card or a record: a page by itself that carries its own style, which is let through by its hash and nothing else is;
/// with a way back to the job, and to the other page of the same record.
pub fn paper(text: &str, job: &str, which: &str) -> Response {
    let style =
        text.split_once("<style>").and_then(|(_, rest)| Some(rest.split_once("</style>")?.0)).unwrap_or_default();
    let hash = BASE64_STANDARD.encode(Sha256::digest(style.as_bytes()));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{hash}'; img-src 'self'; base-uri 'none'; frame-ancestors 'none'"
    );
    let other = match which {
        "record" => format!(" <a href=\"/job/{job}/customer\">For the customer</a>"),
        "customer" => format!(" <a href=\"/job/{job}/record\">The whole record</a>"),
        _ => String::new(),
    };
    let back = format!("<nav class=\"back\"><a href=\"/job/{job}\">Back to the job</a>{other}</nav>");
    let body = text.find("<body").and_then(|at| Some(at + text[at..].find('>')? + 1)).unwrap_or(0);
    let text = format!("{}\n{back}{}", &text[..body], &text[body..]);
    let mut response = (html(), text).into_response();
    if let Ok(policy) = HeaderValue::from_str(&policy) {
        response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}

/// Script or style, by its version: as long as that is the same, it need not be sent again.
pub fn asset(kind: &'static str, text: String) -> Response {
    let kept = HeaderValue::from_static("private, max-age=31536000, immutable");
    let headers = [(header::CONTENT_TYPE, HeaderValue::from_static(kind)), (header::CACHE_CONTROL, kept)];
    (headers, Body::from(text)).into_response()
}
