//! The list of an archive: which files it is made of. It is written last and by one rename, so that whoever reads by it finds
//! all tables of a run or none.

use std::path::{Path, PathBuf};

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::sha256;

use crate::cell::{Cell, Row};
use crate::columns::{self, Unread};
use crate::table::{LIST, TABLES, VERSION};

const FORMAT: &str = "standpipe.archive/";
/// Six files of a month are some 700 bytes: a thousand shops for ten years.
const LARGEST: u64 = 256 << 20;
/// Of 512 jobs one table has a megabyte.
const LARGEST_FILE: u64 = 1 << 30;

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct List {
    /// `standpipe.archive/1`: of the list itself, and of what the columns mean.
    schema: String,
    /// By the id of each shop what only its key makes: two shops of one id have different ones.
    pub shops: IndexMap<String, String>,
    pub batches: Vec<Batch>,
}

/// Jobs of one shop and month that were added together: a file of the same name in each table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    pub shop: String,
    pub month: String,
    pub name: String,
    pub jobs: u64,
    pub tables: IndexMap<String, Columns>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Columns {
    pub rows: u64,
    pub bytes: u64,
    pub sha256: String,
}

impl Batch {
    /// Some columns of its file of a table.
    ///
    /// Errors: why it can't be read.
    pub fn read<const N: usize>(
        &self,
        archive: &Path,
        table: &str,
        columns: [&str; N],
    ) -> Result<Vec<[Cell; N]>, Unread> {
        let rows = self.rows(archive, table, &columns)?;
        Ok(rows.into_iter().filter_map(|row| row.try_into().ok()).collect())
    }

    /// The same, for any number of columns.
    pub fn rows(&self, archive: &Path, table: &str, columns: &[&str]) -> Result<Vec<Row>, Unread> {
        let broken = |why: &str| Unread::Broken(why.to_owned());
        let listed = self.tables.get(table).ok_or_else(|| broken("the list does not name it"))?;
        let bytes = standpipe_disk::bytes(&archive.join(self.path(table)), LARGEST_FILE);
        let bytes = bytes.map_err(|fault| broken(&fault.to_string()))?;
        let hash = sha256(&bytes);
        // A version that is newer says so, whatever became of the bytes.
        match columns::read(bytes, columns) {
            Ok(_) if hash != listed.sha256 => Err(broken("it is not as it was written")),
            rows => rows,
        }
    }

    /// Where its file of a table lies in the archive.
    pub fn path(&self, table: &str) -> PathBuf {
        let shop = match self.shop.as_str() {
            "" => "-".to_owned(),
            shop => plain(shop),
        };
        [table, &format!("shop={shop}"), &format!("month={}", self.month), &format!("{}.parquet", self.name)]
            .iter()
            .collect()
    }
}

/// As the name of a folder: what is more than letters and digits by its number, as in addresses.
fn plain(text: &str) -> String {
    let mut plain = String::new();
    for byte in text.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' => plain.push(char::from(byte)),
            _ => plain.push_str(&format!("%{byte:02X}")),
        }
    }
    plain
}

impl List {
    /// That of an archive; an empty one where there is none yet.
    ///
    /// Errors: it can't be read; a newer version wrote it.
    pub fn read(archive: &Path) -> Result<Self, Box<Diagnostic>> {
        let path = archive.join(LIST);
        if path.symlink_metadata().is_err() {
            return Ok(Self { schema: format!("{FORMAT}{VERSION}"), shops: IndexMap::new(), batches: Vec::new() });
        }
        let broken = |why: String| {
            let problem = about(&path, Code::UnreadableFile, format!("the list of the archive can't be read: {why}"));
            Box::new(problem.help("put it back from a copy, or make a new archive in another folder"))
        };
        let text = standpipe_disk::text(&path, LARGEST).map_err(|fault| broken(fault.to_string()))?;
        #[derive(Deserialize)]
        struct Says {
            schema: String,
        }
        let says: Says = serde_json::from_str(&text).map_err(|fault| broken(fault.to_string()))?;
        let version = says.schema.strip_prefix(FORMAT).and_then(|version| version.parse::<u32>().ok());
        match version {
            Some(VERSION) => serde_json::from_str(&text).map_err(|fault| broken(fault.to_string())),
            Some(newer) if newer > VERSION => {
                let message =
                    format!("the archive is of version {newer} of its tables, and this program writes {VERSION}");
                let problem = about(&path, Code::NewerVersion, message);
                Err(Box::new(problem.help("use the version that wrote it, or a later one; nothing was changed")))
            }
            _ => Err(broken(format!("there never was a format `{}`", says.schema))),
        }
    }

