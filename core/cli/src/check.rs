//! `check`: everything wrong with plugins, procedures, shops, jobs and answers, in one run.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::Exit;
use super::args::{Check, Common, Fix, Format};
use super::context::{Context, plugins_of, shop_key, shop_of};
use super::fix::{self, Fixed};
use super::on_disk::OnDisk;
use super::target::Targets;
use standpipe_check::case::Case;
use standpipe_check::{self as check, Broken, Stock};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{
    Code, Diagnostic, Problems, Severity, human, json as problems_json, nearest, short, sorted,
};
use standpipe_drivers::answers::Answers;
use standpipe_job::plan::{Inputs, Parsed, Plan, RawJob, build};
use standpipe_library::{Library, Shop, read_file};

const SCHEMA: &str = "standpipe.check/1";

pub fn run(args: &Check, context: &Context) -> Exit {
    let mut usage = Problems::new();
    let targets = Targets::find(&args.paths, &mut usage);
    if !usage.is_empty() {
        context.failed(SCHEMA, &usage);
        return Exit::Usage;
    }
    let look = || Run::of(context, &targets);
    let (fixed, problems, counts) = match args.fix {
        Some(Fix::Write) => fix::all(&named(&args.paths, &targets), &look),
        fix => {
            let (problems, counts) = look();
            let shown = fix.map(|_| fix::certain(&problems, &named(&args.paths, &targets))).unwrap_or_default();
            (shown, problems, counts)
        }
    };
    show(&problems, &counts, args.fix.map(|how| (how, fixed.as_slice())), context);
    let fatal = |problem: &Diagnostic| problem.is_error() || args.strict && problem.severity == Severity::Warning;
    if problems.iter().any(fatal) { Exit::NotMet } else { Exit::Well }
}

/// Writes what is certain to be meant in these files and folders; what is wrong after that.
pub fn fixed(paths: &[PathBuf]) -> Problems {
    let targets = Targets::find(paths, &mut Problems::new());
    let context = Context::new(&Common::default());
    fix::all(&named(paths, &targets), &|| (Run::of(&context, &targets).0, ())).1
}

/// What may be written: what was named, and the plugins of a shop that was.
fn named(paths: &[PathBuf], targets: &Targets) -> Vec<PathBuf> {
    let mut quiet = Problems::new();
    let listed = targets.shops.iter().flat_map(|shop| {
        let source = read_file(shop, &mut quiet);
        source.map(|source| plugins_of(shop, &source, &mut quiet)).unwrap_or_default()
    });
    paths.iter().cloned().chain(listed.collect::<Vec<_>>()).collect()
}

/// What `check` finds in these files and folders, in the order in which it is shown.
pub fn checked(paths: &[PathBuf]) -> Problems {
    let mut problems = Problems::new();
    let targets = Targets::find(paths, &mut problems);
    if problems.is_empty() {
        problems = Run::of(&Context::new(&Common::default()), &targets).0;
    }
    sorted(&problems).into_iter().cloned().collect()
}

#[derive(Default)]
struct Counts {
    plugins: usize,
    procedures: usize,
    families: usize,
    sheets: usize,
    files: usize,
}

struct Run<'a> {
    context: &'a Context,
    targets: &'a Targets,
    problems: Problems,
    counts: Counts,
    /// Documents that could not be used.
    broken: Vec<Broken>,
    /// Where jobs name the files of their shops.
    shops: Vec<(String, Place)>,
}

impl<'a> Run<'a> {
    fn of(context: &'a Context, targets: &'a Targets) -> (Problems, Counts) {
        let mut run = Self {
            context,
            targets,
            problems: Problems::new(),
            counts: Counts::default(),
            broken: Vec::new(),
            shops: Vec::new(),
        };
        run.all();
        for problem in run.problems.iter_mut().filter(|problem| problem.code == Code::UnreadableFile) {
            // A shop file that is not there is a fault of the job that names it.
            let named = run.shops.iter().find(|(shop, _)| shop == problem.place.name());
            if let Some((shop, place)) = named {
                problem.place = place.clone();
                problem.help = near_file(Path::new(shop)).or(problem.help.take());
            }
        }
        (check::causes_first(check::once(run.problems), &run.broken), run.counts)
    }

