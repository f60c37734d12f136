//! Requests to the server, by a device that was paired and by strangers: each is answered within two seconds, none by a
//! defect of ours, and what a stranger asks for is shown to nobody.

use std::cell::RefCell;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use standpipe_serve::{Books, Settings, serve};

use super::choices::Choices;
use super::workshop::{inputs, root};

const JOBS: [&str; 2] = ["dunlin-hatch", "knot-courier"];
const FIELDS: [&str; 24] = [
    "what",
    "id",
    "asks",
    "since",
    "because",
    "text",
    "entry",
    "name",
    "value",
    "path",
    "source",
    "procedure",
    "so",
    "whole",
    "age",
    "f.heat",
    "u.heat",
    "w.heat",
    "witness",
    "code",
    "person",
    "for",
    "remove",
    "rest",
];
const WHATS: [&str; 17] = [
    "take",
    "enter",
    "begin",
    "held",
    "accept",
    "correct",
    "supply",
    "skip",
    "call",
    "take-back",
    "pause",
    "note",
    "abandon",
    "looked",
    "withdraw",
    "",
    "x",
];

struct Server {
    address: String,
    cookie: String,
    /// What the pages of jobs said last that a form has to say again.
    on: RefCell<Vec<String>>,
    _folder: tempfile::TempDir,
}

impl Server {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for job in JOBS {
            let file = format!("{job}.yaml");
            std::fs::copy(root().join("examples/jobs").join(&file), folder.path().join(&file)).unwrap();
        }
        let (tell, lines) = channel();
        let tell = Mutex::new(tell);
        let people = ["rita", "jo", "marek"].map(|id| (id.to_owned(), id.to_owned(), vec!["doer".to_owned()]));
        let settings = Settings {
            tls: None,
            folder: folder.path().to_owned(),
            listen: ([127, 0, 0, 1], 0).into(),
            names: Vec::new(),
            devices: folder.path().join("devices.json"),
            people: people.to_vec(),
            shop: "The workshop".to_owned(),
            pair: true,
            reader: None,
            books: Books::built_in(),
            read: Arc::new(|job, _| Some(inputs(job.file_stem()?.to_str()?))),
            say: Box::new(move |line| drop(tell.lock().map(|tell| tell.send(line.to_owned())))),
        };
        std::thread::spawn(move || serve(settings));
        let said = || lines.recv_timeout(Duration::from_secs(60)).unwrap();
        let first = said();
        let address = first.split("http://").nth(1).unwrap().trim_end_matches('/').to_owned();
        let code = said().rsplit(' ').next().unwrap().to_owned();
        std::thread::spawn(move || lines.into_iter().for_each(drop));
        let mut server = Self { address, cookie: String::new(), on: RefCell::default(), _folder: folder };
        let body = format!("code={code}&person=rita");
        let answer = server.ask(server.form("/pair", &body, "").as_bytes()).1;
        server.cookie = between(&answer, "set-cookie: ", ";").unwrap_or_else(|| panic!("{answer}")).to_owned();
        for job in JOBS {
            server.look(job);
            let body =
                server.on.borrow().iter().find(|on| on.starts_with(job)).map(|on| on[job.len() + 1..].to_owned());
            let body = format!("what=take&{}", body.unwrap_or_default());
            server.ask(server.form(&format!("/job/{job}/in"), &body, &server.cookie).as_bytes());
            server.look(job);
        }
        server
    }

    /// Reads from a job's page what its forms were made on.
    fn look(&self, job: &str) {
        let page = self.ask(self.get(&format!("/job/{job}"), &self.cookie).as_bytes()).1;
        let one =
            |name: &str| between(&page, &format!("name=\"{name}\" value=\""), "\"").unwrap_or_default().to_owned();
        let on = format!("{job} id={}&asks={}&since={}", one("id"), one("asks"), one("since"));
        let mut known = self.on.borrow_mut();
        known.retain(|old| !old.starts_with(job));
        known.push(on);
    }

    fn get(&self, path: &str, cookie: &str) -> String {
        format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {cookie}\r\n\r\n", self.address)
    }

    fn form(&self, path: &str, body: &str, cookie: &str) -> String {
        let address = &self.address;
        format!(
            "POST {path} HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nConnection: close\r\nCookie: {cookie}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        )
    }

    /// Status and all of the answer; status 0 where the connection was only closed.
    fn ask(&self, request: &[u8]) -> (u16, String) {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        let _ = stream.write_all(request);
        let begun = Instant::now();
        let mut bytes = Vec::new();
        for patience in [Duration::from_millis(300), Duration::from_secs(3)] {
            stream.set_read_timeout(Some(patience)).unwrap();
            match Read::by_ref(&mut stream).take(4 << 20).read_to_end(&mut bytes) {
                Ok(_) => break,
                // Half a request is waited for: no more will come.
                Err(_) => drop(stream.shutdown(std::net::Shutdown::Write)),
            }
        }
        let took = begun.elapsed();
        let lossy = String::from_utf8_lossy(request);
        assert!(took < Duration::from_secs(2), "{took:?} for {lossy:?}: {:?}", String::from_utf8_lossy(&bytes));
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let status = text.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        assert!(status < 500, "{status} for {lossy:?}: {text}");
        (status, text)
    }
}

