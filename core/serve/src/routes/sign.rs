//! What somebody did, signed by the key of their own device. The key is made there, and never leaves it: the page takes the text of
//! an act and brings back its signature, in the form of OpenSSH.

use std::collections::BTreeSet;
use std::path::Path as Folder;
use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Serialize;
use serde_json::json;

use super::job::NO_SUCH;
use super::{Sent, opened};
use crate::App;
use crate::devices::Device;
use crate::guard::Visitor;
use crate::page;
use crate::said::Fields;
use crate::view::View;
use standpipe_job::Moment;
use standpipe_sign::{Deed, FOLDER, NAMESPACE, Statement, Unsigned, heads, kept, name_of, read, to_sign};

/// So many fit into one form.
const MOST: usize = 40;
/// Between the page that showed a text and the signature that comes back, in seconds.
const LATE: i64 = 300;

/// An act that waits for its signature.
#[derive(Serialize)]
struct Open {
    line: u64,
    act: &'static str,
    at: Moment,
    /// What is signed, to the byte.
    text: String,
}

pub async fn show(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
) -> Response {
    drawn(&app, &device, id, StatusCode::OK, None).await
}

pub async fn take(
    State(app): State<Arc<App>>,
    Extension(Visitor { device }): Extension<Visitor>,
    Path(id): Path<String>,
    Sent(fields): Sent,
) -> Response {
    let Some(person) = device.person.clone() else {
        app.log(&format!("refused to sign at {}: the device is nobody's own", device.id));
        return drawn(&app, &device, id, StatusCode::FORBIDDEN, None).await;
    };
    let (shelf, of) = (app.clone(), id.clone());
    let taken = tokio::task::spawn_blocking(move || {
        let place = shelf.shelf.place(&of).ok_or_else(|| NO_SUCH.to_owned())?;
        keep_all(&place.folder, &person, &fields)
    });
    match taken.await {
        Ok(Ok(())) => page::to(&format!("/job/{id}/sign")),
        Ok(Err(why)) => {
            app.log(&format!("refused a signature from {}: {why}", device.id));
            drawn(&app, &device, id, StatusCode::UNPROCESSABLE_ENTITY, Some(why)).await
        }
        Err(_) => page::plain(&app, StatusCode::INTERNAL_SERVER_ERROR, "Not kept", "A defect of the program."),
    }
}

/// Keeps each signature that was sent, as far as the first that is not taken.
fn keep_all(folder: &Folder, person: &str, fields: &Fields) -> Result<(), String> {
    let job = opened(folder)?;
    let open = to_sign(&job, 0, person).map_err(words)?;
    let now = Moment::now();
    for sent in fields.iter().filter(|(name, _)| name == "signed").map(|(_, sent)| sent.replace("\r\n", "\n")) {
        let (said, at, _) = read(sent.as_bytes()).map_err(|why| format!("what was sent signs no act: {why}"))?;
        if now.duration_since(at).as_secs().abs() > LATE {
            return Err("the signature was made too long ago: sign again".to_owned());
        }
        let statements = open.iter().map(|(deed, head)| Statement { job: &job.plan().job.id, deed, head, at });
        let statement = statements.into_iter().find(|statement| statement.text() == said);
        let statement = statement.ok_or("the signature is for nothing that you did here and have not signed yet")?;
        kept(folder, &statement, &sent[said.len()..], now).map_err(words)?;
    }
    Ok(())
}

async fn drawn(app: &Arc<App>, device: &Device, id: String, status: StatusCode, refusal: Option<String>) -> Response {
    let (shelf, of, person) = (app.clone(), id.clone(), device.person.clone());
    let found = tokio::task::spawn_blocking(move || {
        let place = shelf.shelf.place(&of).ok_or_else(|| NO_SUCH.to_owned())?;
        if place.file.is_some() {
            return Err("This job is not begun: nothing was done that could be signed.".to_owned());
        }
        person.map_or_else(|| Ok(Vec::new()), |person| open(&place.folder, &person))
    });
    let open = match found.await {
        Ok(Ok(open)) => open,
        Ok(Err(why)) => return page::plain(app, StatusCode::NOT_FOUND, "Nothing to sign", &why),
        Err(_) => return page::plain(app, StatusCode::INTERNAL_SERVER_ERROR, "Not drawn", "A defect of the program."),
    };
    let name = app.people.iter().find(|known| Some(&known.id) == device.person.as_ref());
    let page = json!({
        "title": "Sign by key", "id": id, "person": device.person, "name": name.map(|known| &known.name),
        "namespace": NAMESPACE, "acts": &open[..open.len().min(MOST)], "more": open.len().saturating_sub(MOST),
        "refusal": refusal,
    });
    page::show(app, status, "sign.html", &page)
}

fn open(folder: &Folder, person: &str) -> Result<Vec<Open>, String> {
    let job = opened(folder)?;
    let at = Moment::now();
    let acts = to_sign(&job, 0, person).map_err(words)?;
    let open = acts.iter().map(|(deed, head)| {
        let text = Statement { job: &job.plan().job.id, deed, head, at }.text();
        Open { line: deed.line, act: deed.act.word(), at: deed.at, text }
    });
    Ok(open.collect())
}

/// How many acts that the shop wants signed wait for a key of this person.
pub(super) async fn waiting(view: &View, device: &Device) -> usize {
    let is_theirs = |deed: &&Deed| Some(&deed.by) == device.person.as_ref();
    let acts: Vec<Deed> = view.by_key.iter().filter(is_theirs).cloned().collect();
    if acts.is_empty() {
        return 0;
    }
    let folder = view.folder.clone();
    let count = tokio::task::spawn_blocking(move || {
        let heads = heads(&folder).unwrap_or_default();
        let name = |deed: &Deed| Some(name_of(heads.get((deed.line as usize).checked_sub(1)?)?, deed.act));
        let names: BTreeSet<String> = acts.iter().filter_map(name).collect();
        names.into_iter().filter(|name| !folder.join(FOLDER).join(name).exists()).count()
    });
    count.await.unwrap_or_default()
}

fn words(unsigned: Unsigned) -> String {
    format!("{}; {}", unsigned.message, unsigned.help)
}
