//! Messages about plugins from folders name their files as the person at the keyboard would.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;

use standpipe_diagnostic::Diagnostic;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_library::Library;

pub struct OnDisk<'a> {
    library: &'a Library,
    here: Option<PathBuf>,
    /// By the name inside the plugin.
    renamed: HashMap<String, Option<Arc<Source>>>,
}

impl<'a> OnDisk<'a> {
    pub fn new(library: &'a Library) -> Self {
        let here = std::env::current_dir().ok().and_then(|folder| folder.canonicalize().ok());
        Self { library, here, renamed: HashMap::new() }
    }

    pub fn problems<'p>(&mut self, problems: impl IntoIterator<Item = &'p mut Diagnostic>) {
        for problem in problems {
            self.place(&mut problem.place);
            if let Some(mend) = &mut problem.mend {
                self.place(&mut mend.place);
            }
            for related in &mut problem.also {
                self.place(&mut related.place);
            }
        }
    }

    pub fn place(&mut self, place: &mut Place) {
        let source = place.source().clone();
        if !self.renamed.contains_key(&source.name) {
            let renamed = self.library.path_of(place).map(|path| {
                let near = self.here.as_ref().and_then(|here| path.strip_prefix(here).ok()).unwrap_or(&path);
                Source::new(near.display().to_string(), source.text.clone())
            });
            self.renamed.insert(source.name.clone(), renamed);
        }
        let Some(Some(renamed)) = self.renamed.get(&source.name) else { return };
        // A message about a file as a whole may have been made without its text.
        *place = match renamed.text == source.text {
            true => Place::new(renamed, place.range()),
            false => Place::new(&Source::new(renamed.name.clone(), source.text.clone()), place.range()),
        };
    }
}