    /// Plugins are checked together with each shop that something names, and without one if nothing does.
    fn all(&mut self) {
        let targets = self.targets;
        let mut shops: Vec<Option<PathBuf>> = targets.shops.iter().cloned().map(Some).collect();
        let mut jobs: Vec<(PathBuf, Option<PathBuf>)> = Vec::new();
        let mut answers = Vec::new();
        for path in &targets.answers {
            if let Some((read, job)) = self.answers(path) {
                jobs.push((job.clone(), None));
                answers.push((read, job));
            }
            self.counts.files += 1;
        }
        jobs.extend(targets.jobs.iter().map(|path| (path.clone(), None)));
        for (path, shop) in &mut jobs {
            let source = read_file(path, &mut self.problems);
            *shop = source.as_ref().and_then(|source| shop_of(Some((path, source))));
            if let (Some(shop), Some(place)) = (&shop, source.as_ref().and_then(shop_key)) {
                self.shops.push((shop.display().to_string(), place));
            }
        }
        let given = self.context.common.shop.clone();
        for (_, shop) in &jobs {
            add(&mut shops, given.clone().or_else(|| shop.clone()));
        }
        if shops.is_empty() || !targets.plugins.is_empty() {
            add(&mut shops, given.clone());
        }
        for shop in &shops {
            let same = |of: &Option<PathBuf>| given.clone().or_else(|| of.clone()) == *shop;
            let named: Vec<String> =
                jobs.iter().filter(|(_, of)| same(of)).filter_map(|(path, _)| procedure_of(path)).collect();
            self.in_force(shop.clone(), &named);
        }
        let mut done: Vec<&PathBuf> = Vec::new();
        for (path, _) in &jobs {
            if done.contains(&path) {
                continue;
            }
            done.push(path);
            let plan = self.job(path);
            for (read, job) in answers.iter().filter(|(_, job)| job == path) {
                match &plan {
                    Some(plan) => check::answers(read, plan, answers_folder(read), &mut self.problems),
                    None => self.without_plan(read, job),
                }
            }
        }
        self.counts.files += targets.shops.len() + targets.jobs.len();
    }

    /// All plugins, under one shop or none; `named` are the procedures of its jobs.
    fn in_force(&mut self, shop: Option<PathBuf>, named: &[String]) {
        let mut found = Problems::new();
        let (files, source) = self.context.files_with(&self.targets.plugins, shop, &mut found);
        let listed = files.clone();
        let parsed = Parsed::new(files, &mut found);
        let shop = source.and_then(|source| Shop::read(&source, &parsed.units, &mut found));
        let stock: Stock = check::library(&parsed, shop.as_ref().map(|shop| (shop, named)), &mut found);
        // What is wrong with cases is seen without running them.
        Case::all(&parsed, &stock, &mut found);
        self.broken.extend(Broken::all(&parsed, &listed, &stock, &found));
        if !self.targets.documents.is_empty() {
            let of_target = |place: &Place| {
                let name = place.name();
                self.targets.documents.iter().any(|document| {
                    name == document || (document.ends_with('/') && name.starts_with(document.as_str()))
                })
            };
            let wanted = |problem: &Diagnostic| {
                of_target(&problem.place) || problem.also.iter().any(|related| of_target(&related.place))
            };
            found.retain(wanted);
        }
        OnDisk::new(&parsed.library).problems(&mut found);
        self.problems.extend(found);
        self.counts.plugins = self.counts.plugins.max(parsed.library.plugins.len());
        self.counts.procedures = self.counts.procedures.max(stock.procedures.len());
        self.counts.families = self.counts.families.max(stock.families.len());
        self.counts.sheets = self.counts.sheets.max(stock.sheets.len());
    }

    fn job(&mut self, path: &Path) -> Option<Plan> {
        let source = read_file(path, &mut self.problems)?;
        let mut found = Problems::new();
        let shop = self.context.common.shop.clone().or_else(|| shop_of(Some((path, &source))));
        let (files, shop) = self.context.files_with(&self.targets.plugins, shop, &mut found);
        let plan = build(Inputs::new(source, shop, files.clone()), &mut found);
        // What is wrong with plugins was found when all that is in force was checked.
        OnDisk::new(&Library::load(files, &mut Problems::new())).problems(&mut found);
        self.problems.extend(found);
        plan
    }

    fn answers(&mut self, path: &Path) -> Option<(Answers, PathBuf)> {
        let source = read_file(path, &mut self.problems)?;
        let answers = Answers::read(&source, &mut self.problems)?;
        let Some(job) = &answers.job else {
            self.problems.push(
                Diagnostic::warning(
                    Code::UnfitAnswer,
                    &answers.id.place,
                    "nothing says for which job these answers are",
                )
                .help("add `for:` with the path of the job file, so that they can be checked against its steps"),
            );
            return None;
        };
        let job_path = path.parent().unwrap_or(Path::new("")).join(&job.value);
        let is_itself =
            std::fs::canonicalize(&job_path).is_ok_and(|job| std::fs::canonicalize(path).is_ok_and(|own| own == job));
        if is_itself {
            self.problems.push(
                Diagnostic::error(Code::UnreadableFile, &job.place, "this names the file of answers itself")
                    .expected("the job file that they are for, relative to this file")
                    .help("write its path, such as `../jobs/NAME.yaml`"),
            );
            return None;
        }
        if !job_path.is_file() {
            self.problems.push(
                Diagnostic::error(Code::UnreadableFile, &job.place, format!("there is no job file `{}`", job.value))
                    .expected("a path relative to the answers file")
                    .help("correct the path"),
            );
            return None;
        }
        Some((answers, job_path))
    }

