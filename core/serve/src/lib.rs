#![doc = include_str!("../README.md")]

mod compose;
mod devices;
mod followed;
mod guard;
mod happened;
mod keeper;
mod listen;
mod multipart;
mod page;
mod random;
mod routes;
mod said;
mod shelf;
mod step;
mod streams;
mod tls;
mod view;

use std::net::SocketAddr;
use std::path::PathBuf;

pub use followed::{Follow, Reader};
pub use routes::Books;
pub use shelf::Read;
pub use tls::Certificate;

use devices::Devices;
use followed::Desk;
use guard::Names;
use shelf::Shelf;
use streams::Streams;
use tls::Tls;

/// What a server is started with.
pub struct Settings {
    /// The folder of the jobs.
    pub folder: PathBuf,
    pub listen: SocketAddr,
    /// Serve by TLS; none: plainly.
    pub tls: Option<Certificate>,
    /// Names of this computer that pages may be asked for by, beside its addresses.
    pub names: Vec<String>,
    /// Where paired devices are listed.
    pub devices: PathBuf,
    /// Everybody of the shop: id, name and roles.
    pub people: Vec<(String, String, Vec<String>)>,
    /// What the shop is called.
    pub shop: String,
    /// Print a code though devices are paired already.
    pub pair: bool,
    /// A reader that is connected to one job or another.
    pub reader: Option<Reader>,
    pub read: Read,
    pub books: Books,
    /// Where it is said what happens: a line at a time.
    pub say: Box<dyn Fn(&str) + Send + Sync>,
}

/// What all pages share.
struct App {
    shelf: Shelf,
    books: Books,
    devices: Devices,
    names: Names,
    people: Vec<view::Person>,
    shop: String,
    pages: page::Pages,
    streams: Streams,
    /// The address for a picture that a phone reads.
    address: SocketAddr,
    tls: Option<Tls>,
    say: Box<dyn Fn(&str) + Send + Sync>,
}

impl App {
    fn scheme(&self) -> &'static str {
        if self.tls.is_some() { "https" } else { "http" }
    }

    fn log(&self, line: &str) {
        // What was sent may hold anything.
        let plain: String = line.chars().map(|c| if c.is_control() { ' ' } else { c }).take(300).collect();
        (self.say)(&plain);
    }
}

/// Serves until the process is told to end.
///
/// Errors: an address that can't be listened on, a list of devices or a certificate that can't be read.
pub fn serve(settings: Settings) -> Result<(), String> {
    let Settings { folder, listen, tls, names, devices, people, shop, pair, reader, read, books, say } = settings;
    let tls = tls.map(|of| Tls::open(&of, &devices, listen, &names)).transpose()?;
    let devices = Devices::open(&devices)?;
    let people = people.into_iter().map(|(id, name, roles)| view::Person { id, name, roles }).collect();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        // Pages that are drawn from the disk, one at a time for each core.
        .max_blocking_threads(8)
        .thread_stack_size(8 << 20)
        .enable_io()
        .enable_time()
        .build()
        .map_err(|fault| fault.to_string())?;
    runtime.block_on(async move {
        let listener = tokio::net::TcpListener::bind(listen).await;
        let listener = listener.map_err(|fault| format!("{listen} can't be listened on: {fault}"))?;
        let address = listener.local_addr().map_err(|fault| fault.to_string())?;
        let scheme = if tls.is_some() { "https" } else { "http" };
        say(&format!("serving {} on {scheme}://{address}/", folder.display()));
        if let Some(tls) = &tls {
            say(&format!("compare in the browser: SHA-256 fingerprint {}", tls.fingerprint));
            if let Some(key) = &tls.exposed {
                let key = key.display();
                say(&format!("others on this computer may read its key, {key}: keep it where only its owner may"));
            }
        }
        if pair || devices.is_empty() {
            let code = devices.console_code();
            say(&format!("to come in: open {scheme}://{address}/pair within 10 minutes and type {code}"));
        }
        let app = App {
            shelf: Shelf::new(&folder, read, reader.map(Desk::new)),
            books,
            devices,
            names: Names(names),
            people,
            shop,
            pages: page::Pages::new().map_err(|fault| fault.to_string())?,
            streams: Streams::default(),
            address,
            tls,
            say,
        };
        listen::listen(listener, app).await;
        Ok(())
    })
}
