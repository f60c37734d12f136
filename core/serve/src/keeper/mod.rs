//! One keeper for each job: a thread that alone writes to it. What is said to it waits in a short row; what it shows is the
//! newest view and no other, so that a slow phone costs nothing.

mod deeds;
mod told;
mod work;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread;

use tokio::sync::{oneshot, watch};

use crate::followed::{Desk, Followed, Reading};
use crate::said::Said;
use crate::view::View;
use standpipe_diagnostic::Problems;
use standpipe_job::plan::Plan;

pub use told::Told;
use work::Work;

/// More inputs than this at once are no people.
const ROW: usize = 32;
/// Scripts may nest deeply.
const STACK: usize = 8 << 20;

/// Who says something, as far as is known.
#[derive(Clone, Debug)]
pub struct Speaker {
    pub device: String,
    /// The device belongs to them; else their name was only said.
    pub own: bool,
    pub person: String,
}

enum Order {
    Said { said: Box<Said>, by: Speaker, reply: oneshot::Sender<Told> },
    Photo { name: String, bytes: Vec<u8>, asks: Option<String>, by: Speaker, reply: oneshot::Sender<Told> },
}

/// How a job is begun that has no journal yet: on the keeper's thread, as a plan stays on its thread.
pub type Begin = Arc<dyn Fn() -> Result<Plan, Problems> + Send + Sync>;

#[derive(Clone)]
pub struct Keeper {
    orders: SyncSender<Order>,
    pub views: watch::Receiver<Option<Arc<View>>>,
    /// How the reader stands, where it is connected to this job.
    pub readings: watch::Receiver<Option<Arc<Reading>>>,
}

impl Keeper {
    /// `changed` is told whenever the view changes.
    pub fn start(
        id: String,
        dir: PathBuf,
        begin: Option<Begin>,
        desk: Option<Desk>,
        changed: watch::Sender<u64>,
    ) -> std::io::Result<Self> {
        let (orders, row) = sync_channel(ROW);
        let (views, seen) = watch::channel(None);
        let (shown, readings) = watch::channel(None);
        let name = format!("job {id}");
        thread::Builder::new().name(name).stack_size(STACK).spawn(move || {
            let followed = Followed::new(desk, &id, shown);
            Work::new(id, dir, begin, followed, views, changed).run(&row);
        })?;
        Ok(Self { orders, views: seen, readings })
    }

    pub fn is_gone(&self) -> bool {
        self.views.has_changed().is_err()
    }

    pub async fn say(&self, said: Said, by: Speaker) -> Told {
        self.order(|reply| Order::Said { said: Box::new(said), by, reply }).await
    }

    pub async fn photo(&self, name: String, bytes: Vec<u8>, asks: Option<String>, by: Speaker) -> Told {
        self.order(|reply| Order::Photo { name, bytes, asks, by, reply }).await
    }

    async fn order(&self, order: impl FnOnce(oneshot::Sender<Told>) -> Order) -> Told {
        let (reply, answer) = oneshot::channel();
        match self.orders.try_send(order(reply)) {
            Err(TrySendError::Full(_)) => Told::Busy,
            Err(TrySendError::Disconnected(_)) => Told::Fault("the job has been let go; try again".to_owned()),
            Ok(()) => {
                let gone = || Told::Fault("this job has stopped after a fault of the program".to_owned());
                answer.await.unwrap_or_else(|_| gone())
            }
        }
    }
}
