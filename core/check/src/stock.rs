//! All documents in force, read.

use std::sync::Arc;

use indexmap::{IndexMap, IndexSet};

use super::files::mentions;
use super::without_source;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_form::{Family, Form};
use standpipe_job::plan::Parsed;
use standpipe_library::{Document, Kind};
use standpipe_overlay::{Overlay, Written, keep_values};
use standpipe_procedure::Procedure;
use standpipe_procedure::raw::RawProcedure;
use standpipe_quantity::Units;
use standpipe_script::Scripts;
use standpipe_sheet::Sheet;
use standpipe_yaml::{self as yaml, At};

pub struct Stock {
    pub units: Arc<Units>,
    pub scripts: Scripts,
    pub forms: IndexMap<String, Form>,
    pub families: IndexMap<String, Family>,
    pub sheets: IndexMap<String, Sheet>,
    pub procedures: IndexMap<String, Procedure>,
    /// Ids of procedures of which a part could not be read: what is missing from them may be there.
    pub incomplete: IndexSet<String>,
    /// Texts of those that could not be read at all: what they name is part of them, as far as can be told.
    unread: Vec<Arc<Source>>,
}

impl Stock {
    /// With overlays laid over the procedures and the families.
    pub fn read(parsed: &Parsed, overlays: &mut [Overlay], problems: &mut Problems) -> Self {
        let units = parsed.units.clone();
        let scripts = parsed.scripts();
        problems.extend(scripts.check());
        parsed.library.check(&units, problems);
        let mut stock = Self {
            units,
            scripts,
            forms: IndexMap::new(),
            families: IndexMap::new(),
            sheets: IndexMap::new(),
            procedures: IndexMap::new(),
            incomplete: IndexSet::new(),
            unread: Vec::new(),
        };
        // What is wrong with them has just been said.
        let mut quiet = Problems::new();
        for document in parsed.library.documents(Kind::Form) {
            if let Some(form) = parsed.form(&named(document), &mut quiet) {
                stock.forms.insert(document.id.clone(), form);
            }
        }
        for document in parsed.library.documents(Kind::Family) {
            if let Some((_, family)) = parsed.family(&named(document), &mut quiet) {
                stock.families.insert(document.id.clone(), family);
            }
        }
        for document in parsed.library.documents(Kind::Sheet) {
            stock.sheet(document, parsed, problems);
        }
        stock.procedures(parsed, overlays, problems);
        let mut set = Vec::new();
        for overlay in overlays.iter() {
            for family in stock.families.values_mut() {
                if let Some(form) = stock.forms.get(&family.form) {
                    set.extend(overlay.set_values(form, family, &stock.units, problems));
                }
            }
        }
        keep_values(&set, stock.procedures.values(), &stock.scripts, problems);
        stock
    }

    fn procedures(&mut self, parsed: &Parsed, overlays: &mut [Overlay], problems: &mut Problems) {
        let mut written = Written::new();
        for document in parsed.library.documents(Kind::Procedure) {
            let before = problems.len();
            let raw: Option<RawProcedure> = yaml::read(&document.source, problems);
            if raw.is_none() || problems[before..].iter().any(Diagnostic::is_error) {
                self.incomplete.insert(document.id.clone());
            }
            let Some(mut raw) = raw else {
                self.unread.push(document.source.clone());
                continue;
            };
            if problems.len() == before && raw.sources.is_none() {
                problems.push(without_source(document, "this order of work is"));
            }
            document.check_id(&raw.procedure, &raw.procedure.place, problems);
            // Others know it by the name of its file.
            raw.procedure.value.clone_from(&document.id);
            written.insert(document.id.clone(), raw);
        }
        for overlay in overlays {
            overlay.apply(&mut written, problems);
        }
        for (id, raw) in written {
            let before = problems.len();
            let procedure = parsed.checked(raw, problems);
            if problems[before..].iter().any(Diagnostic::is_error) {
                self.incomplete.insert(id.clone());
            }
            self.procedures.insert(id, procedure);
        }
    }

