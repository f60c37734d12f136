//! What a log is judged on: the family, the shop, and the job it belongs to.

use std::sync::Arc;

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::OpenJob;
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{File, Files, Kind, Shop};
use standpipe_quantity::value::Value;

/// Where plugins, shop and facts come from: a job's own snapshot, or what lies there now.
pub struct Ground {
    pub parsed: Parsed,
    pub shop: Shop,
    pub job: Option<OpenJob>,
    pub spec: Option<Value>,
    pub form: Option<String>,
    pub invented: bool,
    /// Of a job that a model answered.
    pub simulated: bool,
    /// Everything is of the job's own plan.
    pub of_plan: bool,
    /// Everything but the description of the log is.
    pub beside_plan: bool,
}

impl Ground {
    /// What lies there now.
    pub fn of_files(files: Files, shop: Option<Arc<Source>>, problems: &mut Problems) -> Self {
        let parsed = Parsed::new(files, problems);
        let shop = shop.and_then(|source| Shop::read(&source, &parsed.units, problems));
        Self {
            parsed,
            shop: shop.unwrap_or_default(),
            job: None,
            spec: None,
            form: None,
            invented: false,
            simulated: false,
            of_plan: false,
            beside_plan: false,
        }
    }

    /// For the log of a job: what its own plan says comes first. `own_shop`: the shop as well, whatever lies there now.
    pub fn for_job(&mut self, job: OpenJob, own_shop: bool, problems: &mut Problems) {
        problems.extend(job.problems().iter().cloned());
        let (plan, state) = (job.plan(), job.state());
        self.spec = Some(plan.facts(state.variant.as_deref(), &state.supplied));
        self.form = Some(plan.form.id.clone());
        self.invented = plan.invented;
        self.simulated = plan.simulated().is_some();
        if own_shop || self.shop.instruments.is_empty() {
            self.shop = plan.shop.clone();
        }
        // A plan of before there were logs has none; what lies there now is then laid beside it, and kept with the log.
        let mut files = plan.snapshot.files.clone();
        let own = files.list.iter().any(|file| file.path.starts_with(Kind::Log.folder()));
        if !own {
            files.list.extend(beside(&files, &self.parsed));
        }
        let parsed = Parsed::new(files, problems);
        if parsed.library.documents(Kind::Log).next().is_some() {
            self.parsed = parsed;
            self.of_plan = own;
            self.beside_plan = !own;
        }
        self.job = Some(job);
    }

    /// For a log without a job: `ID` or `ID/VARIANT` of a family, as it was typed.
    pub fn for_family(&mut self, family: &str, problems: &mut Problems) -> Option<()> {
        let (id, variant) = match family.split_once('/') {
            Some((id, variant)) => (id, Some(variant)),
            None => (family, None),
        };
        let at = typed("--family", id);
        let (form, known) = self.parsed.family(&at, problems)?;
        if let Some(variant) = variant
            && !known.variants.contains_key(variant)
        {
            let all: Vec<&str> = known.variants.keys().map(String::as_str).collect();
            problems.push(
                Diagnostic::error(
                    Code::UnknownReference,
                    &at.place,
                    format!("the family `{id}` has no variant `{variant}`"),
                )
                .expected(all.join(", "))
                .help("leave the variant out, or name one of these"),
            );
            return None;
        }
        self.spec = Some(known.facts(variant));
        self.form = Some(form.id);
        self.invented = known.invented;
        Some(())
    }
}

/// Descriptions of logs for the plugins of a plan, as they are today.
fn beside(plan: &Files, today: &Parsed) -> Vec<File> {
    let documents = today.library.documents(Kind::Log);
    documents
        .filter_map(|document| {
            let plugin = plan.list.iter().find(|file| file.plugin == document.plugin && file.path == "plugin.yaml")?;
            let path = format!("{}/{}.yaml", Kind::Log.folder().trim_end_matches('/'), document.id);
            Some(File::new(plugin.layer, &document.plugin, &path, &*document.source.text))
        })
        .collect()
}