fn between<'a>(text: &'a str, before: &str, after: &str) -> Option<&'a str> {
    text.split_once(before)?.1.split_once(after).map(|(inside, _)| inside)
}

thread_local! {
    static SERVER: Server = Server::new();
}

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    SERVER.with(|server| {
        let is_paired = !choices.rarely(4);
        let cookie = if is_paired { server.cookie.clone() } else { format!("standpipe={}", printable(&mut choices, 12)) };
        let job = choices.one(&JOBS);
        let request = match choices.below(6) {
            0 => {
                let (mut raw, name) = (choices.bytes(255).to_vec(), server.address.as_bytes());
                if choices.rarely(2) {
                    raw = [b"GET / HTTP/1.1\r\nHost: ", name, b"\r\n", &raw, b"\r\n\r\n"].concat();
                }
                raw
            }
            1 => server.get(&path(job, &mut choices), &cookie).into_bytes(),
            2 => {
                let part = choices.text(200);
                let address = &server.address;
                let body = format!(
                    "--line\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{}\"\r\n\r\n{part}\r\n--line{}",
                    printable(&mut choices, 8),
                    choices.one(&["--\r\n", "", "\r\n", "-"])
                );
                format!(
                    "POST /job/{job}/photo HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nConnection: close\r\n\
                     Cookie: {cookie}\r\nContent-Type: multipart/form-data; boundary={}\r\nContent-Length: {}\r\n\r\n{body}",
                    choices.one(&["line", "", "\"line\"", "x"]),
                    body.len()
                )
                .into_bytes()
            }
            _ => {
                let on = server.on.borrow().iter().find(|on| on.starts_with(job)).cloned().unwrap_or_default();
                let mut body = format!("what={}", choices.one(&WHATS));
                if !choices.rarely(4) {
                    // An id of its own, on what is asked.
                    let id = format!("&id={:016x}{:016x}", choices.byte(), choices.byte());
                    body.push_str(&id);
                    body.push_str(on.split_once('&').map_or("", |(_, rest)| &on[on.len() - rest.len() - 1..]));
                }
                while !choices.are_spent() && body.len() < 4000 {
                    body.push_str(&format!("&{}={}", choices.one(&FIELDS), printable(&mut choices, 40)));
                }
                let to = if choices.rarely(5) { path(job, &mut choices) } else { format!("/job/{job}/in") };
                server.form(&to, &body, &cookie).into_bytes()
            }
        };
        let (status, text) = server.ask(&request);
        let kept = ["FL ", "Harbour", "journal.jsonl", "texts-"].iter().any(|word| text.contains(word));
        assert!(is_paired || !kept, "{status}: a stranger was shown something: {text}");
        if status == 303 {
            server.look(job);
        }
    });
}

fn path(job: &str, choices: &mut Choices<'_>) -> String {
    let parts =
        ["/", "/live", "job", "in", "card", "record", "audit", "photo", "..", "%2e%2e", "%00", "devices", "pair", "?"];
    let mut path = if choices.rarely(2) { format!("/job/{job}") } else { String::new() };
    for _ in 0..choices.below(4) {
        path.push('/');
        path.push_str(choices.one(&parts));
        path.push_str(&printable(choices, 6));
    }
    // A page that stays connected answers for as long as somebody looks.
    let path = path.replace("live", "life").replace("//", "/");
    if path.is_empty() { "/".to_owned() } else { path }
}

/// Text for a place where a blank or the end of a line would end it.
fn printable(choices: &mut Choices<'_>, most: usize) -> String {
    choices
        .bytes(most)
        .iter()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'.' | b'-' => char::from(*byte).to_string(),
            other => format!("%{other:02x}"),
        })
        .collect()
}
