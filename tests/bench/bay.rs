//! The server under load: jobs that are worked on at once, devices that listen and fetch the page whenever it has changed, entries at an
//! even pace. `cargo bench --bench bay`; `-- --seconds 60` for longer, `--jobs 50 --devices 200 --rate 20` for another load.
//!
//! Told is the time from a tap until it is kept, beside that of the disk's own sync of 900 bytes in the same run (a plain entry
//! is about as long), and what the server holds in memory. It fails where the 99th percentile is more than five times the disk's or
//! memory grows by a fifth. Without `--bench` everything is small, and neither is judged.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[allow(dead_code)]
#[path = "../page/by_forms.rs"]
mod by_forms;
#[path = "../folders.rs"]
mod folders;
#[allow(dead_code)]
#[path = "../page/form.rs"]
mod form;
#[path = "../page/http.rs"]
mod http;
#[allow(dead_code)]
#[path = "../page/server.rs"]
mod server;
#[allow(dead_code)]
#[path = "../page/walk.rs"]
mod walk;

use std::collections::VecDeque;
use std::io::Write;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};

use by_forms::answer;
use form::Device;
use server::Shop;
use walk::{Deed, deeds};

const TIMES_THE_DISK: f64 = 5.0;
const GROWS: f64 = 1.2;

/// A job and what is to be answered yet.
struct Work {
    id: String,
    by: Device,
    deeds: VecDeque<Deed>,
}

/// Seconds, shortest first.
struct Times(Vec<f64>);

impl Times {
    fn of(mut all: Vec<f64>) -> Self {
        all.sort_by(f64::total_cmp);
        Self(all)
    }

    fn at(&self, share: f64) -> f64 {
        let last = self.0.len().saturating_sub(1);
        self.0.get(((last as f64) * share).round() as usize).copied().unwrap_or_default() * 1e3
    }

    fn show(&self, what: &str) {
        println!("{what:<34} {:>7} {:>9.2} {:>9.2} {:>9.2}", self.0.len(), self.at(0.5), self.at(0.99), self.at(1.0));
    }
}

/// Megabytes that a process holds; 0 where the system does not say.
fn memory(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok()).unwrap_or_default() / 1024.0
}

/// How long pages took to come: those of jobs, and the list.
type Fetched = [Mutex<Vec<f64>>; 2];

/// A device that listens: each comes from an address of its own, as one address may have but a few connections.
struct Listener {
    from: [u8; 4],
    to: std::net::SocketAddr,
    path: String,
    cookie: String,
}

impl Listener {
    async fn ask(&self, path: &str) -> std::io::Result<TcpStream> {
        let socket = TcpSocket::new_v4()?;
        socket.bind((self.from, 0).into())?;
        let mut stream = socket.connect(self.to).await?;
        let head =
            format!("GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n", self.to, self.cookie);
        stream.write_all(head.as_bytes()).await?;
        Ok(stream)
    }

    /// Fetches the page whenever it is told that it is another one.
    async fn listen(self, fetched: &Fetched, heard: &AtomicUsize) -> std::io::Result<()> {
        let live = format!("{}/live", self.path.trim_end_matches('/'));
        let mut stream = self.ask(&live).await?;
        let mut some = [0; 16 << 10];
        loop {
            let count = stream.read(&mut some).await?;
            if count == 0 {
                return Ok(());
            }
            if some[..count].windows(11).any(|word| word == b"event: step") {
                heard.fetch_add(1, Ordering::Relaxed);
                let begun = Instant::now();
                let mut page = Vec::new();
                self.ask(&self.path).await?.read_to_end(&mut page).await?;
                assert!(page.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&page[..page.len().min(300)]));
                fetched[usize::from(self.path == "/")].lock().unwrap().push(begun.elapsed().as_secs_f64());
            }
        }
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let judged = arguments.iter().any(|one| one == "--bench");
    let set = |option: &str, small: usize, large: usize| {
        let at = arguments.iter().position(|one| one == option).and_then(|at| arguments.get(at + 1));
        at.and_then(|text| text.parse().ok()).unwrap_or(if judged { large } else { small })
    };
    let (jobs, devices) = (set("--jobs", 2, 50), set("--devices", 4, 200));
    let (rate, seconds) = (set("--rate", 4, 20), set("--seconds", 1, 15));

