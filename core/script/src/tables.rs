//! Tables of plugins, as scripts ask for them: known by name from the start, parsed when one is first asked for.

use std::cell::{OnceCell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use indexmap::IndexMap;

use super::guest::{Complaint, Stop, raise};
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, nearest};
use standpipe_quantity::Units;
use standpipe_quantity::table::Table;
use standpipe_yaml::At;

/// A table of a plugin, as text.
#[derive(Clone, Debug)]
pub struct TableFile {
    pub id: Arc<str>,
    /// Id of the plugin it belongs to.
    pub plugin: Arc<str>,
    pub source: Arc<Source>,
}

struct Held {
    file: TableFile,
    table: OnceCell<Result<Rc<Table>, Complaint>>,
}

#[derive(Default)]
pub(super) struct Tables {
    held: Vec<Held>,
    needs: IndexMap<Arc<str>, Vec<Arc<str>>>,
    /// The plugin whose sheet is running. A job keeps the tables of the plugins it uses and of those they need; one that is
    /// out of sight would be missing when the job is resumed.
    caller: RefCell<Arc<str>>,
}

impl Tables {
    pub fn new(files: Vec<TableFile>, needs: IndexMap<Arc<str>, Vec<Arc<str>>>) -> Self {
        let held = files.into_iter().map(|file| Held { file, table: OnceCell::new() }).collect();
        Self { held, needs, caller: RefCell::default() }
    }

    pub fn called_by(&self, plugin: &str) {
        if &**self.caller.borrow() != plugin {
            *self.caller.borrow_mut() = plugin.into();
        }
    }

    pub fn get(&self, id: &str, units: &Units) -> Result<Rc<Table>, Stop> {
        let caller = self.caller.borrow().clone();
        let held = self.find(id, &caller).map_err(raise)?;
        held.table.get_or_init(|| parse(&held.file, units)).clone().map_err(raise)
    }

    /// What is wrong with a table's name that is written out in a script of a plugin.
    pub fn check(&self, plugin: &str, id: &At<String>) -> Option<Diagnostic> {
        let complaint = self.find(id, plugin).err()?;
        let mut diagnostic = Diagnostic::error(complaint.code, &id.place, complaint.message);
        diagnostic.help = complaint.help;
        Some(diagnostic)
    }

    fn find(&self, id: &str, plugin: &str) -> Result<&Held, Complaint> {
        let complain =
            |message: String, help: Option<String>| Complaint { code: Code::UnknownReference, message, help };
        let Some(held) = self.held.iter().find(|held| &*held.file.id == id) else {
            let near = nearest(id, self.held.iter().map(|held| &*held.file.id));
            return Err(complain(
                format!("there is no table `{id}`"),
                near.map(|near| format!("did you mean `{near}`?")),
            ));
        };
        let of = &held.file.plugin;
        if plugin.is_empty() || self.reaches(plugin, of, self.needs.len()) {
            return Ok(held);
        }
        let help = format!("add `{of}` to `needs` in the plugin.yaml of `{plugin}`");
        Err(complain(format!("the table `{id}` belongs to `{of}`, which `{plugin}` does not need"), Some(help)))
    }

    /// Whether a plugin is the other, or needs it, or needs one that needs it.
    fn reaches(&self, plugin: &str, other: &str, steps: usize) -> bool {
        let needs = || self.needs.get(plugin).into_iter().flatten();
        plugin == other || (steps > 0 && needs().any(|need| self.reaches(need, other, steps - 1)))
    }
}

fn parse(file: &TableFile, units: &Units) -> Result<Rc<Table>, Complaint> {
    let mut problems = Vec::new();
    let table = Table::read(&file.id, &file.source, units, &mut problems);
    table.map(Rc::new).ok_or_else(|| match problems.into_iter().find(Diagnostic::is_error) {
        Some(problem) => Complaint {
            code: problem.code,
            message: format!("the table `{}` can't be used: {}: {}", file.id, problem.place, problem.message),
            help: problem.help,
        },
        None => {
            Complaint { code: Code::FaultyTable, message: format!("the table `{}` can't be used", file.id), help: None }
        }
    })
}
