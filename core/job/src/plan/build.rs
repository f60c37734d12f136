//! Building a plan from texts. Reports all that is wrong; returns nothing when the plan could not be relied on.

use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use indexmap::{IndexMap, IndexSet};

use super::facts::shop_facts;
use super::job_sheet::{JobSheet, RawJob};
use super::reach::{Reached, check_together, reach};
use super::sequence::Span;
use super::snapshot::Snapshot;
use super::{Plan, Shared, places};
use crate::quick::QuickMap;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, has_errors};
use standpipe_form::{Family, Form};
use standpipe_library::{Document, Files, Kind, Library, STANDARD, Shop};
use standpipe_overlay::{Overlay, SetValue, keep_values};
use standpipe_procedure::check::Known;
use standpipe_procedure::raw::RawProcedure;
use standpipe_procedure::{self as procedure, Children, Procedure, Step};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_script::{ScriptFile, Scripts, TableFile};
use standpipe_sheet::Sheet;
use standpipe_yaml::{self as yaml, At};

/// What a plan is built from.
pub struct Inputs {
    pub job: Arc<Source>,
    pub shop: Option<Arc<Source>>,
    pub files: Files,
    /// They were sound when a job began. A check that this version has and an earlier one had not must not make an old
    /// record unreadable: a fault then shows where the job meets it.
    pub kept: bool,
}

impl Inputs {
    pub fn new(job: Arc<Source>, shop: Option<Arc<Source>>, files: Files) -> Self {
        Self { job, shop, files, kept: false }
    }

    /// Those that a job kept.
    pub fn of_snapshot(snapshot: &Snapshot) -> Self {
        Self {
            job: snapshot.job.source(),
            shop: snapshot.shop.as_ref().map(|text| text.source()),
            files: snapshot.files.clone(),
            kept: true,
        }
    }
}

/// Everything of a library that is parsed for a job.
pub struct Parsed {
    pub library: Library,
    pub units: Arc<Units>,
}

impl Parsed {
    pub fn new(files: Files, problems: &mut Problems) -> Self {
        let library = Library::load(files, problems);
        let units = Arc::new(library.units(problems));
        Self { library, units }
    }

    pub fn form(&self, id: &At<String>, problems: &mut Problems) -> Option<Form> {
        self.library.form(id, &self.units, problems)
    }

    pub fn family(&self, id: &At<String>, problems: &mut Problems) -> Option<(Form, Family)> {
        self.library.family(id, &self.units, problems)
    }

    pub fn procedure(&self, document: &Document, problems: &mut Problems) -> Option<Procedure> {
        let raw: RawProcedure = yaml::read(&document.source, problems)?;
        Some(self.checked(raw, problems))
    }

    /// The overlays that a shop lists, in its order.
    pub fn overlays(&self, shop: &Shop, problems: &mut Problems) -> Vec<Overlay> {
        let mut overlays: Vec<Overlay> = Vec::new();
        for (index, id) in shop.overlays.iter().enumerate() {
            if let Some(first) = shop.overlays[..index].iter().find(|other| other.value == id.value) {
                problems.push(
                    Diagnostic::error(
                        Code::DefinedTwice,
                        &id.place,
                        format!("the overlay `{}` is listed twice", id.value),
                    )
                    .also(&first.place, "first here")
                    .help("take one of them out of the list"),
                );
                continue;
            }
            let Some(document) = self.library.find(Kind::Overlay, id, problems) else { continue };
            let Some(overlay) = Overlay::read(&document.source, problems) else { continue };
            document.check_id(&overlay.id, &overlay.place, problems);
            overlays.push(overlay);
        }
        overlays
    }

    pub fn checked(&self, raw: RawProcedure, problems: &mut Problems) -> Procedure {
        let sheets: Vec<&str> = self.library.documents(Kind::Sheet).map(|sheet| sheet.id.as_str()).collect();
        procedure::check(raw, &Known { units: &self.units, sheets: Some(sheets) }, problems)
    }

