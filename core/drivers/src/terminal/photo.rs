//! Photos: a file by its path, or one of the newest of a folder, which is remembered.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::Outcome;
use super::page::Page;
use super::question::{Answer, Command, Typing, Wants};
use super::screen::step_page;
use super::session::{Fault, Flow, Session, path_of};
use crate::setting::Choice;
use standpipe_job::Prompt;
use standpipe_stream::span;

/// With the way to another folder, one key answers.
const SHOWN: usize = 8;
const KINDS: [&str; 4] = ["jpg", "jpeg", "png", "webp"];
const ASK: &str = "Photo, as a file, or a folder to choose from [path]";
const WHICH: &str = "Which photo? The newest first.";

impl Session<'_> {
    /// The photo that a step is not done without.
    pub(super) fn photo(&mut self, prompt: &Prompt, mut page: Page) -> Result<Flow, Fault> {
        let found = self.newest();
        if found.is_empty() {
            page.ask = format!("{ASK}:");
            return self.line(prompt, page, Wants::Words, |session, typed| session.photo_at(prompt, &typed));
        }
        page.ask = WHICH.to_owned();
        page.choices = choices(&found);
        self.pick(prompt, &page, |session, picked| match found.get(picked) {
            Some((path, _)) => session.photo_at(prompt, &path.display().to_string()),
            None => session.photos = None,
        })
    }

    fn photo_at(&mut self, prompt: &Prompt, typed: &str) {
        if self.is_folder(typed) {
            return;
        }
        if let Some(evidence) = self.kept(typed) {
            self.draft.evidence.push(evidence);
            self.move_on(prompt);
        }
    }

    /// A photo that belongs to the entry under way.
    pub(super) fn attach_here(&mut self, prompt: &Prompt) -> Result<Flow, Fault> {
        let page = step_page(prompt, &self.setting().header(self.job.state()));
        match self.chosen(page)? {
            Err(outcome) => return Ok(Flow::End(outcome)),
            Ok(None) => {}
            Ok(Some(path)) => {
                let evidence = self.kept(&path);
                self.draft.evidence.extend(evidence);
            }
        }
        Ok(Flow::Go)
    }

    /// The path of a photo that nothing waits for; `None` when it was left.
    pub(super) fn chosen(&mut self, page: Page) -> Result<Result<Option<String>, Outcome>, Fault> {
        loop {
            let found = self.newest();
            if found.is_empty() {
                match self.words(page.clone(), ASK, "")? {
                    Ok(Some(typed)) if self.is_folder(&typed) => continue,
                    told => return Ok(told),
                }
            }
            let mut page = Page { ask: WHICH.to_owned(), choices: choices(&found), ..page.clone() };
            page.commands = vec![Command::Back];
            match self.put(&page, Wants::Choice(page.choices.len()), &mut Typing::default())? {
                Answer::Interrupted => return Ok(Err(Outcome::Interrupted)),
                Answer::Picked(picked) => match found.get(picked) {
                    Some((path, _)) => return Ok(Ok(Some(path.display().to_string()))),
                    None => self.photos = None,
                },
                _ => return Ok(Ok(None)),
            }
        }
    }

    /// Whether it is a folder, which is chosen from now on.
    fn is_folder(&mut self, typed: &str) -> bool {
        let path = PathBuf::from(path_of(typed));
        if !path.is_dir() {
            return false;
        }
        self.photos = Some(path);
        // The path of the folder is no beginning of another one's.
        self.typing = Typing::default();
        if self.newest().is_empty() {
            self.photos = None;
            self.refusal =
                vec!["there is no photo in that folder".to_owned(), format!("Expected: {}", KINDS.join(", "))];
        }
        true
    }

    fn newest(&self) -> Vec<(PathBuf, SystemTime)> {
        self.photos.as_deref().map(newest).unwrap_or_default()
    }
}

pub(super) fn newest(folder: &Path) -> Vec<(PathBuf, SystemTime)> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let photo =
        |path: &Path| path.extension().is_some_and(|end| KINDS.iter().any(|kind| end.eq_ignore_ascii_case(kind)));
    let mut found: Vec<(PathBuf, SystemTime)> = entries
        .filter(|entry| photo(&entry.path()) && entry.file_type().is_ok_and(|kind| kind.is_file()))
        .filter_map(|entry| Some((entry.path(), entry.metadata().ok()?.modified().ok()?)))
        .collect();
    found.sort_by(|(one, of_one), (other, of_other)| of_other.cmp(of_one).then_with(|| one.cmp(other)));
    found.truncate(SHOWN);
    found
}

fn choices(found: &[(PathBuf, SystemTime)]) -> Vec<Choice> {
    let name = |path: &Path| path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let now = SystemTime::now();
    let ago = |time: &SystemTime| Some(format!("{} ago", span(now.duration_since(*time).ok()?.as_secs_f64())));
    let all = found.iter().map(|(path, time)| Choice { name: name(path), meaning: ago(time) });
    all.chain([Choice { name: "another file or folder".to_owned(), meaning: None }]).collect()
}
