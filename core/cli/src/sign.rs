//! `sign`: acts of a job signed by key, by whoever did them; and `run --key`, which signs them as they are made.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use clap::Args as ClapArgs;
use serde_json::json;

use super::Exit;
use super::context::Context;
use super::job_folder::{about, folder_of};
use super::when;
use standpipe_diagnostic::columns::clean;
use standpipe_diagnostic::{Code, Diagnostic, Problems, Severity, has_errors};
use standpipe_job::{Hold, Moment, OpenJob, Origin};
use standpipe_library::read_file;
use standpipe_report::count;
use standpipe_sign::{
    Deed, Entered, Signed, Signers, Standing, Statement, Unsigned, all_beside, deeds, heads, probe, signed, to_sign,
};

const SCHEMA: &str = "standpipe.sign/1";

#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of a job, or its journal file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// Whose acts are signed, as the shop knows them
    #[arg(long, value_name = "PERSON")]
    pub by: String,
    /// Their key: the file of a private one, or of a public one whose private half an agent holds
    #[arg(long, value_name = "FILE")]
    pub key: PathBuf,
    /// When it is signed; by default now
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
}

pub fn run(args: &Args, context: &Context) -> Exit {
    match signed_now(args) {
        Ok((job, lines)) => {
            let named = args.key.display().to_string();
            if context.json() {
                let lines: Vec<_> = lines.iter().map(|deed| json!({ "line": deed.line, "act": deed.act })).collect();
                context.out_json(&json!({
                    "schema": SCHEMA, "ok": true, "job": job, "by": args.by, "signed": lines, "problems": [],
                }));
            } else {
                context.out(&text(&args.by, &named, &lines));
            }
            Exit::Well
        }
        Err(problems) => {
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

fn text(by: &str, key: &str, signed: &[Deed]) -> String {
    if signed.is_empty() {
        return format!("nothing to sign: all acts of {} are signed\n", clean(by));
    }
    let mut text = format!("{} of {} signed by {}\n", count(signed.len(), "act"), clean(by), clean(key));
    for deed in signed {
        text.push_str(&format!("{:>6}  {}\n", deed.line, deed.act.word()));
    }
    text
}

/// The job, and what was signed now.
fn signed_now(args: &Args) -> Result<(String, Vec<Deed>), Problems> {
    let folder = folder_of(&args.job).map_err(|fault| vec![*fault])?;
    let job = OpenJob::open(&folder, Hold::Look)?;
    if has_errors(job.problems()) {
        return Err(job.problems().clone());
    }
    let all = deeds(job.plan(), job.records(), 0);
    if !all.iter().any(|deed| deed.by == args.by) {
        let mut people: Vec<&str> = all.iter().map(|deed| deed.by.as_str()).collect();
        people.sort_unstable();
        people.dedup();
        let message = format!("{} did nothing in this job that can be signed", args.by);
        let problem = about(&folder, Code::UnknownPerson, message);
        return Err(vec![problem.nearest(
            &args.by,
            people.iter().copied(),
            format!("those are {}", people.join(", ")),
        )]);
    }
    let at = when::told(args.at.as_deref(), &job).map_err(|fault| vec![*fault])?;
    let fail = |unsigned: Unsigned| vec![not_signed(&folder, unsigned)];
    let lines = sign_since(&job, 0, &args.by, &args.key, &|_| (at, Moment::now())).map_err(fail)?;
    Ok((job.plan().job.id.clone(), lines))
}

/// Signs what that person did from this event on, as far as nothing lies there for it. `at`: when each is signed, and entered in the book.
fn sign_since(
    job: &OpenJob,
    since: u64,
    by: &str,
    key: &Path,
    at: &dyn Fn(&Deed) -> (Moment, Moment),
) -> Result<Vec<Deed>, Unsigned> {
    let id = &job.plan().job.id;
    let mut done = Vec::new();
    for (deed, head) in to_sign(job, since, by)? {
        let (at, entered_at) = at(&deed);
        let statement = Statement { job: id, deed: &deed, head: &head, at };
        standpipe_sign::sign(job.dir(), &statement, key, entered_at)?;
        done.push(deed);
    }
    Ok(done)
}

fn not_signed(place: &Path, unsigned: Unsigned) -> Diagnostic {
    about(place, Code::NotSigned, unsigned.message).help(unsigned.help)
}

/// Signs while a job is run.
pub struct Pen {
    told: Rc<RefCell<Told>>,
}

#[derive(Default)]
struct Told {
    signed: usize,
    failed: Vec<Unsigned>,
}

impl Pen {
    /// Signs what this person does in the job from here, when it is on the disk. Answers have the time of their entry, as everything
    /// of theirs.
    ///
    /// Errors: the key can't sign at all.
    pub fn take(job: &mut OpenJob, by: &str, key: &Path) -> Result<Self, Box<Diagnostic>> {
        probe(key).map_err(|unsigned| Box::new(not_signed(key, unsigned)))?;
        let told = Rc::new(RefCell::new(Told::default()));
        let (by, key, kept) = (by.to_owned(), key.to_owned(), told.clone());
        job.tell(Box::new(move |job, since| {
            let origin = |deed: &Deed| job.records().iter().find(|record| record.seq == deed.line).map(|it| it.origin);
            let at = |deed: &Deed| {
                let at = if origin(deed) == Some(Origin::Answers) { deed.at } else { Moment::now() };
                (at, at)
            };
            let signed = sign_since(job, since, &by, &key, &at);
            let mut told = kept.borrow_mut();
            match signed {
                Ok(lines) => told.signed += lines.len(),
                Err(unsigned) if !told.failed.contains(&unsigned) => told.failed.push(unsigned),
                Err(_) => {}
            }
        }));
        Ok(Self { told })
    }

    pub fn signed(&self) -> usize {
        self.told.borrow().signed
    }

    /// What could not be signed. It is recorded all the same.
    pub fn problems(&self, job: &OpenJob) -> Problems {
        let failed = self.told.borrow().failed.clone();
        let warning = |unsigned| Diagnostic { severity: Severity::Warning, ..not_signed(job.dir(), unsigned) };
        failed.into_iter().map(warning).collect()
    }
}

/// What of a job is not signed by key though the shop wants it, in a sentence; none where nothing is.
pub fn wanting(job: &OpenJob) -> Option<String> {
    let wanted = &job.plan().shop.by_key;
    if wanted.is_empty() {
        return None;
    }
    let deeds = deeds(job.plan(), job.records(), 0);
    let (heads, beside) = (heads(job.dir()).ok()?, all_beside(job.dir()).ok()?);
    let (all, _) = signed(&job.plan().job.id, &deeds, &heads, &beside, None, &Entered::new());
    let is_open = |act: &&Signed| act.standing == Standing::Unsigned && wanted.contains(&act.act);
    let open: Vec<String> =
        all.iter().filter(is_open).map(|act| format!("{} by {} (line {})", act.act.word(), act.by, act.line)).collect();
    let rest = "`standpipe sign JOB --by PERSON --key FILE` does it later";
    (!open.is_empty()).then(|| format!("not signed by key yet, and not shown until it is: {}; {rest}", open.join(", ")))
}

/// The list of who may sign by which key, as `--signers` names it. None where it has a fault: it is used in full or not at all.
pub fn listed(path: Option<&Path>, problems: &mut Problems) -> Option<Signers> {
    let source = read_file(path?, problems)?;
    let (signers, found) = Signers::read(&source);
    let faulty = has_errors(&found);
    problems.extend(found);
    (!faulty).then_some(signers)
}
