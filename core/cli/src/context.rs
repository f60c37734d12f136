//! What every command shares: where plugins and shop are, and how things are written out.

use std::cell::RefCell;
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::ValueEnum;
use serde_json::{Value as Json, json};

use super::Exit;
use super::args::{Color, Common, Format};
use super::job_folder::about;
use standpipe_diagnostic::columns::{for_terminal, json_for_terminal};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Look, Problems, human, json as problems_json};
use standpipe_job::plan::{Inputs, Parsed, typed};
use standpipe_library::{Files, Layer, Shop, read_file};
use standpipe_overlay::Overlay;
use standpipe_quantity::Units;
use standpipe_yaml as yaml;

pub struct Context {
    pub common: Common,
    /// The first part of the result that could not be written.
    unwritten: RefCell<Option<std::io::Error>>,
}

/// Columns of a page of text when nobody says otherwise.
const COLUMNS: usize = 80;

impl Context {
    pub fn new(common: &Common) -> Self {
        Self { common: common.clone(), unwritten: RefCell::default() }
    }

    /// The files of all plugins in force, with the shop file if there is one.
    pub fn files(&self, job: Option<(&Path, &Source)>, problems: &mut Problems) -> (Files, Option<Arc<Source>>) {
        let shop = self.common.shop.clone().or_else(|| shop_of(job));
        self.files_with(&[], shop, problems)
    }

    /// As [`Self::files`], with further plugins. One that has the name of a built-in plugin stands in its place: it is
    /// that plugin, being worked on.
    pub fn files_with(
        &self,
        more: &[PathBuf],
        shop_path: Option<PathBuf>,
        problems: &mut Problems,
    ) -> (Files, Option<Arc<Source>>) {
        let mut files = Files::built_in();
        for (index, folder) in self.common.plugins.iter().enumerate() {
            files.add_folder(folder, Layer::Given(index + 1), problems);
        }
        for (index, folder) in more.iter().enumerate() {
            files.stand_in(folder, Layer::Given(self.common.plugins.len() + index + 1), problems);
        }
        let shop = shop_path.as_ref().and_then(|path| read_shop(path, problems));
        if let (Some(path), Some(source)) = (&shop_path, &shop) {
            for (index, folder) in plugins_of(path, source, problems).iter().enumerate() {
                files.add_folder(folder, Layer::Shop(index + 1), problems);
            }
        }
        (files, shop)
    }

    /// Everything that a job file leads to.
    pub fn inputs(&self, job: &Path, problems: &mut Problems) -> Option<Inputs> {
        let source = read_file(job, problems)?;
        let (files, shop) = self.files(Some((job, &source)), problems);
        Some(Inputs::new(source, shop, files))
    }

    /// Plugins and units, without any job.
    pub fn parsed(&self, problems: &mut Problems) -> Parsed {
        let (files, _) = self.files(None, problems);
        Parsed::new(files, problems)
    }

    /// As [`Self::parsed`], with the overlays of the shop.
    pub fn with_overlays(&self, problems: &mut Problems) -> (Parsed, Vec<Overlay>) {
        let (files, shop) = self.files(None, problems);
        let parsed = Parsed::new(files, problems);
        let shop = shop.and_then(|source| Shop::read(&source, &parsed.units, problems)).unwrap_or_default();
        let overlays = parsed.overlays(&shop, problems);
        (parsed, overlays)
    }

    /// The units in force. Without plugins of one's own nothing but the built-in units is parsed.
    pub fn units(&self) -> (Arc<Units>, Problems) {
        let mut problems = Problems::new();
        if self.common.plugins.is_empty() && self.common.shop.is_none() {
            return (Units::standard(), problems);
        }
        let units = self.parsed(&mut problems).units;
        (units, problems)
    }

    /// Whether a command can write its results in the form that was asked for.
    pub fn suits(&self, formats: &[Format]) -> Result<(), Box<Diagnostic>> {
        if formats.contains(&self.common.format) {
            return Ok(());
        }
        let name = |format: Format| format.to_possible_value().map(|value| value.get_name().to_owned());
        let asked = name(self.common.format).unwrap_or_default();
        let at = typed("--format", &asked);
        let known: Vec<String> = formats.iter().filter_map(|format| name(*format)).collect();
        Err(Diagnostic::error(Code::WrongArguments, &at.place, format!("this command has no format `{asked}`"))
            .expected(format!("one of: {}", known.join(", ")))
            .help("write another format, or leave it out")
            .into())
    }

    pub fn format(&self) -> Format {
        self.common.format
    }

    pub fn json(&self) -> bool {
        self.common.format == Format::Json
    }

    pub fn html(&self) -> bool {
        self.common.format == Format::Html
    }

