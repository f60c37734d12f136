//! `compare`: what differs between two versions of plugins, in words, for whoever looks changes over.

use std::path::PathBuf;

use indexmap::IndexSet;
use serde_json::json;

use super::Exit;
use super::args::Compare;
use super::context::Context;
use super::on_disk::OnDisk;
use super::target::Targets;
use standpipe_check::versions::{Difference, Tried, Version, Way, compare, tried};
use standpipe_diagnostic::columns::hang;
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Parsed, typed};
use standpipe_report::count;

const SCHEMA: &str = "standpipe.compare/1";

pub fn run(args: &Compare, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let both = [(&args.old, "<A>"), (&args.new, "<B>")].map(|(path, name)| version(path, name, context, &mut problems));
    let [Some((old, was)), Some((new, is))] = both else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    let plugins: IndexSet<String> = was.into_iter().chain(is).collect();
    let mut differences = compare(&old, &new, &plugins);
    let tried = tried(&differences, &new);
    for (version, old) in [(&old, true), (&new, false)] {
        let mut on_disk = OnDisk::new(&version.parsed.library);
        for difference in &mut differences {
            if let Some(place) = if old { &mut difference.was } else { &mut difference.is } {
                on_disk.place(place);
            }
        }
    }
    if context.json() {
        context.out_json(&json!({
            "schema": SCHEMA, "ok": differences.is_empty(), "differences": differences,
            "cases": tried.cases, "untried": tried.untried, "problems": problems_json(&problems),
        }));
    } else {
        context.report(&problems);
        context.out(&text(&differences, &tried, plugins.len(), context.width()));
    }
    if differences.is_empty() { Exit::Well } else { Exit::NotMet }
}

/// One version, and the plugins that were named.
fn version(path: &PathBuf, name: &str, context: &Context, problems: &mut Problems) -> Option<(Version, Vec<String>)> {
    let mut found = Problems::new();
    let targets = Targets::find(std::slice::from_ref(path), &mut found);
    if targets.plugins.is_empty() {
        let at = typed(name, &path.display().to_string());
        let message = format!("there is no plugin in `{}`", path.display());
        problems.push(
            Diagnostic::error(Code::WrongArguments, &at.place, message)
                .expected("a plugin's folder, or a folder of plugins")
                .help("name two folders; of an earlier version in git: `git worktree add ../before COMMIT`"),
        );
        return None;
    }
    let (files, _) = context.files_with(&targets.plugins, None, &mut found);
    let folders: IndexSet<String> = targets
        .plugins
        .iter()
        .filter_map(|folder| folder.canonicalize().ok()?.file_name().map(|name| name.to_string_lossy().into_owned()))
        .collect();
    let parsed = Parsed::new(files, &mut found);
    let version = Version::read(parsed, &mut found);
    // What is wrong in one version is for `check`; here it says why something could not be compared.
    let own = |problem: &Diagnostic| {
        problem.is_error() && problem.place.name().split_once('/').is_some_and(|(plugin, _)| folders.contains(plugin))
    };
    found.retain(own);
    OnDisk::new(&version.parsed.library).problems(&mut found);
    problems.append(&mut found);
    Some((version, folders.into_iter().collect()))
}

fn text(differences: &[Difference], tried: &Tried, plugins: usize, width: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    for (way, heading) in [
        (Way::Easier, "EASIER TO END AS SHOWN"),
        (Way::Open, "TO BE JUDGED BY WHO KNOWS THE WORK"),
        (Way::Harder, "HARDER TO END AS SHOWN"),
        (Way::Words, "WORDS"),
    ] {
        let these: Vec<&Difference> = differences.iter().filter(|one| one.way == way).collect();
        if these.is_empty() {
            continue;
        }
        lines.push(heading.to_owned());
        let mut last = "";
        for one in these {
            if one.of != last {
                lines.extend(hang("  ", &one.of, width));
                last = &one.of;
            }
            lines.extend(hang("    - ", &one.what, width));
            // A path is copied, so it stays in one piece.
            if let Some(place) = one.is.as_ref().or(one.was.as_ref()) {
                lines.push(format!("      {}:{}", place.name(), place.line()));
            }
        }
        lines.push(String::new());
    }
    if !tried.cases.is_empty() || !tried.untried.is_empty() {
        lines.push("CASES THAT RUN WHAT DIFFERS".to_owned());
        for (case, of) in &tried.cases {
            lines.extend(hang(&format!("  {case}: "), &of.join(", "), width));
        }
        if !tried.untried.is_empty() {
            lines.extend(hang("  none: ", &tried.untried.join(", "), width));
        }
        lines.push(String::new());
    }
    let easier = differences.iter().filter(|one| one.way == Way::Easier).count();
    lines.push(match differences.len() {
        0 => format!("no difference in {}", count(plugins, "plugin")),
        all => format!("{} in {}, {easier} easier to end as shown", count(all, "difference"), count(plugins, "plugin")),
    });
    lines.iter().map(|line| format!("{line}\n")).collect()
}
