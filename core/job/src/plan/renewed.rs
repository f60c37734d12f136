//! The plan of a job built again with other plugins: its own facts and its shop stay.

use indexmap::IndexSet;

use super::{Inputs, Plan, Private, Snapshot, build};
use crate::event::{Event, Record};
use crate::state::State;
use standpipe_diagnostic::Problems;
use standpipe_library::{File, Files, Layer};
use standpipe_yaml as yaml;

/// Builds the plan again with other plugins in the place of those of the same id, or over all others.
///
/// Errors: everything wrong with it, so that there is no plan.
pub fn renewed(snapshot: &Snapshot, newer: &Files) -> Result<Plan, Problems> {
    let files = replaced(&snapshot.files, newer);
    let mut problems = Problems::new();
    let inputs = Inputs::new(snapshot.job.source(), snapshot.shop.as_ref().map(|shop| shop.source()), files);
    build(inputs, &mut problems).map(|plan| plan.kept_as(snapshot)).ok_or(problems)
}

/// Other plugins in the place of those of the same id, or over all others.
pub fn replaced(files: &Files, newer: &Files) -> Files {
    let old = &files.list;
    let top = old.iter().map(|file| file.layer).max().unwrap_or(Layer::BuiltIn);
    let above = match top {
        Layer::BuiltIn => Layer::Given(1),
        Layer::Given(nth) => Layer::Given(nth + 1),
        Layer::Shop(nth) => Layer::Shop(nth + 1),
    };
    let concerned = concerned(files, newer);
    let replaced = |plugin: &str| concerned.contains(plugin);
    let mut files = Files::default();
    files.list.extend(old.iter().filter(|file| !replaced(&file.plugin)).cloned());
    for file in newer.list.iter().filter(|file| replaced(&file.plugin)) {
        let layer = old.iter().find(|kept| kept.plugin == file.plugin).map_or(above, |kept| kept.layer);
        files.list.push(File { layer, ..file.clone() });
    }
    files
}

/// Of the newer plugins those that this job can use: one that needs what the job never had says nothing about it.
fn concerned<'a>(files: &'a Files, newer: &'a Files) -> IndexSet<&'a str> {
    let had: IndexSet<&str> = files.list.iter().map(|file| file.plugin.as_str()).collect();
    let mut chosen: IndexSet<&str> = newer.list.iter().map(|file| file.plugin.as_str()).collect();
    loop {
        let lacks = |plugin: &&str| {
            let manifest = newer.of(plugin).find(|file| file.path == "plugin.yaml");
            let root = manifest.and_then(|file| yaml::parse(&file.source, &mut Problems::new()));
            let needs = root.as_ref().and_then(|root| root.get("plugins")).and_then(yaml::Node::as_list);
            let mut ids = needs.unwrap_or_default().iter().filter_map(yaml::Node::as_text);
            ids.any(|id| !had.contains(id) && !chosen.contains(id))
        };
        let kept: IndexSet<&str> = chosen.iter().copied().filter(|plugin| !lacks(plugin)).collect();
        if kept.len() == chosen.len() {
            return kept;
        }
        chosen = kept;
    }
}

/// Files that came, went or say something else, as `plugin/path`, in the order of their names.
pub fn changed(old: &Snapshot, new: &Snapshot) -> Vec<String> {
    let texts = |snapshot: &Snapshot| -> IndexSet<(String, String)> {
        snapshot.files.list.iter().map(|file| (file.source.name.clone(), file.source.text.clone())).collect()
    };
    let (old, new) = (texts(old), texts(new));
    let mut names: Vec<String> = old.symmetric_difference(&new).map(|(name, _)| name.clone()).collect();
    names.sort();
    names.dedup();
    names
}

impl Plan {
    /// Whether somebody may decide which data a job goes on with: they are in a role that may accept what turned out
    /// otherwise. Asked of the plan that the job has: new data can't say who may bring them in.
    pub fn may_amend(&self, person: &str) -> bool {
        let mut roles = self.main().may_accept.iter();
        self.shop.people.is_empty() || roles.any(|role| self.shop.has_role(person, &role.value))
    }
}

/// Why a job that has come so far can't go on by another plan.
pub fn unfit(old: &Plan, new: &Plan, records: &[Record], state: &State) -> Option<String> {
    if old.snapshot.job != new.snapshot.job || old.snapshot.shop != new.snapshot.shop {
        return Some(
            "the job's own facts or its shop have changed: only data of plugins are corrected this way".to_owned(),
        );
    }
    if let Some(variant) = state.variant.as_ref().filter(|variant| !new.family.variants.contains_key(*variant)) {
        return Some(format!("the family has no variant `{variant}` there, which the job is for"));
    }
    if let Some(name) = Private::of(new).opens(&Private::of(old)) {
        return Some(format!("they compute with `{name}`, which this job keeps apart as a text of somebody's own"));
    }
    records.iter().find_map(|record| {
        let Event::Entered { address, values, .. } = &record.event else { return None };
        let id = &address.step;
        let Some(step) = new.step(id) else {
            return Some(format!("there is no step `{id}` in them, and event {} was entered there", record.seq));
        };
        if old.step(id).is_some_and(|before| before.kind.word() != step.kind.word()) {
            return Some(format!(
                "the step `{id}` is of another kind there, and event {} was entered there",
                record.seq
            ));
        }
        let fields = step.kind.fields();
        let lost = values.keys().find(|name| !fields.iter().any(|field| field.name.as_str() == name.as_str()));
        lost.map(|name| format!("the step `{id}` does not ask for `{name}` there, and event {} gives it", record.seq))
    })
}
