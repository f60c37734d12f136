//! Documents of a library as what they are, checked.

use indexmap::IndexMap;

use super::{Document, Kind, Library};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::{Family, Form, RawFamily};
use standpipe_quantity::table::Table;
use standpipe_quantity::{Units, UnitsFile};
use standpipe_script::usable_name;
use standpipe_yaml::{self as yaml, At};

impl Document {
    /// Ids are those of files, so that a document is found without reading it; what stands in the file must agree.
    pub fn check_id(&self, written: &str, place: &Place, problems: &mut Problems) {
        if written != self.id {
            problems.push(
                Diagnostic::error(
                    Code::MisplacedId,
                    place,
                    format!("the {} `{written}` is in a file `{}`", self.kind, self.id),
                )
                .help(format!(
                    "write `{}: {}`, or rename the file to `{written}.{}`",
                    self.kind,
                    self.id,
                    self.kind.extension()
                )),
            );
        }
    }
}

impl Library {
    /// The units of all plugins, later ones added to earlier ones.
    pub fn units(&self, problems: &mut Problems) -> Units {
        let mut units = Units::default();
        let mut by_plugin: IndexMap<&str, Vec<(UnitsFile, Place)>> = IndexMap::new();
        for document in self.documents(Kind::Units) {
            if let Some(file) = yaml::read::<UnitsFile>(&document.source, problems) {
                document.check_id(&file.units, &document.place(), problems);
                by_plugin.entry(&document.plugin).or_default().push((file, document.place()));
            }
        }
        for files in by_plugin.values() {
            problems.extend(units.extend(files));
        }
        units
    }

    /// The form of an id; what is wrong with it goes into `problems`.
    pub fn form(&self, id: &At<String>, units: &Units, problems: &mut Problems) -> Option<Form> {
        let document = self.find(Kind::Form, id, problems)?;
        let form = Form::read(&document.source, units, problems)?;
        document.check_id(&form.id, &form.place, problems);
        Some(form)
    }

    /// A family and the form that it fills; the tables it names are there.
    pub fn family(&self, id: &At<String>, units: &Units, problems: &mut Problems) -> Option<(Form, Family)> {
        let document = self.find(Kind::Family, id, problems)?;
        let raw = RawFamily::read(&document.source, problems)?;
        document.check_id(&raw.id, &raw.id.place, problems);
        let form = self.form(&raw.form, units, problems)?;
        let family = raw.check(&form, units, problems)?;
        for table in &family.tables {
            self.find(Kind::Table, table, problems);
        }
        Some((form, family))
    }

    /// The table of an id; what is wrong with it goes into `problems`.
    pub fn table(&self, id: &At<String>, units: &Units, problems: &mut Problems) -> Option<Table> {
        let document = self.find(Kind::Table, id, problems)?;
        let table = Table::read(&document.id, &document.source, units, problems)?;
        // Tables are read below the script language and know nothing of its words.
        for column in table.columns.iter().filter(|column| !usable_name(&column.name)) {
            problems.push(
                Diagnostic::error(
                    Code::ReservedName,
                    &column.place,
                    format!("`{}` is a word of the script language", column.name),
                )
                .help("rename the column"),
            );
        }
        Some(table)
    }

    /// Reads every table, form and family, for what is wrong with it.
    pub fn check(&self, units: &Units, problems: &mut Problems) {
        let named = |document: &Document| At::new(document.id.clone(), document.place());
        for document in self.documents(Kind::Table) {
            self.table(&named(document), units, problems);
        }
        let mut of_forms = Problems::new();
        for document in self.documents(Kind::Form) {
            self.form(&named(document), units, &mut of_forms);
        }
        for document in self.documents(Kind::Family) {
            // What is wrong with its form was said once.
            let mut found = Problems::new();
            self.family(&named(document), units, &mut found);
            problems.extend(found.into_iter().filter(|problem| {
                of_forms.iter().all(|known| known.place != problem.place || known.code != problem.code)
            }));
        }
        problems.append(&mut of_forms);
    }
}
