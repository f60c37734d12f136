//! A procedure that a job can name, with all that can be reached from it.

use indexmap::{IndexMap, IndexSet};

use super::given::Scope;
use super::stock::Stock;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_form::{self as form, Form};
use standpipe_job::plan;
use standpipe_library::Kind;
use standpipe_procedure::model::{PAUSE, PERSON};
use standpipe_procedure::{Children, Field, FieldKind, Procedure};
use standpipe_yaml::At;

pub struct Tree<'a> {
    pub stock: &'a Stock,
    pub root: &'a Procedure,
    pub form: Option<&'a Form>,
    /// The root first.
    pub procedures: Vec<&'a Procedure>,
    /// Those that run aside: called when something goes wrong, or when pausing and resuming.
    pub aside: Vec<&'a Procedure>,
    /// Every name that any of their steps gives.
    pub everything: Scope,
    /// Names that only steps gave which an overlay left out, with the place where it does so.
    pub left_out: IndexMap<String, Place>,
    /// Some part could not be read; what seems to be missing may stand there.
    pub incomplete: bool,
}

impl<'a> Tree<'a> {
    pub fn new(stock: &'a Stock, root: &'a Procedure) -> Self {
        let reached = stock.reached(root);
        let procedures: Vec<&Procedure> = reached.iter().filter_map(|id| stock.procedures.get(*id)).collect();
        let incomplete = procedures.len() < reached.len() || reached.iter().any(|id| stock.incomplete.contains(*id));
        let form = procedures.iter().find_map(|procedure| stock.forms.get(procedure.form.as_ref()?.as_str()));
        let mut everything = Scope::default();
        for step in procedures.iter().flat_map(|procedure| procedure.all_steps()) {
            everything.add_step(step, None, stock, form);
        }
        let aside: IndexSet<&str> = procedures
            .iter()
            .flat_map(|procedure| procedure.reachable.iter().chain(&procedure.on_pause).chain(&procedure.on_resume))
            .map(|id| id.value.as_str())
            .collect();
        let aside = aside.into_iter().filter_map(|id| stock.procedures.get(id)).collect();
        let mut left_out = IndexMap::new();
        for gone in procedures.iter().flat_map(|procedure| &procedure.left_out) {
            let mut steps = Vec::new();
            gone.step.and_inner(&mut steps);
            for name in steps.iter().flat_map(|step| step.kind.gives()) {
                if !everything.0.contains_key(name.as_str()) {
                    left_out.insert(name.value.clone(), gone.mark.place.clone());
                }
            }
        }
        Self { stock, root, form, procedures, aside, everything, left_out, incomplete }
    }

    /// What is wrong with how the procedures lie together.
    pub fn check(&self, problems: &mut Problems) {
        for procedure in &self.procedures {
            for id in procedure.names().filter(|id| !self.stock.procedures.contains_key(id.as_str())) {
                if !self.stock.incomplete.contains(id.as_str()) {
                    problems.push(self.absent(id));
                }
            }
            self.form_of(procedure, problems);
        }
        self.signs(problems);
        plan::circles(&self.stock.procedures, &self.root.id, &mut Vec::new(), problems);
        plan::left_open(&self.procedures, &self.stock.scripts, problems);
        self.same_ids(problems);
        self.events(problems);
    }

    fn absent(&self, id: &At<String>) -> Diagnostic {
        let problem = Diagnostic::error(
            Code::UnknownReference,
            &id.place,
            format!("there is no {} `{}`", Kind::Procedure, id.value),
        )
        .speaks_of(id);
        problem.nearest(
            id,
            self.stock.procedures.keys().map(String::as_str),
            "`standpipe show procedure` lists all that are known",
        )
    }