    /// Procedures for a form that no other procedure includes or calls: those that a job can name.
    pub fn procedures_for(&self, form: &str) -> Vec<String> {
        let mut quiet = Problems::new();
        let (mut all, mut inner) = (Vec::new(), IndexSet::new());
        for document in self.library.documents(Kind::Procedure) {
            let Some(procedure) = self.procedure(document, &mut quiet) else { continue };
            inner.extend(procedure.names().map(|id| id.value.clone()));
            if procedure.form.as_ref().is_some_and(|named| named.as_str() == form) {
                all.push(procedure.id.value.clone());
            }
        }
        all.retain(|id| !inner.contains(id));
        all
    }

    pub fn scripts(&self) -> Scripts {
        let files = self
            .library
            .documents(Kind::Script)
            .map(|document| ScriptFile {
                name: document.id.as_str().into(),
                source: document.source.clone(),
                // The shared scripts belong to no plugin.
                plugin: if document.plugin == STANDARD { "" } else { document.plugin.as_str() }.into(),
            })
            .collect();
        let tables = self.library.documents(Kind::Table);
        let tables = tables
            .map(|document| TableFile {
                id: document.id.as_str().into(),
                plugin: document.plugin.as_str().into(),
                source: document.source.clone(),
            })
            .collect();
        let needs = self
            .library
            .plugins
            .values()
            .map(|plugin| {
                let needs = plugin.plugins.iter().map(|need| need.value.as_str().into()).collect();
                (plugin.id.as_str().into(), needs)
            })
            .collect();
        Scripts::with_needs(self.units.clone(), files, tables, needs)
    }
}

/// Stamp of the next plan.
static NEXT: AtomicU64 = AtomicU64::new(1);

/// Builds the plan of a job.
pub fn build(inputs: Inputs, problems: &mut Problems) -> Option<Plan> {
    let (job, shop) = (inputs.job.clone(), inputs.shop.clone());
    let mut parts = parts(inputs, problems)?;
    let snapshot = Snapshot::new(&job, shop.as_deref(), std::mem::take(&mut parts.files));
    let hash = snapshot.hash();
    Some(parts.plan(snapshot, hash))
}

/// A plan but for the texts it keeps.
pub(super) struct Parts {
    job: RawJob,
    facts: Value,
    shared: Rc<Shared>,
    /// Those that it has to keep.
    files: Files,
}

pub(super) fn parts(inputs: Inputs, problems: &mut Problems) -> Option<Parts> {
    let job = RawJob::read(&inputs.job, problems)?;
    let parsed = Parsed::new(inputs.files, problems);
    let shop = match &inputs.shop {
        Some(source) => Shop::read(source, &parsed.units, problems)?,
        None => Shop::default(),
    };
    let mut overlays = parsed.overlays(&shop, problems);
    let beside = beside(&parsed, &overlays, problems);
    let (form, mut family) = parsed.family(&job.family, problems)?;
    if let Some(variant) = &job.variant
        && !family.variants.contains_key(variant.as_str())
    {
        problems.push(unknown_variant(variant, &family));
    }
    let values: Vec<SetValue> =
        overlays.iter().flat_map(|it| it.set_values(&form, &mut family, &parsed.units, problems)).collect();
    let Reached { procedures, mut plugins, laid_over } = reach(&parsed, &job.procedure, &[], &mut overlays, problems)?;
    plugins.extend(beside);
    let scripts = parsed.scripts();
    // Expressions look into these while the job runs; a faulty one is to be found before.
    for id in &family.tables {
        parsed.library.table(id, &parsed.units, problems);
    }
    let sheets = sheets(&parsed, &procedures, problems);
    for sheet in sheets.values() {
        if let Err(faults) = sheet.check_script(&scripts) {
            problems.extend(faults);
        }
    }
    // Of another form, all of its fields are missing; one message says it all.
    if let Some(named) = procedures.get(job.procedure.as_str()).and_then(|procedure| procedure.form.as_ref())
        && named.as_str() != form.id
    {
        let message = format!("`{}` is for the form `{}`", job.procedure.value, named.value);
        problems.push(
            Diagnostic::error(Code::UnmetNeed, &job.procedure.place, message)
                .expected(format!("a procedure for `{}`, the form of `{}`", form.id, job.family.value))
                .help(match parsed.procedures_for(&form.id).as_slice() {
                    [] => format!("no procedure is for `{}`: correct the family", form.id),
                    known => format!("for that form there is {}", known.join(", ")),
                }),
        );
        return None;
    }
    check_together(&procedures, &form, &scripts, problems);
    keep_values(&values, procedures.values(), &scripts, problems);
    if !inputs.kept {
        form.relate(&family, &scripts, problems);
    }
    let facts = form.read_job(&job.facts, &job.place, &parsed.units, problems);
    if !inputs.kept && has_errors(problems) {
        return None;
    }
    let used = plugins_used(&parsed, plugins, &job, &form, &sheets);
    let files = parsed.library.snapshot(used.iter().map(String::as_str));
    let Outline { order, enclosing, spans, .. } = outline(&procedures, &job.procedure);
    let by_overlay = |it: &Overlay| it.invented && laid_over.contains(&it.id);
    let invented = family.invented || shop.invented || procedures.values().any(|it| it.invented);
    let shared = Shared {
        invented: invented || overlays.iter().any(by_overlay),
        places: places(&procedures),
        units: parsed.units,
        scripts,
        shop_facts: shop_facts(&shop, &procedures),
        shop,
        form,
        family,
        family_named: job.family.value.clone(),
        procedure: job.procedure.value.clone(),
        procedures,
        values,
        sheets,
        order,
        enclosing,
        spans,
    };
    Some(Parts { job, facts: facts.values, shared: Rc::new(shared), files })
}

