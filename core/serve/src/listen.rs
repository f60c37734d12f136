//! The socket: how many may come at once, and how long they may take to say what they want.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Extension;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;

use crate::App;
use crate::guard::Remote;
use crate::routes;

/// A phone opens six at most, and a workshop has a few behind one address.
const OF_ONE_ADDRESS: usize = 48;
const OF_ALL: usize = 512;
/// Browsers send less than a quarter of this. No source: own choice.
const HEADERS: usize = 16 << 10;
const PATIENCE: Duration = Duration::from_secs(10);

type Counts = Arc<Mutex<HashMap<IpAddr, usize>>>;

/// Counts a connection as long as it lives.
struct Place(Counts, IpAddr);

impl Place {
    fn take(counts: &Counts, from: IpAddr) -> Option<Self> {
        let mut known = counts.lock().unwrap_or_else(PoisonError::into_inner);
        if known.values().sum::<usize>() >= OF_ALL || known.get(&from).is_some_and(|count| *count >= OF_ONE_ADDRESS) {
            return None;
        }
        *known.entry(from).or_default() += 1;
        Some(Self(counts.clone(), from))
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = known.get_mut(&self.1) {
            *count -= 1;
            if *count == 0 {
                known.remove(&self.1);
            }
        }
    }
}

/// Serves until the process is told to end. What was acknowledged is on the disk by then: nothing is left to be saved.
pub async fn listen(listener: TcpListener, app: App) {
    let app = Arc::new(app);
    let router = routes::router(app.clone());
    let counts = Counts::default();
    loop {
        let Ok((stream, remote)) = listener.accept().await else {
            // No handles left, say: others end soon.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        let Some(place) = Place::take(&counts, remote.ip()) else {
            app.log(&format!("too many connections from {}", remote.ip()));
            continue;
        };
        let service = TowerToHyperService::new(router.clone().layer(Extension(Remote(remote))));
        let app = app.clone();
        tokio::spawn(async move {
            let _place = place;
            // Small answers go at once.
            let _ = stream.set_nodelay(true);
            let mut http = http1::Builder::new();
            http.timer(TokioTimer::new()).header_read_timeout(PATIENCE).max_buf_size(HEADERS);
            // A connection that breaks off is no news.
            match &app.tls {
                None => drop(http.serve_connection(TokioIo::new(stream), service).await),
                Some(tls) => {
                    if let Some(stream) = tls.take(stream, PATIENCE).await {
                        drop(http.serve_connection(TokioIo::new(stream), service).await);
                    }
                }
            }
        });
    }
}
