//! Finding the folders of jobs.

use std::path::{Path, PathBuf};

use indexmap::IndexSet;

use standpipe_book::Book;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::{Journal, journal};
use standpipe_pack::{Fault, Unpacked, is_pack, unpack};

/// A message about a path given as an argument.
pub fn about(path: &Path, code: Code, message: impl Into<String>) -> Diagnostic {
    Diagnostic::error(code, &Place::whole(&Source::new(path.display().to_string(), "")), message)
}

/// A job of many that this program failed on.
pub fn defect(folder: &Path) -> Diagnostic {
    about(
        folder,
        Code::UnreadableFile,
        format!("a defect of this program ended what was done for {}", folder.display()),
    )
}

/// The folder of a journal: the folder itself, or the one that a file of it lies in.
pub fn folder_of(path: &Path) -> Result<PathBuf, Box<Diagnostic>> {
    let folder = match path.is_dir() {
        true => path.to_owned(),
        false => path.parent().map(Path::to_owned).unwrap_or_default(),
    };
    if Journal::is_in(&folder) {
        return Ok(folder);
    }
    Err(Box::new(
        about(path, Code::BrokenJournal, format!("there is no journal in {}", path.display()))
            .expected("the folder of a job, with a journal.jsonl and a plan.json in it")
            .help("`standpipe jobs FOLDER` lists the jobs below a folder"),
    ))
}

/// A job to look at: its folder, or that in which a pack was taken out as long as this lives.
pub struct Looked {
    pub folder: PathBuf,
    pack: Option<(Unpacked, String)>,
}

impl Looked {
    /// Messages about what was taken out, by the name of the pack.
    pub fn named(&self, mut problems: Problems) -> Problems {
        let Some((_, pack)) = &self.pack else { return problems };
        let folder = self.folder.display().to_string();
        for problem in &mut problems {
            problem.message = problem.message.replace(&folder, pack);
            let source = problem.place.source();
            let renamed = Source::new(source.name.replace(&folder, pack), source.text.clone());
            problem.place = Place::new(&renamed, problem.place.range());
        }
        problems
    }
}

/// The folder of a journal, as [`folder_of`], or a pack.
pub fn look_at(path: &Path) -> Result<Looked, Box<Diagnostic>> {
    if !is_pack(path) {
        return Ok(Looked { folder: folder_of(path)?, pack: None });
    }
    let name = path.display().to_string();
    let unpacked = unpack(path).map_err(|fault| match fault {
        Fault::Newer => about(path, Code::NewerVersion, format!("a newer version of this program packed `{name}`"))
            .help("use that version, or a later one"),
        Fault::Broken(why) | Fault::Disk(why) => {
            about(path, Code::BrokenJournal, format!("`{name}` can't be read: {why}"))
                .expected("a pack, as `standpipe pack` makes it")
        }
    })?;
    Ok(Looked { folder: unpacked.job(), pack: Some((unpacked, name)) })
}

/// The journals that the paths name or hold, each once.
pub fn journals(paths: &[PathBuf], problems: &mut Problems) -> Vec<PathBuf> {
    let mut folders: IndexSet<PathBuf> = IndexSet::new();
    for path in paths {
        for folder in found(path, problems) {
            folders.insert(folder);
        }
    }
    folders.into_iter().collect()
}

fn found(path: &Path, problems: &mut Problems) -> Vec<PathBuf> {
    if !path.exists() {
        let problem = about(path, Code::UnreadableFile, format!("there is no {}", path.display()));
        problems.push(problem.help("name a journal, or a folder with journals in it"));
        return Vec::new();
    }
    if is_pack(path) {
        return vec![path.to_owned()];
    }
    if !path.is_dir() {
        return match folder_of(path) {
            Ok(folder) => vec![folder],
            Err(fault) => {
                problems.push(*fault);
                Vec::new()
            }
        };
    }
    let below = journal::below(path);
    // Beside a book even no job at all says something.
    if below.is_empty() && Book::of(path).is_none() {
        problems.push(
            about(path, Code::BrokenJournal, format!("there is no journal in {} or below it", path.display()))
                .expected("folders of jobs, with a journal.jsonl and a plan.json in each")
                .help("`standpipe run` makes one for each job"),
        );
    }
    below
}
