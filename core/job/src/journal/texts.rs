//! The texts that a plan is built from, in a file beside it that is named by their hash.
//!
//! Jobs of one shop have most texts in common. A job whose neighbour keeps the same ones gets a second name of that file,
//! where the file system knows such: every folder is whole, and can be copied or moved by itself. Nothing writes to it again.

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use serde::Deserialize;

use super::{LARGEST_PLAN, LaterPlan, chain, folder};
use crate::edition;
use crate::event::{Event, Record};
use crate::plan::PlanText;
use standpipe_diagnostic::{Code, Diagnostic};

/// So many digits of a hash tell files of one folder apart; the whole hash is compared when it is read.
const DIGITS: usize = 16;
const TEXTS: &str = "texts";
/// Plans beside `plan.json`, that of the beginning.
const LATER: &str = "plan";

fn name(what: &str, hash: &str) -> Option<String> {
    let sound = hash.len() == 64 && hash.bytes().all(|byte| byte.is_ascii_hexdigit());
    sound.then(|| format!("{what}-{}.json", &hash[..DIGITS]))
}

/// What the file of the texts is called that a plan names.
pub(super) fn name_of(plan: &str) -> Option<String> {
    serde_json::from_str::<Named>(plan).ok().and_then(|named| name(TEXTS, &named.texts))
}

pub(super) fn later_name(hash: &str) -> Option<String> {
    name(LATER, hash)
}

/// Keeps the texts of a job that begins; they are on the disk when it returns.
pub(super) fn keep(dir: &Path, texts: &str) -> io::Result<()> {
    let Some(name) = name(TEXTS, &chain::hash(texts.as_bytes())) else { return Ok(()) };
    let path = dir.join(&name);
    if shared(dir, &name, texts).is_some() {
        return standpipe_disk::sync(dir);
    }
    standpipe_disk::whole(&path, texts.as_bytes())
}

/// Gives the file of a neighbour a second name, if one has the same bytes.
fn shared(dir: &Path, name: &str, texts: &str) -> Option<()> {
    let dir = dir.canonicalize().ok()?;
    let neighbours = fs::read_dir(dir.parent()?).ok()?.filter_map(Result::ok).map(|entry| entry.path());
    let has = |path: &Path| standpipe_disk::bytes(path, LARGEST_PLAN).is_ok_and(|bytes| bytes == texts.as_bytes());
    let mut found = neighbours.filter(|other| *other != dir).map(|other| other.join(name)).filter(|path| path.exists());
    let found = found.find(|path| has(path))?;
    fs::hard_link(found, dir.join(name)).ok()
}

/// Keeps a plan with its texts, beside the one that the job was begun with.
pub(super) fn keep_plan(dir: &Path, plan: &PlanText) -> io::Result<()> {
    if let Ok(texts) = &plan.texts {
        keep(dir, texts)?;
    }
    let Some(name) = name(LATER, &chain::hash(plan.plan.as_bytes())) else { return Ok(()) };
    standpipe_disk::whole(&dir.join(name), plan.plan.as_bytes())
}

/// The plans that events name beside the first.
pub(super) fn later(dir: &Path, records: &[Record]) -> Vec<LaterPlan> {
    let named = records.iter().filter_map(|record| match &record.event {
        Event::Amended { plan, .. } => Some((record.seq, plan.clone())),
        _ => None,
    });
    named
        .map(|(seq, hash)| {
            let text = read(dir, LATER, &hash).and_then(|plan| {
                edition::refuse_newer_plan(&plan, dir)?;
                Ok(with(dir, plan))
            });
            LaterPlan { seq, hash, text }
        })
        .collect()
}

/// What a plan says of its texts.
#[derive(Deserialize)]
struct Named {
    texts: String,
}

/// A plan with the texts that it names.
pub(super) fn with(dir: &Path, plan: String) -> PlanText {
    let named = serde_json::from_str::<Named>(&plan).map(|named| named.texts).unwrap_or_default();
    PlanText { texts: read(dir, TEXTS, &named), plan, opening: Arc::default() }
}

/// Reads a file again that is named by its hash: it is what it was, or an error.
fn read(dir: &Path, what: &str, hash: &str) -> Result<String, Box<Diagnostic>> {
    let broken = |path: &Path, message: String| {
        let problem = Diagnostic::error(Code::BrokenJournal, &folder::place_of(path), message);
        Box::new(problem.help("put the file back from a copy of the folder"))
    };
    let Some(name) = name(what, hash) else {
        return Err(broken(dir, "the plan does not say which texts it is built from".to_owned()));
    };
    let path = dir.join(name);
    let bytes = folder::read(&path, LARGEST_PLAN)?;
    if chain::hash(&bytes) != hash {
        return Err(broken(&path, format!("`{}` was changed after it was written", path.display())));
    }
    String::from_utf8(bytes).map_err(|_| broken(&path, format!("`{}` is not text", path.display())))
}
