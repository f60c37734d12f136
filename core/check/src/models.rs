//! Models of invented units against the procedures that they answer, and files of people.

use super::stock::Stock;
use super::tree::Tree;
use standpipe_diagnostic::Problems;
use standpipe_job::plan::Parsed;
use standpipe_library::Kind;
use standpipe_simulate::{Model, People};

pub(super) fn check(parsed: &Parsed, stock: &Stock, problems: &mut Problems) {
    for document in parsed.library.documents(Kind::People) {
        if let Some(people) = People::read(&document.source, problems) {
            document.check_id(&people.id, &people.place, problems);
        }
    }
    for document in parsed.library.documents(Kind::Model) {
        let Some(model) = Model::read(document, &parsed.library, &stock.units, problems) else { continue };
        document.check_id(&model.id, &model.place, problems);
        parsed.library.find(Kind::Form, &model.form, problems);
        model.check_functions(&stock.scripts, problems);
        for id in &model.serves {
            let found = parsed.library.find(Kind::Procedure, id, problems);
            // One with a fault was reported where it stands.
            let Some(root) = found.and_then(|_| stock.procedures.get(id.as_str())) else { continue };
            let tree = Tree::new(stock, root);
            if !tree.incomplete {
                model.check_against(&tree.procedures, true, problems);
            }
        }
    }
}
