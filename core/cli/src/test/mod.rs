//! `test`: runs the worked examples that plugins carry.

pub(super) mod human;
mod junit;

use std::fs;
use std::path::PathBuf;

use serde_json::json;

use super::Exit;
use super::args::{Format, Test};
use super::context::Context;
use super::on_disk::OnDisk;
use super::target::Targets;
use standpipe_check::Stock;
use standpipe_check::case::{self, Bench, Case, Coverage, Reached, Report, uncovered};
use standpipe_diagnostic::{Code, Diagnostic, Problems, json as problems_json};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::{Kind, Layer};

const SCHEMA: &str = "standpipe.test/1";

/// All that a run of cases has to tell.
pub struct Results {
    pub reports: Vec<Report>,
    pub coverage: Coverage,
    /// Faulty cases, and plugins without any.
    pub problems: Problems,
    /// Cases that the filter left out.
    pub left_out: usize,
}

pub fn run(args: &Test, context: &Context) -> Exit {
    let mut usage = Problems::new();
    let targets = Targets::find(&args.paths, &mut usage);
    if !args.paths.is_empty() && targets.plugins.is_empty() && usage.is_empty() {
        let at = typed("PATH", &args.paths[0].display().to_string());
        usage.push(
            Diagnostic::error(Code::WrongArguments, &at.place, "there is no plugin here, and so no case")
                .expected("a plugin, or a folder of plugins"),
        );
    }
    if !usage.is_empty() {
        context.failed(SCHEMA, &usage);
        return Exit::Usage;
    }
    let results = Results::of(args, &targets, context);
    match context.common.format {
        Format::Json => context.out_json(&as_json(&results)),
        Format::Junit => context.out(&junit::text(&results)),
        _ => {
            context.report(&results.problems);
            context.out(&human::text(&results, args, context.color_out()));
        }
    }
    let faulty = |problem: &Diagnostic| problem.is_error() || args.strict;
    let well = results.reports.iter().all(Report::holds) && !results.problems.iter().any(faulty);
    if well { Exit::Well } else { Exit::NotMet }
}

/// A folder of this run, taken away again however the run ends.
struct Scratch(PathBuf);

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

impl Results {
    pub fn of(args: &Test, targets: &Targets, context: &Context) -> Self {
        results(args, targets, context)
    }
}

fn results(args: &Test, targets: &Targets, context: &Context) -> Results {
    let mut problems = Problems::new();
    let (files, _) = context.files_with(&targets.plugins, context.common.shop.clone(), &mut problems);
    // What is wrong with plugins is for `check` to say; here it matters only as far as cases can't run.
    let mut quiet = Problems::new();
    let parsed = Parsed::new(files.clone(), &mut quiet);
    let stock = Stock::read(&parsed, &mut [], &mut quiet);
    let cases = Case::all(&parsed, &stock, &mut problems);
    let given = context.common.plugins.len();
    let is_target = |plugin: &str| {
        targets.plugins.is_empty()
            || parsed.library.plugins.get(plugin).is_some_and(|plugin| match plugin.layer {
                Layer::Given(nth) => nth > given,
                _ => false,
            })
    };
    problems.extend(uncovered(&parsed, &cases));
    problems.retain(|problem| problem.place.name().split('/').next().is_none_or(is_target));
    problems.extend(quiet.into_iter().filter(|problem| leaves_out(&parsed, problem)));
    let scratch = Scratch(std::env::temp_dir().join(format!("standpipe-cases-{}", std::process::id())));
    let bench = Bench { files: &files, parsed: &parsed, stock: &stock, scratch: scratch.0.clone() };
    let own: Vec<&Case> = cases.iter().filter(|case| is_target(&case.plugin)).collect();
    let wanted: Vec<&Case> = own.iter().filter(|case| is_wanted(case, args.filter.as_deref())).copied().collect();
    let mut reports: Vec<Report> = wanted.iter().map(|case| case::run(case, &bench)).collect();
    let mut reached = Reached::default();
    for report in &reports {
        reached.extend(&report.reached);
    }
    let concerns = |word: &str, id: &str| {
        let kind = if word == "sheet" { Kind::Sheet } else { Kind::Procedure };
        parsed.library.document(kind, id).is_some_and(|document| is_target(&document.plugin))
    };
    let coverage = Coverage::of(&stock, &reached, &concerns);
    let mut disk = OnDisk::new(&parsed.library);
    disk.problems(&mut problems);
    for report in &mut reports {
        disk.place(&mut report.place);
        report.lines.iter_mut().for_each(|line| disk.place(&mut line.place));
        disk.problems(&mut report.problems);
    }
    Results { left_out: own.len() - wanted.len(), reports, coverage, problems }
}

/// Whether a plugin was left out whole, and its cases with it: that none fails must not look as if all held.
fn leaves_out(parsed: &Parsed, problem: &Diagnostic) -> bool {
    let name = problem.place.name();
    name.split_once('/').is_some_and(|(plugin, file)| {
        problem.is_error() && file == "plugin.yaml" && !parsed.library.plugins.contains_key(plugin)
    })
}

fn is_wanted(case: &Case, filter: Option<&str>) -> bool {
    let name = format!("{}/{}", case.plugin, case.id.value);
    filter.is_none_or(|text| name.contains(text) || case.what.of().contains(text))
}

fn as_json(results: &Results) -> serde_json::Value {
    let cases: Vec<_> = results
        .reports
        .iter()
        .map(|report| {
            let lines: Vec<_> = report
                .lines
                .iter()
                .map(|line| {
                    json!({
                        "what": line.what, "expected": line.expected, "found": line.found,
                        "difference": line.difference, "tolerance": line.tolerance, "holds": line.holds,
                        "place": line.place,
                    })
                })
                .collect();
            json!({
                "case": report.case, "plugin": report.plugin, "kind": report.kind, "of": report.of,
                "holds": report.holds(), "place": report.place, "lines": lines,
                "problems": problems_json(&report.problems),
            })
        })
        .collect();
    let coverage: serde_json::Map<_, _> = results
        .coverage
        .0
        .iter()
        .map(|(what, part)| {
            ((*what).to_owned(), json!({ "reached": part.reached, "all": part.all, "missing": part.missing }))
        })
        .collect();
    let failed = results.reports.iter().filter(|report| !report.holds()).count();
    json!({
        "schema": SCHEMA, "ok": failed == 0 && !results.problems.iter().any(Diagnostic::is_error),
        "passed": results.reports.len() - failed, "failed": failed, "left_out": results.left_out,
        "cases": cases, "coverage": coverage, "problems": problems_json(&results.problems),
    })
}
