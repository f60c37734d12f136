//! Pages that listen: a stream of what changes, and a beat that tells the page that it is still connected.

use std::collections::HashMap;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::Body;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::stream::{self, Stream, StreamExt};
use tokio::sync::watch;
use tokio::time::Instant;

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

    /// What a source says of each change, and a pulse in between. It ends when `goes_on` says so, and when one of them can't
    /// change any more.
    ///
    /// None: this device listens too often already.
    pub fn of(&self, device: &str, told: Told, goes_on: impl Fn() -> bool + Send + 'static) -> Option<Response> {
        let place = self.open(device)?;
        let lines = stream::unfold((told, goes_on, place), |(mut told, goes_on, place)| async move {
            let line = match tokio::time::timeout(BEAT, told.next()).await {
                Err(_) => "event: pulse\ndata: .\n\n".to_owned(),
                Ok(line) => line?,
            };
            goes_on().then_some((Ok::<_, Infallible>(line), (told, goes_on, place)))
        });
        let mut response = Body::from_stream(lines).into_response();
        let text = header::HeaderValue::from_static("text/event-stream");
        response.headers_mut().insert(header::CONTENT_TYPE, text);
        Some(response)
    }
}

/// What a page is told: that it is another one by now, and what changes more often than the page.
pub struct Told {
    step: Source,
    reading: Option<Source>,
}

/// Makes a line of whatever changes. A watch has one newest value: a slow page skips what it missed.
type Source = Pin<Box<dyn Stream<Item = String> + Send>>;

impl Told {
    /// At most once in `gap`, and the last change always.
    pub fn of<T: Send + Sync + 'static>(
        changes: watch::Receiver<T>,
        gap: Duration,
        say: impl Fn(&T) -> String + Send + 'static,
    ) -> Self {
        Self { step: source("step", changes, gap, say), reading: None }
    }

    /// With readings, each in one line.
    pub fn and<T: Send + Sync + 'static>(
        self,
        readings: watch::Receiver<T>,
        say: impl Fn(&T) -> String + Send + 'static,
    ) -> Self {
        Self { reading: Some(source("reading", readings, Duration::ZERO, say)), ..self }
    }

    async fn next(&mut self) -> Option<String> {
        match &mut self.reading {
            Some(reading) => tokio::select! {
                line = self.step.next() => line,
                line = reading.next() => line,
            },
            None => self.step.next().await,
        }
    }
}

fn source<T: Send + Sync + 'static>(
    event: &'static str,
    mut changes: watch::Receiver<T>,
    gap: Duration,
    say: impl Fn(&T) -> String + Send + 'static,
) -> Source {
    changes.mark_changed();
    Box::pin(stream::unfold((changes, say, Instant::now()), move |(mut changes, say, next)| async move {
        changes.changed().await.ok()?;
        tokio::time::sleep_until(next).await;
        let what = say(&changes.borrow_and_update());
        Some((format!("event: {event}\ndata: {what}\n\n"), (changes, say, Instant::now() + gap)))
    }))
}

impl Drop for Open {
    fn drop(&mut self) {
        let mut open = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = open.get_mut(&self.1) {
            *count = count.saturating_sub(1);
        }
    }
}
