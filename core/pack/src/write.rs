//! Writing a pack.

use std::collections::{BTreeMap, HashSet};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use standpipe_apart::Values;
use standpipe_book::{Book, extract};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::Journal;
use standpipe_job::journal::{self, Contents, LINES, LeftOut, TEXTS_APART, evidence};
use standpipe_job::plan::{Private, kept};

use crate::crc::Crc;
use crate::form::{Entry, end};
use crate::read::is_pack;
use crate::{ABOUT, EXTRACT, FORMAT, JOB, LARGEST, MOST_FILES, Whom, about, name};

/// What became of a job that was packed.
#[derive(Debug)]
pub struct Packed {
    pub files: usize,
    pub bytes: u64,
    /// Lines of the book beside the job; none where it has no book.
    pub entered: Option<usize>,
    /// Nothing follows in the journal.
    pub closed: bool,
    /// Texts of people: how many are in it, and how many are not.
    pub texts: (u64, u64),
    /// What people typed all the same, since something is worked out with it; where texts are left out.
    pub open: Vec<String>,
    /// Files of evidence that were left out.
    pub evidence_left_out: usize,
    /// What the journal names and could not be packed.
    pub problems: Problems,
}

/// Packs the job in a folder: all of it under that name, or nothing.
///
/// Errors: no journal that can be read, one from which nothing can be left out, a book that does not hold, a file of that name,
/// or one that can't be written.
pub fn pack(dir: &Path, to: &Path, whom: Whom) -> Result<Packed, Box<Diagnostic>> {
    if !is_pack(to) {
        let problem = fault(to, Code::WrongArguments, format!("`{}` can't be the name of a pack", to.display()));
        return Err(Box::new(problem.expected("a file whose name ends in `.zip`")));
    }
    // In this order, as all of them may grow meanwhile: a line of the book and a signature tell of a journal that is there, and an
    // event of evidence that is there.
    let extract = match Book::beside(dir) {
        Some(book) => Some(extract::of(&book, &Book::name_of(dir))?),
        None => None,
    };
    let signatures = standpipe_sign::all_beside(dir).map_err(|fault| {
        let folder = dir.join(standpipe_sign::FOLDER);
        let message = format!("`{}` can't be read: {fault}", folder.display());
        Box::new(
            self::fault(&folder, Code::UnreadableFile, message).help("make it readable, or put it back from a copy"),
        )
    })?;
    let length = standpipe_disk::own(dir, LINES).and_then(|file| Ok(file.metadata()?.len()));
    let contents = Journal::read(dir)?;
    let mut files = journal::files(&contents);
    let keeps_apart = files.remove(TEXTS_APART).is_some();
    if whom != Whom::Workshop && !keeps_apart {
        let message = "nothing can be left out of this job: its texts are part of its journal, as they were before a version that \
                       keeps them apart";
        let problem = fault(dir, Code::BrokenJournal, message.to_owned());
        return Err(Box::new(problem.help("hand over the page for the customer, or a job that was begun since")));
    }
    let mut left_out = LeftOut::of(dir);
    if whom != Whom::Workshop {
        whom.word().clone_into(&mut left_out.whom);
    }
    if !whom.gets_evidence() {
        let is_evidence = |name: &String| name.starts_with("evidence/") || name.starts_with(evidence::STREAMS);
        left_out.files.extend(files.keys().filter(|name| is_evidence(name)).cloned());
    }
    files.retain(|name, _| !left_out.files.contains(name));
    let texts = Texts::of(dir, &contents, whom);
    let open = match whom {
        Whom::Workshop => Vec::new(),
        _ => open_texts(dir, &contents)?,
    };
    files.extend(length.map(|length| (LINES.to_owned(), length)));
    let signatures = signatures.into_iter().filter(|file| standpipe_sign::is_name(&file.name));
    files.extend(signatures.map(|file| (format!("{}/{}", standpipe_sign::FOLDER, file.name), standpipe_sign::LARGEST)));
    let mut problems = contents.apart_problems(dir);
    let made = [
        (TEXTS_APART, keeps_apart.then(|| texts.lines.clone()).filter(|lines| !lines.is_empty())),
        (LeftOut::FILE, Some(left_out.written()).filter(|_| left_out != LeftOut::default())),
    ];
    let made = made.into_iter().filter_map(|(name, text)| Some((name.to_owned(), text?)));
    let made: BTreeMap<String, String> = made.collect();
    let names: BTreeMap<String, u64> = files.into_iter().chain(made.keys().map(|name| (name.clone(), 0))).collect();
    let packed = standpipe_disk::fresh(to, |file| {
        let mut out = Out { file, entries: Vec::new(), at: 0 };
        out.add(ABOUT, about(if keeps_apart { FORMAT } else { 1 }).as_bytes())?;
        if let Some((bytes, _)) = &extract {
            out.add(EXTRACT, bytes.as_slice())?;
        }
        for (name, most) in &names {
            if let Some(text) = made.get(name) {
                out.add(&format!("{JOB}{name}"), text.as_bytes())?;
                continue;
            }
            let left_out = |why: String| {
                let message = format!("`{name}`, which belongs to the job, is not in the pack: {why}");
                fault(&dir.join(name), Code::BrokenJournal, message).help("put the file back from a copy of the folder")
            };
            let packed = format!("{JOB}{name}");
            if name::most(&packed).is_none() {
                problems.push(left_out("a file of that name can't be opened everywhere".to_owned()));
                continue;
            }
            match standpipe_disk::own(dir, name) {
                Ok(file) => out.add(&packed, file.take(*most))?,
                Err(fault) => problems.push(left_out(fault.to_string())),
            }
        }
        out.finish()
    });
    let (files, bytes) = packed.map_err(|found| match found.kind() {
        io::ErrorKind::AlreadyExists => {
            let problem = fault(to, Code::Unwritable, format!("there is a `{}` already", to.display()));
            Box::new(problem.help("name another file: nothing is written over"))
        }
        _ => Box::new(fault(to, Code::Unwritable, format!("`{}` can't be written: {found}", to.display()))),
    })?;
    let closed = contents.records.last().is_some_and(|record| {
        matches!(record.event, standpipe_job::Event::Finished | standpipe_job::Event::Abandoned { .. })
    });
    let entered = extract.map(|(_, lines)| lines);
    let evidence_left_out = left_out.files.len();
    Ok(Packed { files, bytes, entered, closed, texts: (texts.kept, texts.left_out), open, evidence_left_out, problems })
}