impl Parts {
    pub fn plan(self, snapshot: Snapshot, hash: String) -> Plan {
        let Parts { job, facts, shared, .. } = self;
        Plan {
            hash,
            stamp: NEXT.fetch_add(1, Ordering::Relaxed),
            invented: job.invented || shared.invented,
            job: JobSheet {
                id: job.id.value,
                title: job.title,
                invented: job.invented,
                variant: job.variant.map(|variant| variant.value),
                follows: job.follows.map(|follows| follows.value),
                facts,
            },
            snapshot,
            shared,
        }
    }
}

/// The parts of another job's plan by what a plan like it was built from; `None` where that takes other texts than this snapshot
/// has, or where anything is wrong with the job file: then it has to be built by itself.
pub(super) fn like(known: &Plan, snapshot: &Snapshot) -> Option<Parts> {
    if known.snapshot.shop != snapshot.shop || known.snapshot.texts != snapshot.texts {
        return None;
    }
    let mut problems = Problems::new();
    let job = RawJob::read(&snapshot.job.source(), &mut problems)?;
    let fits = job.family.value == known.family_named
        && job.procedure.value == known.procedure
        && job.variant.as_ref().is_none_or(|variant| known.family.variants.contains_key(variant.as_str()));
    let facts = known.form.read_job(&job.facts, &job.place, &known.units, &mut problems);
    let shared = known.shared.clone();
    (fits && problems.is_empty()).then(|| Parts { job, facts: facts.values, shared, files: Files::default() })
}

fn unknown_variant(variant: &At<String>, family: &Family) -> Diagnostic {
    let known = family.variants.keys().map(String::as_str);
    let message = format!("`{}` has no variant `{}`", family.id, variant.value);
    Diagnostic::error(Code::UnknownReference, &variant.place, message)
        .expected(known.clone().collect::<Vec<_>>().join(", "))
        .nearest(variant, known, "leave `variant:` out: it is recognised by what is seen")
}

fn sheets(
    parsed: &Parsed,
    procedures: &IndexMap<String, Procedure>,
    problems: &mut Problems,
) -> IndexMap<String, Sheet> {
    let mut sheets = IndexMap::new();
    let of_steps = procedures.values().flat_map(Procedure::all_steps).filter_map(|step| step.kind.sheet());
    let of_pages = procedures.values().flat_map(Procedure::page_calls).map(|call| &call.sheet);
    for id in of_steps.chain(of_pages) {
        if sheets.contains_key(id.as_str()) {
            continue;
        }
        // An unknown sheet has been reported where the procedure was checked.
        let Some(document) = parsed.library.document(Kind::Sheet, id) else { continue };
        if let Some(sheet) = Sheet::read(&document.source, &document.plugin, &parsed.units, problems) {
            sheets.insert(id.value.clone(), sheet);
        }
    }
    sheets
}

