//! Pages that listen: a stream of what changes, and a beat that tells the page that it is still connected.

use std::collections::HashMap;
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::Body;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use tokio::sync::watch;

/// A page that heard nothing for five seconds says so.
const BEAT: Duration = Duration::from_secs(2);
/// Of one device: a page that is not seen closes its stream.
const MOST: usize = 6;

#[derive(Clone, Default)]
pub struct Streams(Arc<Mutex<HashMap<String, usize>>>);

struct Open(Streams, String);

impl Streams {
    fn open(&self, device: &str) -> Option<Open> {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let count = open.entry(device.to_owned()).or_default();
        if *count >= MOST {
            return None;
        }
        *count += 1;
        Some(Open(self.clone(), device.to_owned()))
    }

    /// What `say` makes of each change, and a pulse in between. It ends when `goes_on` says so, and when nothing can
    /// change any more.
    ///
    /// None: this device listens too often already.
    pub fn of<T: Clone + Send + Sync + 'static>(
        &self,
        device: &str,
        mut changes: watch::Receiver<T>,
        say: impl Fn(&T) -> String + Send + 'static,
        goes_on: impl Fn() -> bool + Send + 'static,
    ) -> Option<Response> {
        let place = self.open(device)?;
        changes.mark_changed();
        let seed = (changes, say, goes_on, place);
        let lines = stream::unfold(seed, |(mut changes, say, goes_on, place)| async move {
            let line = match tokio::time::timeout(BEAT, changes.changed()).await {
                Err(_) => "event: pulse\ndata: .\n\n".to_owned(),
                Ok(Ok(())) => {
                    let what = say(&changes.borrow_and_update());
                    format!("event: step\ndata: {what}\n\n")
                }
                Ok(Err(_)) => return None,
            };
            goes_on().then_some((Ok::<_, Infallible>(line), (changes, say, goes_on, place)))
        });
        let mut response = Body::from_stream(lines).into_response();
        let text = header::HeaderValue::from_static("text/event-stream");
        response.headers_mut().insert(header::CONTENT_TYPE, text);
        Some(response)
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        let mut open = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = open.get_mut(&self.1) {
            *count = count.saturating_sub(1);
        }
    }
}