    fn color(&self, terminal: bool) -> bool {
        match self.common.color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        }
    }

    /// Whether results may be coloured.
    pub fn color_out(&self) -> bool {
        self.color(std::io::stdout().is_terminal())
    }

    pub fn color_err(&self) -> bool {
        self.color(std::io::stderr().is_terminal())
    }

    pub fn width(&self) -> usize {
        match std::io::stdout().is_terminal().then(crossterm::terminal::size) {
            Some(Ok((columns, _))) if columns > 0 => usize::from(columns).clamp(40, 120),
            _ => COLUMNS,
        }
    }

    /// How messages are shown.
    pub fn look(&self, color: bool) -> Look {
        Look { color, width: self.width(), folded: std::io::stdout().is_terminal() }
    }

    /// Writes a result. What people read can't move their cursor; what programs read is written as it is.
    pub fn out(&self, text: &str) {
        match self.common.format {
            Format::Human | Format::Short => self.write_out(&for_terminal(text, self.color_out())),
            _ => self.write_out(text),
        }
    }

    /// A reader that has gone away (`| head`) is no fault; any other is kept for the end of the run.
    fn write_out(&self, text: &str) {
        let mut out = std::io::stdout().lock();
        if let Err(fault) = out.write_all(text.as_bytes()).and_then(|()| out.flush())
            && fault.kind() != ErrorKind::BrokenPipe
        {
            self.unwritten.borrow_mut().get_or_insert(fault);
        }
    }

    /// How the run ended, if all of its result was written.
    pub fn settled(&self, exit: Exit) -> Exit {
        match self.unwritten.take() {
            None => exit,
            Some(fault) => {
                self.note(&unwritten(&fault));
                if exit == Exit::Defect { exit } else { Exit::Usage }
            }
        }
    }

    /// Writes a message beside the result.
    pub fn note(&self, text: &str) {
        say(&for_terminal(text, self.color_err()));
    }

    pub fn out_json(&self, value: &Json) {
        let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
        text.push('\n');
        self.write_out(&json_for_terminal(&text));
    }

    /// Messages for people on standard error; in JSON they travel with the result.
    pub fn report(&self, problems: &[Diagnostic]) {
        if problems.is_empty() || self.json() {
            return;
        }
        // The same files may have been read for more than one purpose.
        let problems = standpipe_check::once(problems.to_vec());
        self.note(human(&problems, self.look(self.color_err())).trim_end());
    }

    /// The JSON of a run that has nothing but messages to show.
    pub fn failed(&self, schema: &str, problems: &[Diagnostic]) {
        self.report(problems);
        if self.json() {
            self.out_json(&json!({ "schema": schema, "ok": false, "problems": problems_json(problems) }));
        }
    }
}

/// Where a job file names its shop.
pub fn shop_key(job: &Arc<Source>) -> Option<Place> {
    Some(yaml::parse(job, &mut Problems::new())?.get("shop")?.text_place())
}

/// The shop file that a job file names, relative to it.
pub fn shop_of(job: Option<(&Path, &Source)>) -> Option<PathBuf> {
    let (path, source) = job?;
    let root = yaml::parse(&Source::new(source.name.clone(), source.text.clone()), &mut Problems::new())?;
    let shop = root.get("shop")?.as_text()?;
    Some(path.parent().unwrap_or(Path::new("")).join(shop))
}

/// What is said of a result that could not be written.
pub fn unwritten(fault: &std::io::Error) -> String {
    format!("Error: the result can't be written: {fault}")
}

/// A line beside the result.
pub fn say(text: &str) {
    // There is nobody to tell where standard error is gone too.
    let _ = writeln!(std::io::stderr().lock(), "{text}");
}

/// A job may come from anybody and name any file. What is no YAML by its name, or by that of the file that a link leads to, is
/// not opened, so that no message ever quotes a line of it.
fn read_shop(path: &Path, problems: &mut Problems) -> Option<Arc<Source>> {
    let real = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let is_yaml = |path: &Path| path.extension().is_some_and(|end| end == "yaml" || end == "yml");
    if is_yaml(path) && is_yaml(&real) {
        return read_file(path, problems);
    }
    let message = format!("`{}` does not have the name of a shop file", path.display());
    problems.push(
        about(path, Code::UnreadableFile, message)
            .expected("a file that ends in `.yaml`, or a link to one")
            .help("correct `shop:` of the job, or rename the file"),
    );
    None
}

/// The folders of plugins that a shop file lists, relative to it.
pub fn plugins_of(path: &Path, source: &Arc<Source>, problems: &mut Problems) -> Vec<PathBuf> {
    let Some(root) = yaml::parse(source, &mut Problems::new()) else { return Vec::new() };
    let folder = path.parent().unwrap_or(Path::new(""));
    let listed = root.get("plugins").and_then(yaml::Node::as_list).unwrap_or_default();
    let mut found = Vec::new();
    for node in listed {
        let Some(plugin) = node.as_text() else { continue };
        if folder.join(plugin).exists() {
            found.push(folder.join(plugin));
            continue;
        }
        let beside = std::fs::read_dir(if folder.as_os_str().is_empty() { Path::new(".") } else { folder });
        let beside = beside.into_iter().flatten().filter_map(Result::ok).filter(|entry| entry.path().is_dir());
        let names: Vec<String> = beside.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        let message = format!("there is no folder `{plugin}` beside this file");
        let problem = Diagnostic::error(Code::UnreadableFile, &node.text_place(), message)
            .expected("folders of plugins, relative to the shop file");
        problems.push(problem.nearest(plugin, names.iter().map(String::as_str), "correct the path, or take it out"));
    }
    found
}