    pub fn write(&self, archive: &Path) -> Result<(), Box<Diagnostic>> {
        let path = archive.join(LIST);
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        standpipe_disk::whole(&path, text.as_bytes())
            .map_err(|fault| Box::new(about(&path, Code::Unwritable, format!("the list can't be written: {fault}"))))
    }

    /// Takes batches out of the list that lack a file, or have one of another length: a copy that was cut off, or a disk that lost
    /// something. Their jobs are added again where their journals are at hand.
    pub fn leave_out_broken(&mut self, archive: &Path, problems: &mut Problems) {
        self.batches.retain(|batch| {
            let wrong = TABLES.iter().find_map(|table| {
                let path = archive.join(batch.path(table.name));
                let Some(listed) = batch.tables.get(table.name) else {
                    return Some((path, "the list does not name it".to_owned()));
                };
                match std::fs::metadata(&path) {
                    Ok(meta) if meta.len() == listed.bytes => None,
                    Ok(meta) => {
                        Some((path, format!("it has {} bytes, and was written with {}", meta.len(), listed.bytes)))
                    }
                    Err(fault) => Some((path, fault.to_string())),
                }
            });
            if let Some((path, why)) = &wrong {
                problems.push(left_out(path, why, batch));
            }
            wrong.is_none()
        });
    }

    /// Files of columns that no list names: no reader by the list sees them, but one who takes all files of a folder does.
    pub fn strays(&self, archive: &Path, problems: &mut Problems) {
        let listed: std::collections::HashSet<PathBuf> =
            self.batches.iter().flat_map(|batch| TABLES.iter().map(|table| batch.path(table.name))).collect();
        for table in &TABLES {
            let mut found = Vec::new();
            columns_below(&archive.join(table.name), 0, &mut found);
            for path in found {
                if path.strip_prefix(archive).is_ok_and(|inner| !listed.contains(inner)) {
                    problems.push(
                        about(
                            &path,
                            Code::StrayFile,
                            format!("`{}` is not in the list of the archive", path.display()),
                        )
                        .help("delete it: a run that was cut off left it, or somebody put it here"),
                    );
                }
            }
        }
    }
}

/// `TABLE/shop=/month=/` and no deeper.
const DEEPEST: u32 = 2;

fn columns_below(folder: &Path, depth: u32, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> =
        std::fs::read_dir(folder).into_iter().flatten().flatten().map(|it| it.path()).collect();
    entries.sort();
    for path in entries {
        if path.extension().is_some_and(|ending| ending == "parquet") {
            found.push(path);
        } else if depth < DEEPEST && path.is_dir() && !path.is_symlink() {
            columns_below(&path, depth + 1, found);
        }
    }
}

pub fn left_out(path: &Path, why: &str, batch: &Batch) -> Diagnostic {
    taken_out(unread(path, Unread::Broken(why.to_owned())), batch)
}

pub fn taken_out(problem: Diagnostic, batch: &Batch) -> Diagnostic {
    problem.help(format!(
        "it was taken out of the list with the other tables of the same {} jobs; those whose journals were named are added again",
        batch.jobs
    ))
}

/// What is wrong with a file, as a message.
pub fn unread(path: &Path, unread: Unread) -> Diagnostic {
    let (code, why) = match unread {
        Unread::Newer(version) => (Code::NewerVersion, format!("its columns are of version {version}")),
        Unread::Broken(why) => (Code::UnreadableFile, why),
    };
    about(path, code, format!("`{}` can't be read: {why}", path.display()))
}

pub fn about(path: &Path, code: Code, message: String) -> Diagnostic {
    Diagnostic::error(code, &Place::whole(&Source::new(path.display().to_string(), "")), message)
}
