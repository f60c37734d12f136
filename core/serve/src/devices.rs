//! Who may come in: devices that were paired, and the codes they are paired with.
//!
//! A device has a cookie with 128 random bits; here lies only its hash. Codes are shown once, hold for ten minutes and for
//! one device, and are guessed at most a few times.

use std::collections::HashMap;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::random;

const CODE_HOLDS: Duration = Duration::from_secs(600);
/// Wrong codes from one address, and from all of them, before pairing is closed until the server is started anew.
const GUESSES: u32 = 5;
const ALL_GUESSES: u32 = 30;

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Device {
    pub id: String,
    /// SHA-256 of its cookie.
    hash: String,
    /// Whose own it is; none for one that several use.
    pub person: Option<String>,
    /// Paired at the console, or by one that may: it lets others in.
    pub lets_in: bool,
    /// When it was paired.
    pub since: String,
}

#[derive(Clone, Debug)]
pub struct Code {
    pub text: String,
    /// Whose device it will be; none: whoever types it says so.
    pub person: Option<String>,
    pub shared: bool,
    lets_in: bool,
    until: Instant,
}

/// Why no device was paired.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Closed {
    Wrong,
    TooMany,
    /// The code is right, and whose device it is has to be said.
    WhoIsIt,
    Unwritten,
}

pub struct Devices {
    file: PathBuf,
    inner: Mutex<Inner>,
}

#[derive(Default)]
struct Inner {
    known: Vec<Device>,
    codes: Vec<Code>,
    wrong: HashMap<IpAddr, u32>,
}

impl Devices {
    /// Errors: a file that is there and can't be read; what is in it is not thrown away.
    pub fn open(file: &Path) -> Result<Self, String> {
        let known = match standpipe_disk::text(file, standpipe_disk::TEXT) {
            Ok(text) => serde_json::from_str(&text).map_err(|fault| format!("{}: {fault}", file.display()))?,
            Err(fault) if fault.kind() == std::io::ErrorKind::NotFound => Vec::new(),
            Err(fault) => return Err(format!("{}: {fault}", file.display())),
        };
        Ok(Self { file: file.to_owned(), inner: Mutex::new(Inner { known, ..Inner::default() }) })
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        // What a panic left behind is whole: each change is one assignment.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn is_empty(&self) -> bool {
        self.inner().known.is_empty()
    }

    pub fn all(&self) -> Vec<Device> {
        self.inner().known.clone()
    }

    /// The device of a cookie.
    pub fn of(&self, cookie: &str) -> Option<Device> {
        let hash = hash(cookie);
        self.inner().known.iter().find(|device| device.hash == hash).cloned()
    }

    pub fn is_known(&self, id: &str) -> bool {
        self.inner().known.iter().any(|device| device.id == id)
    }

    /// Whether this person has a device of their own.
    pub fn has(&self, person: &str) -> bool {
        self.inner().known.iter().any(|device| device.person.as_deref() == Some(person))
    }

    /// A code for the console: it lets others in.
    pub fn console_code(&self) -> String {
        self.code(None, false, true)
    }

    /// A code for the device of a person, or for one that several use.
    pub fn code_for(&self, person: Option<String>) -> String {
        let shared = person.is_none();
        self.code(person, shared, false)
    }

    fn code(&self, person: Option<String>, shared: bool, lets_in: bool) -> String {
        let text = random::code();
        let mut inner = self.inner();
        inner.codes.retain(|code| code.until > Instant::now());
        inner.codes.push(Code { text: text.clone(), person, shared, lets_in, until: Instant::now() + CODE_HOLDS });
        text
    }

