//! The facts of one job, under the job section of a form.

use super::completeness::{is_meant, misspelt};
use super::facts::Facts;
use super::filling::{Filled, Filling, facts, missing};
use super::source_note::SourceNotes;
use super::{Form, snake};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::Units;
use standpipe_yaml::{At, Node};

impl Form {
    /// Reads the facts of a job: every key of its file that has no meaning of its own. `place` stands for the file.
    pub fn read_job<'n>(
        &self,
        entries: impl IntoIterator<Item = &'n (At<String>, Node)>,
        place: &Place,
        units: &Units,
        problems: &mut Problems,
    ) -> Facts {
        let mut filling = Filling {
            form: self,
            fields: &self.job,
            units,
            variant: None,
            problems: &mut *problems,
            filled: Filled::new(),
            tables: Vec::new(),
        };
        let entries: Vec<&(At<String>, Node)> = entries.into_iter().collect();
        filling.take("", entries.iter().copied());
        let filled = filling.filled;
        let misspelt = misspelt(problems);
        for (path, field) in missing(self, &self.job, &filled) {
            if is_meant(&path, &misspelt) {
                continue;
            }
            let group = path.split_once('.').map_or("", |(group, _)| group);
            let place = entries.iter().find(|(key, _)| snake(key) == group).map_or(place, |(key, _)| &key.place);
            let problem = Diagnostic::error(Code::MissingField, place, format!("`{path}` is missing")).absent();
            problems.push(problem.help(format!(
                "add `{path}`, {} ({}), or write `unknown`",
                field.expected(),
                field.question()
            )));
        }
        facts(self, &self.job, &filled, &SourceNotes::default())
    }
}