    fn form_of(&self, procedure: &Procedure, problems: &mut Problems) {
        let Some(form) = self.form else {
            if let Some(named) = &procedure.form {
                let problem = Diagnostic::error(
                    Code::UnknownReference,
                    &named.place,
                    format!("there is no form `{}`", named.value),
                )
                .speaks_of(named);
                problems.push(problem.nearest(
                    named,
                    self.stock.forms.keys().map(String::as_str),
                    "`standpipe show form` lists those that can be used",
                ));
            }
            return;
        };
        if let Some(named) = &procedure.form
            && named.as_str() != form.id
        {
            problems.push(
                Diagnostic::error(
                    Code::UnmetNeed,
                    &named.place,
                    format!("`{}` is for the form `{}`", procedure.id.value, named.value),
                )
                .expected(format!("a procedure for `{}`, as `{}` is", form.id, self.root.id.value)),
            );
        }
        let of_steps = procedure.all_steps().into_iter().flat_map(|step| &step.needs);
        for need in procedure.needs.iter().chain(of_steps) {
            let path = form::snake(need);
            if form.field(&path).is_some() {
                continue;
            }
            let message = format!("the form `{}` has no field `{}`", form.id, need.value);
            let problem = Diagnostic::error(Code::UnmetNeed, &need.place, message);
            let bare = path.strip_prefix("spec.").filter(|path| form.field(path).is_some());
            let records = form.fields.iter().filter_map(|(field, of)| match &of.kind {
                standpipe_form::Kind::Record(name) => Some((field.strip_suffix(".*")?, form.records.get(name)?)),
                _ => None,
            });
            // `plugs.drain.torque`, where the name in the middle is the family's own.
            let of_record = records.into_iter().find_map(|(group, record)| {
                let (name, part) = path.strip_prefix(group)?.strip_prefix('.')?.split_once('.')?;
                Some(format!("{group}.{name}.{}", nearest(part, record.keys().map(String::as_str))?))
            });
            let near = nearest(&path, form.fields.keys().map(String::as_str)).map(str::to_owned);
            problems.push(match bare.map(str::to_owned).or(of_record).or(near) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem.help("correct the name, or add the field to the form"),
            });
        }
    }

    /// What variants are told by has to be asked under the form's own name for it.
    fn signs(&self, problems: &mut Problems) {
        let Some(form) = self.form else { return };
        let steps = self.procedures.iter().flat_map(|procedure| procedure.all_steps());
        let fields: Vec<&Field> = steps.flat_map(|step| step.kind.fields()).collect();
        let mut asked: Vec<&str> = Vec::new();
        for field in &fields {
            let FieldKind::Sign(sign) = &field.kind else { continue };
            let sign = form::snake(sign);
            if let Some((known, _)) = form.signs.get_key_value(&sign) {
                asked.push(known);
                continue;
            }
            let message = format!("the form `{}` has no sign `{sign}`", form.id);
            let place = field.place.as_ref().unwrap_or(&field.name.place);
            let problem = Diagnostic::error(Code::UnknownField, place, message);
            let known: Vec<&str> = form.signs.keys().map(String::as_str).collect();
            asked.extend(&known);
            problems.push(problem.nearest(
                &sign,
                known.iter().copied(),
                format!("what the form recognises variants by: {}", known.join(", ")),
            ));
        }
        // One that is read as a plain value tells no variant.
        for field in fields.iter().filter(|field| !matches!(field.kind, FieldKind::Sign(_))) {
            let name = field.name.as_str();
            if form.signs.contains_key(name) && !asked.contains(&name) {
                let message = format!("`{name}` is read, and no variant is recognised by it");
                problems.push(
                    Diagnostic::warning(Code::VariantWithoutSign, &field.name.place, message)
                        .help(format!("it is a sign of the form: write `{name}: {{ recognise: {name} }}`")),
                );
            }
        }
    }

    fn same_ids(&self, problems: &mut Problems) {
        let mut seen: IndexMap<&str, &Place> = IndexMap::new();
        for step in self.procedures.iter().flat_map(|procedure| procedure.all_steps()) {
            // Within one file this has been reported already.
            if let Some(first) = seen.insert(&step.id, &step.id.place)
                && first.name() != step.id.place.name()
            {
                problems.push(
                    Diagnostic::error(
                        Code::DuplicateStep,
                        &step.id.place,
                        format!("a second step `{}`", step.id.value),
                    )
                    .also(first, "the first one")
                    .help("ids are unique over all procedures of a job: entries are kept under them"),
                );
            }
        }
    }

    /// An event that nothing raises never ends anything.
    fn events(&self, problems: &mut Problems) {
        let steps: Vec<_> = self.procedures.iter().flat_map(|procedure| procedure.all_steps()).collect();
        let raised = steps.iter().flat_map(|step| &step.raises).map(|event| event.value.as_str());
        let known: IndexSet<&str> = raised.chain([PAUSE, PERSON]).collect();
        for step in &steps {
            let ends = step.stale.events.iter().chain(&step.starts_over);
            for event in ends.filter(|event| !known.contains(event.as_str())) {
                let message = format!("no step raises `{event}`, which would make `{}` stale", step.id.value);
                let place = step.stale.place.as_ref().unwrap_or(&step.id.place);
                let problem = Diagnostic::warning(Code::UnraisedEvent, place, message);
                problems.push(problem.nearest(
                    event,
                    known.iter().copied(),
                    format!("write `raises: [{event}]` at the step after which it happens"),
                ));
            }
        }
    }

    /// Procedures that a step's block consists of.
    pub fn included(&self, children: &Children<'_>) -> Option<&'a Procedure> {
        match children {
            Children::Procedure(id) => self.stock.procedures.get(id.as_str()),
            _ => None,
        }
    }
}