fn plugins_used(
    parsed: &Parsed,
    mut plugins: IndexSet<String>,
    job: &RawJob,
    form: &Form,
    sheets: &IndexMap<String, Sheet>,
) -> IndexSet<String> {
    let mut of = |kind: Kind, id: &str| {
        if let Some(document) = parsed.library.document(kind, id) {
            plugins.insert(document.plugin.clone());
        }
    };
    of(Kind::Family, &job.family);
    of(Kind::Form, &form.id);
    for id in sheets.keys() {
        of(Kind::Sheet, id);
    }
    plugins.retain(|id| id != STANDARD);
    plugins
}

/// Plugins of the overlays, and of what these speak of: a plan that is built again has to find all of it, even what this
/// job does not use.
fn beside(parsed: &Parsed, overlays: &[Overlay], problems: &mut Problems) -> IndexSet<String> {
    let mut plugins = IndexSet::new();
    for overlay in overlays {
        let id = At::new(overlay.id.clone(), overlay.place.clone());
        let families = overlay.families().map(|id| (Kind::Family, id));
        let named = overlay.procedure.iter().map(|id| (Kind::Procedure, id)).chain(families);
        for (kind, id) in std::iter::once((Kind::Overlay, &id)).chain(named) {
            plugins.extend(parsed.library.find(kind, id, problems).map(|document| document.plugin.clone()));
        }
    }
    plugins
}

/// The steps in order, the `repeat` around each, and where each begins and ends.
#[derive(Default)]
struct Outline {
    order: Vec<String>,
    enclosing: QuickMap<String, (String, u32)>,
    spans: QuickMap<String, Span>,
    /// The `repeat`s around what is walked, outermost first.
    around: Vec<String>,
}

impl Outline {
    fn walk(&mut self, procedures: &IndexMap<String, Procedure>, steps: &[Step], repeat: Option<(&str, u32)>) {
        for step in steps {
            if let Some((id, most)) = repeat {
                self.enclosing.insert(step.id.value.clone(), (id.to_owned(), most));
            }
            let first = self.order.len();
            let mut repeats = self.around.clone();
            match (step.kind.children(), step.kind.most_rounds()) {
                (Children::None, _) => self.order.push(step.id.value.clone()),
                (Children::Steps(steps), most) => {
                    self.around.push(step.id.value.clone());
                    repeats.clone_from(&self.around);
                    self.walk(procedures, steps, Some((&step.id, most.unwrap_or(1))));
                    self.around.pop();
                }
                (Children::Procedure(id), _) => {
                    if let Some(procedure) = procedures.get(id.as_str()) {
                        self.walk(procedures, &procedure.steps, repeat);
                    }
                }
            }
            let last = self.order.len().saturating_sub(1);
            self.spans.insert(step.id.value.clone(), Span { first, last, repeats });
        }
    }
}

fn outline(procedures: &IndexMap<String, Procedure>, main: &str) -> Outline {
    let mut outline = Outline::default();
    if let Some(procedure) = procedures.get(main) {
        outline.walk(procedures, &procedure.steps, None);
    }
    for procedure in procedures.values() {
        // Procedures that are called have their own rounds, but no place in the order.
        if !outline.order.iter().any(|id| procedure.steps.iter().any(|step| step.id.as_str() == id)) {
            let mut aside = Outline::default();
            aside.walk(procedures, &procedure.steps, None);
            outline.enclosing.extend(aside.enclosing);
        }
    }
    outline
}

/// A source for a text that was typed.
pub fn typed(name: &str, text: &str) -> At<String> {
    let source = Source::new(name, text);
    At::new(text.to_owned(), Place::new(&source, 0..text.len()))
}
