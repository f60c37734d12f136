//! Two versions of plugins held against one another, in words. What makes it easier for a job to end as shown comes first: a gate
//! that is loosened, a second person who need not look any more, an example that is gone.

mod cases;
mod condition;
mod documents;
mod family;
mod procedure;
mod step;
mod table;
mod value;

pub use cases::{Tried, tried};

use indexmap::IndexSet;
use serde::Serialize;

use super::stock::Stock;
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Place;
use standpipe_job::plan::Parsed;
use standpipe_library::{Document, Kind};

/// Which way a difference goes; what asks most for a second look comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// A job ends as shown more easily.
    Easier,
    /// It may, or it may be harder: only who knows the work can say.
    Open,
    /// A job ends as shown less easily.
    Harder,
    /// What is said, and not what has to be.
    Words,
}

/// One difference.
#[derive(Clone, Debug, Serialize)]
pub struct Difference {
    /// Which way it goes.
    pub way: Way,
    /// What differs: `procedure level, step level-close`.
    pub of: String,
    /// In words.
    pub what: String,
    /// Where it stood.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub was: Option<Place>,
    /// Where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub is: Option<Place>,
}

/// All that is in force with one version of the plugins.
pub struct Version {
    pub parsed: Parsed,
    pub stock: Stock,
}

impl Version {
    /// Without any shop's overlays: these are files of their own, and compared as such.
    pub fn read(parsed: Parsed, problems: &mut Problems) -> Self {
        let stock = Stock::read(&parsed, &mut [], problems);
        Self { parsed, stock }
    }

    fn documents(&self, kind: Kind, plugins: &IndexSet<String>) -> Vec<&Document> {
        let all = self.parsed.library.documents(kind).filter(|document| plugins.contains(&document.plugin));
        all.map(|document| &**document).collect()
    }
}

/// What differs in these plugins, the most dangerous first.
pub fn compare(old: &Version, new: &Version, plugins: &IndexSet<String>) -> Vec<Difference> {
    let mut found = Found {
        units: &new.stock.units,
        of: String::new(),
        list: Vec::new(),
        before: procedure::all_steps(&old.documents(Kind::Procedure, plugins)),
        after: procedure::all_steps(&new.documents(Kind::Procedure, plugins)),
    };
    let mut kinds = Kind::ALL;
    kinds.sort_by_key(|kind| FOLLOWED.iter().position(|it| it == kind).unwrap_or(FOLLOWED.len()));
    for kind in kinds {
        let (before, after) = (old.documents(kind, plugins), new.documents(kind, plugins));
        for document in &before {
            found.of = format!("{kind} {}", document.id);
            match after.iter().find(|other| other.id == document.id && other.plugin == document.plugin) {
                Some(other) if other.source.text == document.source.text => {}
                Some(other) => found.document(document, other, old, new),
                None => found.gone(document),
            }
        }
        for document in after {
            if !before.iter().any(|other| other.id == document.id && other.plugin == document.plugin) {
                found.of = format!("{kind} {}", document.id);
                found.came(document);
            }
        }
    }
    found.manifests(old, new, plugins);
    found.list.sort_by_key(|one| one.way);
    found.list
}

/// What jobs follow comes before what is worked out for them.
const FOLLOWED: [Kind; 3] = [Kind::Procedure, Kind::Overlay, Kind::Family];

/// What has been found, and of what it is found at present.
struct Found<'a> {
    units: &'a standpipe_quantity::Units,
    of: String,
    list: Vec<Difference>,
    /// Steps of all procedures: one may go from one into another.
    before: procedure::Steps,
    after: procedure::Steps,
}

impl Found<'_> {
    fn add(&mut self, way: Way, what: impl Into<String>, was: Option<&Place>, is: Option<&Place>) {
        self.list.push(Difference { way, of: self.of.clone(), what: what.into(), was: was.cloned(), is: is.cloned() });
    }

    /// The same, with what is found in it said of a part.
    fn within(&mut self, part: &str, look: impl FnOnce(&mut Self)) {
        let whole = std::mem::take(&mut self.of);
        self.of = format!("{whole}, {part}");
        look(self);
        self.of = whole;
    }
}