    let shop = Shop::new();
    let job = std::fs::read_to_string(shop.jobs().join("heron-estate.yaml")).unwrap();
    for number in 0..jobs {
        let text = job.replace("job: 2026-1103", &format!("job: 2026-{number}"));
        std::fs::write(shop.jobs().join(format!("work-{number}.yaml")), text).unwrap();
    }
    let server = shop.serve(0, true);
    let office = Device::first(&server, "marek");
    let all = deeds(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/answers/heron-estate.yaml"));
    let works: Vec<Mutex<Work>> = (0..jobs)
        .map(|number| {
            let (id, by) = (format!("work-{number}"), office.let_in("rita"));
            by.keeps(&id, "take", &[]);
            Mutex::new(Work { id, by, deeds: all.iter().cloned().collect() })
        })
        .collect();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    let (fetched, heard): (&Fetched, &AtomicUsize) = (Box::leak(Box::default()), Box::leak(Box::default()));
    for number in 0..devices {
        // One in twenty shows the list.
        let path = if number % 20 == 19 { "/".to_owned() } else { format!("/job/work-{}", number % jobs) };
        let from = [127, 0, 1 + (number / 200) as u8, 1 + (number % 200) as u8];
        let cookie = office.let_in("jo").cookie().to_owned();
        let listener = Listener { from, to: server.address.parse().unwrap(), path, cookie };
        runtime.spawn(async move { listener.listen(fetched, heard).await.unwrap() });
    }
    while heard.load(Ordering::Relaxed) < devices {
        std::thread::sleep(Duration::from_millis(50));
    }
    std::thread::sleep(Duration::from_millis(500));
    fetched.iter().for_each(|times| times.lock().unwrap().clear());

    let count = rate * seconds;
    let (next, begun) = (AtomicUsize::new(0), Instant::now());
    let before = memory(server.process());
    // More hands than are needed, so that one that waits holds up nobody.
    let hands = 16.min(jobs);
    let measured: Vec<(Vec<f64>, Vec<f64>, f64)> = std::thread::scope(|scope| {
        let work = |hand: usize| {
            let mut beside = std::fs::File::create(shop.jobs().join(format!("beside-{hand}"))).unwrap();
            let (mut kept, mut disk, mut late) = (Vec::new(), Vec::new(), 0.0f64);
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= count {
                    return (kept, disk, late);
                }
                let due = Duration::from_secs_f64(number as f64 / rate as f64);
                std::thread::sleep(due.saturating_sub(begun.elapsed()));
                late = late.max((begun.elapsed() - due).as_secs_f64());
                let mut work = works[number % jobs].lock().unwrap();
                let deed = work.deeds.front().cloned().unwrap();
                let (done, took) = answer(&work.by, &work.id, &deed);
                if done {
                    work.deeds.pop_front();
                }
                drop(work);
                kept.push(took.as_secs_f64());
                let started = Instant::now();
                beside.write_all(&[b'.'; 900]).unwrap();
                beside.sync_data().unwrap();
                disk.push(started.elapsed().as_secs_f64());
            }
        };
        let hands: Vec<_> = (0..hands).map(|hand| scope.spawn(move || work(hand))).collect();
        hands.into_iter().map(|hand| hand.join().unwrap()).collect()
    });
    let took = begun.elapsed().as_secs_f64();
    let after = memory(server.process());
    let late = measured.iter().map(|one| one.2).fold(0.0, f64::max);
    let (kept, disk): (Vec<_>, Vec<_>) = measured.into_iter().map(|(kept, disk, _)| (kept, disk)).unzip();
    let (kept, disk) = (Times::of(kept.concat()), Times::of(disk.concat()));
    println!(
        "{jobs} jobs, {devices} devices that listen, {rate} entries a second for {took:.1} s; latest begun {late:.2} s late"
    );
    println!("{:<34} {:>7} {:>9} {:>9} {:>9}", "ms", "count", "half", "99 %", "longest");
    kept.show("from the tap until it is kept");
    disk.show("900 bytes synced beside it");
    for (times, what) in fetched.iter().zip(["the job's page after a change", "the list after a change"]) {
        Times::of(std::mem::take(&mut *times.lock().unwrap())).show(what);
    }
    let ratio = kept.at(0.99) / disk.at(0.99);
    println!("kept in {ratio:.1} times the disk's own 99th percentile; memory {before:.1} MB, then {after:.1} MB");
    assert!(kept.0.len() == count);
    assert!(!judged || ratio <= TIMES_THE_DISK, "slower than {TIMES_THE_DISK} times the disk");
    assert!(!judged || after <= before * GROWS, "memory grows");
}