    /// Pairs a device: the value of its cookie. `person`: who it is, where the code does not say so.
    pub fn pair(&self, typed: &str, person: Option<&str>, from: IpAddr, at: &str) -> Result<String, Closed> {
        let typed = random::read_code(typed);
        let mut inner = self.inner();
        let all: u32 = inner.wrong.values().sum();
        if all >= ALL_GUESSES || inner.wrong.get(&from).is_some_and(|wrong| *wrong >= GUESSES) {
            return Err(Closed::TooMany);
        }
        let found = inner.codes.iter().position(|code| code.until > Instant::now() && code.text == typed);
        let Some(found) = found else {
            *inner.wrong.entry(from).or_default() += 1;
            return Err(Closed::Wrong);
        };
        let code = inner.codes[found].clone();
        let person = if code.shared { None } else { code.person.clone().or_else(|| person.map(str::to_owned)) };
        if person.is_none() && !code.shared {
            return Err(Closed::WhoIsIt);
        }
        let cookie = format!("{:032x}", random::number());
        let number = inner.known.iter().filter_map(|device| device.id.strip_prefix('d')?.parse::<u32>().ok()).max();
        let device = Device {
            id: format!("d{}", number.unwrap_or(0) + 1),
            hash: hash(&cookie),
            person,
            lets_in: code.lets_in,
            since: at.to_owned(),
        };
        let mut known = inner.known.clone();
        known.push(device);
        self.write(&known).map_err(|_| Closed::Unwritten)?;
        inner.known = known;
        inner.codes.remove(found);
        Ok(cookie)
    }

    /// A device comes in no more. Errors: the list could not be written; it still comes in then.
    pub fn withdraw(&self, id: &str) -> std::io::Result<()> {
        let mut inner = self.inner();
        let known: Vec<Device> = inner.known.iter().filter(|device| device.id != id).cloned().collect();
        self.write(&known)?;
        inner.known = known;
        Ok(())
    }

    fn write(&self, known: &[Device]) -> std::io::Result<()> {
        standpipe_disk::whole(&self.file, &serde_json::to_vec_pretty(known)?)
    }
}

fn hash(cookie: &str) -> String {
    format!("{:x}", Sha256::digest(cookie.as_bytes()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn at(last: u8) -> IpAddr {
        IpAddr::from([10, 0, 0, last])
    }

    fn devices() -> (Devices, PathBuf) {
        let folder = std::env::temp_dir().join(format!("standpipe-{:x}", random::number()));
        std::fs::create_dir(&folder).unwrap();
        (Devices::open(&folder.join("devices.json")).unwrap(), folder)
    }

    #[test]
    fn a_code_lets_one_device_in_and_its_cookie_is_nowhere_on_the_disk() {
        let (devices, folder) = devices();
        let code = devices.code_for(Some("jo".to_owned()));
        let cookie = devices.pair(&code.to_lowercase(), None, at(1), "today").unwrap();
        assert_eq!(devices.of(&cookie).unwrap().person.as_deref(), Some("jo"));
        assert_eq!(devices.pair(&code, None, at(1), "today"), Err(Closed::Wrong), "a code holds once");
        let kept = std::fs::read_to_string(folder.join("devices.json")).unwrap();
        assert!(!kept.contains(&cookie) && kept.contains("jo"));
        let again = Devices::open(&folder.join("devices.json")).unwrap();
        let id = again.of(&cookie).unwrap().id;
        again.withdraw(&id).unwrap();
        assert!(again.of(&cookie).is_none() && Devices::open(&folder.join("devices.json")).unwrap().is_empty());
        std::fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn the_console_asks_who_it_is_and_a_shared_device_is_nobodys() {
        let (devices, folder) = devices();
        let code = devices.console_code();
        assert_eq!(devices.pair(&code, None, at(1), "today"), Err(Closed::WhoIsIt));
        let cookie = devices.pair(&code, Some("marek"), at(1), "today").unwrap();
        assert!(devices.of(&cookie).unwrap().lets_in);
        let shared = devices.code_for(None);
        let cookie = devices.pair(&shared, Some("marek"), at(2), "today").unwrap();
        let device = devices.of(&cookie).unwrap();
        assert!(device.person.is_none() && !device.lets_in);
        std::fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn a_thousand_guesses_come_to_nothing() {
        let (devices, folder) = devices();
        let code = devices.code_for(Some("jo".to_owned()));
        for guess in 0..1000 {
            assert!(devices.pair(&format!("{guess:08}"), None, at((guess % 250) as u8), "today").is_err());
        }
        assert_eq!(devices.pair(&code, None, at(251), "today"), Err(Closed::TooMany), "not even the right one");
        assert!(devices.is_empty());
        std::fs::remove_dir_all(folder).unwrap();
    }
}