/// Texts that are kept apart, as they go into a pack: those that the journal names, and that are for whom it is.
struct Texts {
    lines: String,
    kept: u64,
    left_out: u64,
}

impl Texts {
    fn of(dir: &Path, contents: &Contents, whom: Whom) -> Self {
        let mut texts = Self { lines: String::new(), kept: 0, left_out: contents.apart.left_out };
        let mut had = HashSet::new();
        for line in Values::read(dir).lines.iter().filter(|line| contents.apart.names(&line.token)) {
            if !had.insert(line.token.clone()) {
                continue;
            }
            if whom.gets(line.of) {
                texts.lines.push_str(&line.written());
                texts.kept += 1;
            } else {
                texts.left_out += 1;
            }
        }
        texts
    }
}

fn open_texts(dir: &Path, contents: &Contents) -> Result<Vec<String>, Box<Diagnostic>> {
    let plan = contents.current().and_then(|plan| {
        kept(plan, &dir.join(journal::PLAN).display().to_string())
            .map_err(|mut problems| Box::new(problems.swap_remove(0)))
    })?;
    Ok(Private::of(&plan).read)
}

fn fault(path: &Path, code: Code, message: String) -> Diagnostic {
    Diagnostic::error(code, &Place::whole(&Source::new(path.display().to_string(), "")), message)
}

struct Out<'a> {
    file: &'a mut File,
    entries: Vec<Entry>,
    at: u64,
}

impl Out<'_> {
    fn add(&mut self, name: &str, input: impl Read) -> io::Result<()> {
        let at = u32::try_from(self.at).map_err(|_| too_large())?;
        let mut entry = Entry { name: name.to_owned(), crc: 0, size: 0, at };
        // The header stands first and says what is known last.
        self.file.write_all(&entry.local())?;
        let (mut crc, mut size) = (Crc::new(), 0_u64);
        standpipe_disk::pieces(
            input,
            |fault| fault,
            |piece| {
                crc.update(piece);
                size += piece.len() as u64;
                if self.at + size > LARGEST {
                    return Err(too_large());
                }
                self.file.write_all(piece)
            },
        )?;
        entry.crc = crc.sum();
        entry.size = u32::try_from(size).map_err(|_| too_large())?;
        self.file.seek(SeekFrom::Start(self.at))?;
        self.file.write_all(&entry.local())?;
        self.at = entry.end();
        self.file.seek(SeekFrom::Start(self.at))?;
        self.entries.push(entry);
        Ok(())
    }

    fn finish(self) -> io::Result<(usize, u64)> {
        let list: Vec<u8> = self.entries.iter().flat_map(Entry::central).collect();
        let tail = match (u16::try_from(self.entries.len()), u32::try_from(list.len()), u32::try_from(self.at)) {
            (Ok(count), Ok(size), Ok(at)) if self.entries.len() <= MOST_FILES => end(count, size, at),
            _ => return Err(too_large()),
        };
        let bytes = self.at + (list.len() + tail.len()) as u64;
        if bytes > LARGEST {
            return Err(too_large());
        }
        self.file.write_all(&list)?;
        self.file.write_all(&tail)?;
        Ok((self.entries.len(), bytes))
    }
}

fn too_large() -> io::Error {
    let message = format!("a pack has at most {LARGEST} bytes and {MOST_FILES} files, and this job has more");
    io::Error::new(io::ErrorKind::FileTooLarge, message)
}