    fn without_plan(&mut self, answers: &Answers, job: &Path) {
        let place = answers.job.as_ref().map_or(&answers.id.place, |job| &job.place);
        self.problems.push(
            Diagnostic::warning(Code::FaultyJob, place, format!("the job in {} has faults of its own", job.display()))
                .help("fix these first; then the answers can be checked against its steps"),
        );
    }
}

/// The folder that paths in a file of answers are relative to.
fn answers_folder(answers: &Answers) -> &Path {
    Path::new(answers.id.place.name()).parent().unwrap_or(Path::new(""))
}

/// A file beside the one that is not there whose name is nearly the same.
fn near_file(path: &Path) -> Option<String> {
    let entries = std::fs::read_dir(path.parent()?).ok()?.filter_map(Result::ok);
    let names: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    let near = nearest(&path.file_name()?.to_string_lossy(), names.iter().map(String::as_str))?.to_owned();
    Some(format!("did you mean `{near}`?"))
}

/// What a job file names as its procedure; what is wrong with the file is said elsewhere.
fn procedure_of(job: &Path) -> Option<String> {
    let source = read_file(job, &mut Problems::new())?;
    RawJob::read(&source, &mut Problems::new()).map(|job| job.procedure.value)
}

fn add(list: &mut Vec<Option<PathBuf>>, path: Option<PathBuf>) {
    if !list.contains(&path) {
        list.push(path);
    }
}

fn show(problems: &Problems, counts: &Counts, fixed: Option<(Fix, &[Fixed])>, context: &Context) {
    let count = |severity: Severity| problems.iter().filter(|problem| problem.severity == severity).count();
    let (errors, warnings, notes) = (count(Severity::Error), count(Severity::Warning), count(Severity::Note));
    match context.common.format {
        Format::Json => {
            let mut json = json!({
                "schema": SCHEMA, "ok": errors == 0, "errors": errors, "warnings": warnings, "notes": notes,
                "checked": {
                    "plugins": counts.plugins, "procedures": counts.procedures, "families": counts.families,
                    "sheets": counts.sheets, "files": counts.files,
                },
                "problems": problems_json(problems),
            });
            if let Some((how, files)) = fixed {
                let changes: Vec<_> = files.iter().flat_map(Fixed::json).collect();
                json["fix"] = json!({ "written": how == Fix::Write, "changes": changes });
            }
            context.out_json(&json);
        }
        Format::Short => context.out(&short(problems)),
        _ => {
            for file in fixed.iter().flat_map(|(_, files)| *files) {
                context.out(&file.words());
            }
            match fixed {
                Some((_, [])) => context.out("nothing is certain enough to be fixed\n\n"),
                Some((Fix::Show, _)) => context.out("shown only; `--fix` writes it\n\n"),
                Some((Fix::Write, _)) => context.out("written; what is left:\n\n"),
                None => {}
            }
            context.out(&human(problems, context.look(context.color_out())));
            let of = |number: usize, word: &str| format!("{number} {word}{}", if number == 1 { "" } else { "s" });
            let verdict = match (errors, warnings) {
                (0, 0) if notes > 0 => format!("nothing wrong, {}", of(notes, "note")),
                (0, 0) => "nothing wrong".to_owned(),
                _ => format!("{}, {}", of(errors, "error"), of(warnings, "warning")),
            };
            let mut checked = format!(
                "{}, {}, {} families, {}",
                of(counts.plugins, "plugin"),
                of(counts.procedures, "procedure"),
                counts.families,
                of(counts.sheets, "sheet"),
            );
            if counts.files > 0 {
                checked.push_str(&format!(", {}", of(counts.files, "file")));
            }
            context.out(&format!("{verdict} in {checked}\n"));
            let certain = problems.iter().filter(|problem| problem.mend.is_some()).count();
            if certain > 0 && fixed.is_none() {
                context.out(&format!("{certain} of these can be fixed with `--fix`; `--fix=show` shows how\n"));
            }
            if let Some(first) = problems.first() {
                context.out(&format!("`standpipe show code {}` says more about a code\n", first.code));
            }
        }
    }
}