    fn sheet(&mut self, document: &Document, parsed: &Parsed, problems: &mut Problems) {
        let Some(sheet) = Sheet::read(&document.source, &document.plugin, &self.units, problems) else { return };
        document.check_id(&sheet.id, &sheet.place, problems);
        match sheet.check_script(&self.scripts) {
            Err(faults) => problems.extend(faults),
            // Two sheets may call one function, in which the same is wrong.
            Ok(_) => {
                for fault in sheet.look(&self.scripts) {
                    if !problems.iter().any(|known| known.place == fault.place && known.message == fault.message) {
                        problems.push(fault);
                    }
                }
            }
        }
        self.unguarded(&sheet, parsed, problems);
        self.sheets.insert(document.id.clone(), sheet);
    }

    /// An input that may be left out, which the script uses without ever asking whether it is there.
    fn unguarded(&self, sheet: &Sheet, parsed: &Parsed, problems: &mut Problems) {
        let Some((script, function)) = sheet.script.split_once("::") else { return };
        let Some(document) = parsed.library.document(Kind::Script, script) else { return };
        let text = &document.source.text;
        let Some(head) = text.find(&format!("fn {function}(")) else { return };
        let rest = &text[head + function.len() + 4..];
        let Some(input) = rest.split([')', ',']).next().map(str::trim) else { return };
        let body = &rest[..rest.find("\n}").unwrap_or(rest.len())];
        let begins = head + function.len() + 4;
        for name in sheet.inputs.iter().filter(|(_, input)| input.optional).map(|(name, _)| name) {
            // `"name" in x`, `get(x, "name", ...)`, or another function that gets the whole record and asks.
            if text.contains(&format!("\"{name}\"")) {
                continue;
            }
            let used = format!("{input}.{name}");
            let whole = |at: &usize| !body[at + used.len()..].starts_with(|c: char| c.is_alphanumeric() || c == '_');
            let Some(at) = body.match_indices(&used).map(|(at, _)| at).find(whole) else { continue };
            let place = Place::new(&document.source, begins + at..begins + at + used.len());
            problems.push(
                Diagnostic::warning(
                    Code::FaultyInput,
                    &place,
                    format!("`{name}` may be left out, and nothing asks for that"),
                )
                .also(&sheet.inputs[name].place, "optional here")
                .help(format!(
                    "write `if \"{name}\" in {input} {{ ... }}` around it, or give it a default in the sheet"
                )),
            );
        }
    }

    /// Procedures that no other one includes or calls: those that a job can name.
    pub fn roots(&self) -> Vec<&Procedure> {
        let inner: IndexSet<&str> = self
            .procedures
            .values()
            .flat_map(|procedure| procedure.names().filter(|id| id.value != procedure.id.value))
            .map(|id| id.value.as_str())
            .collect();
        let of_unread = |procedure: &Procedure| self.unread.iter().any(|text| mentions(&text.text, &procedure.id));
        let roots: Vec<&Procedure> = self
            .procedures
            .values()
            .filter(|procedure| !inner.contains(procedure.id.as_str()) && !of_unread(procedure))
            .collect();
        // Procedures in a circle are all named by another.
        let reached: IndexSet<&str> = roots.iter().flat_map(|root| self.reached(root)).collect();
        let mut stranded: Vec<&Procedure> =
            self.procedures.values().filter(|one| !reached.contains(one.id.as_str()) && !of_unread(one)).collect();
        stranded.truncate(usize::from(!stranded.is_empty()));
        roots.into_iter().chain(stranded).collect()
    }

    /// Ids of a procedure and of all that can be reached from it.
    pub fn reached<'a>(&'a self, root: &'a Procedure) -> IndexSet<&'a str> {
        let mut reached = IndexSet::from([root.id.as_str()]);
        let mut next = 0;
        while let Some(id) = reached.get_index(next).copied() {
            next += 1;
            if let Some(procedure) = self.procedures.get(id) {
                reached.extend(procedure.names().map(|id| id.value.as_str()));
            }
        }
        reached
    }
}

fn named(document: &Document) -> At<String> {
    At::new(document.id.clone(), document.place())
}
