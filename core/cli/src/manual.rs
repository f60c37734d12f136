//! `manual`: what there is to read, as pages in a folder. Texts are those that lie in the plugins and scripts inside the program;
//! what the program knows of itself is written out beside them.

use std::path::{Component, Path, PathBuf};

use clap::ValueEnum;
use serde_json::json;

use super::Exit;
use super::args::{Manual, SchemaKind};
use super::context::Context;
use super::{formats, schema};
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_embedded::{PLUGINS, SCRIPTS};
use standpipe_job::plan::typed;
use standpipe_report::page::{self, WayOn, Written, written};

/// The page that the project begins with.
const README: &str = include_str!("../../../README.md");
const SCHEMA: &str = "standpipe.manual/1";
const FIRST: &str = "index.html";
/// By which a folder is known as that of a manual.
const MARK: &str = "<body class=\"manual\">";

struct Page {
    /// Of its file, without the ending.
    name: &'static str,
    /// What it is good for; its title is its own.
    about: &'static str,
    of: Of,
}

enum Of {
    /// A text of the project, by its path.
    Text(&'static str),
    Made(fn() -> String),
}

const GROUPS: &[(&str, &[Page])] = &[
    (
        "Working with it",
        &[
            Page {
                name: "technician",
                about: "for the technician, at the terminal and on a phone",
                of: Of::Text("plugins/TECHNICIAN.md"),
            },
            Page {
                name: "tour",
                about: "everything it does, on an invented workshop; the commands are given in a clone of the project",
                of: Of::Text("README.md"),
            },
            Page { name: "auditor", about: "for whoever has to believe it later", of: Of::Text("plugins/AUDITOR.md") },
        ],
    ),
    (
        "Data of your own",
        &[
            Page {
                name: "new-unit",
                about: "for the foreman: a family, a workshop, a job and its case from an empty folder",
                of: Of::Text("plugins/NEW-UNIT.md"),
            },
            Page {
                name: "new-work",
                about: "for the foreman: a calculation, a procedure and a change by the workshop from an empty folder",
                of: Of::Text("plugins/NEW-WORK.md"),
            },
            Page {
                name: "data",
                about: "where everything lies, and what can be said in it",
                of: Of::Text("plugins/README.md"),
            },
        ],
    ),
    (
        "To look things up",
        &[
            Page { name: "steps", about: "each with an example that runs", of: Of::Text("plugins/STEPS.md") },
            Page { name: "keys", about: "with a sentence and an example each", of: Of::Text("plugins/KEYS.md") },
            Page {
                name: "functions",
                about: "the calculation library, and every function that scripts can call",
                of: Of::Text("scripts/README.md"),
            },
            Page { name: "commands", about: "with all of their options", of: Of::Made(commands) },
            Page {
                name: "messages",
                about: "what each code means, an example, and what to do",
                of: Of::Made(messages),
            },
            Page {
                name: "exit-codes",
                about: "how a run tells other programs what came of it",
                of: Of::Made(exit_codes),
            },
            Page { name: "schemas", about: "for editors, and for programs that read results", of: Of::Made(schemas) },
        ],
    ),
];

fn pages() -> impl Iterator<Item = &'static Page> {
    GROUPS.iter().flat_map(|(_, pages)| *pages)
}

pub fn run(args: &Manual, context: &Context) -> Exit {
    let files = match files() {
        Ok(files) => files,
        Err(fault) => {
            context.note(&fault.to_string());
            return Exit::Defect;
        }
    };
    if let Err(message) = write(&args.into, &files) {
        let at = typed("--into", &args.into.display().to_string());
        let problem = Diagnostic::error(Code::Unwritable, &at.place, message);
        context.failed(SCHEMA, &[problem.help("name a new folder, or that of an earlier manual")]);
        return Exit::Usage;
    }
    if context.json() {
        let names: Vec<&String> = files.iter().map(|(name, _)| name).collect();
        context.out_json(&json!({ "schema": SCHEMA, "ok": true, "files": names, "problems": [] }));
    } else {
        let first = args.into.join(FIRST);
        context.out(&format!("{} files written; begin with {}\n", files.len(), first.display()));
    }
    Exit::Well
}

/// Nothing of anybody else is written over.
fn write(into: &Path, files: &[(String, String)]) -> Result<(), String> {
    let fault = |fault| format!("the manual can't be written: {fault}");
    let mut there = std::fs::read_dir(into).into_iter().flatten();
    let first = standpipe_disk::text(&into.join(FIRST), 1 << 20).unwrap_or_default();
    if there.next().is_some() && !first.contains(MARK) {
        return Err(format!("{} holds something else than a manual", into.display()));
    }
    standpipe_disk::folder(into).and_then(|()| standpipe_disk::folder(&into.join("schemas"))).map_err(fault)?;
    for (name, text) in files {
        standpipe_disk::whole(&into.join(name), text.as_bytes()).map_err(fault)?;
    }
    Ok(())
}

/// Every file by its name in the folder.
fn files() -> Result<Vec<(String, String)>, page::Unrendered> {
    let texts: Vec<(&Page, Written)> = pages().map(|page| (page, text_of(page))).collect();
    let titles: Vec<&str> = texts.iter().map(|(_, text)| title(text)).collect();
    let mut files =
        vec![(FIRST.to_owned(), page::manual(&written(&contents(&texts), &|to| Some(to.to_owned())), &[])?)];
    for (number, (page, text)) in texts.iter().enumerate() {
        let way = |number: usize, rel| {
            let to = format!("{}.html", texts.get(number)?.0.name);
            Some(WayOn { to, text: titles[number], rel: Some(rel) })
        };
        let mut ways = vec![WayOn { to: FIRST.to_owned(), text: "All pages", rel: None }];
        ways.extend(number.checked_sub(1).and_then(|number| way(number, "prev")));
        ways.extend(way(number + 1, "next"));
        files.push((format!("{}.html", page.name), page::manual(text, &ways)?));
    }
    for kind in SchemaKind::value_variants() {
        let text = serde_json::to_string_pretty(&schema::titled(*kind, None)).unwrap_or_default();
        files.push((schema_file(*kind), text + "\n"));
    }
    Ok(files)
}

fn title(text: &Written) -> &str {
    text.headings.first().map_or("", |heading| heading.text.as_str())
}

fn contents(texts: &[(&Page, Written)]) -> String {
    let mut text = format!("# Manual\n\nOf standpipe {}. {}\n", env!("CARGO_PKG_VERSION"), standpipe_report::NOTICE);
    for (group, pages) in GROUPS {
        text.push_str(&format!("\n## {group}\n\n"));
        for Page { name, about, .. } in *pages {
            let title = texts.iter().find(|(page, _)| page.name == *name).map_or("", |(_, text)| title(text));
            text.push_str(&format!("- [{title}]({name}.html): {about}\n"));
        }
    }
    text
}

fn text_of(page: &Page) -> Written {
    match page.of {
        Of::Made(made) => written(&made(), &|to| Some(to.to_owned())),
        Of::Text(path) => written(source(path), &|to| leads(path, to)),
    }
}

fn source(path: &str) -> &'static str {
    let file = match path.split_once('/') {
        Some(("plugins", rest)) => PLUGINS.get_file(rest),
        Some(("scripts", rest)) => SCRIPTS.get_file(rest),
        _ => return README,
    };
    file.and_then(|file| file.contents_utf8()).unwrap_or_default()
}

/// Where a link of a text leads in the manual: to the page that its file has become.
fn leads(from: &str, to: &str) -> Option<String> {
    if to.starts_with('#') || to.starts_with("https://") {
        return Some(to.to_owned());
    }
    let (file, place) = to.split_once('#').map_or((to, String::new()), |(file, place)| (file, format!("#{place}")));
    let mut path = PathBuf::new();
    for part in Path::new(from).parent()?.join(file).components() {
        match part {
            Component::ParentDir => _ = path.pop(),
            part => path.push(part),
        }
    }
    let page = pages().find(|page| matches!(page.of, Of::Text(own) if Path::new(own) == path))?;
    Some(format!("{}.html{place}", page.name))
}

fn commands() -> String {
    let mut text = "# Commands\n\nAs `standpipe help COMMAND` says it.\n".to_owned();
    let mut all = formats::command().term_width(80);
    all.build();
    helped("", &mut all, &mut text);
    text
}

fn helped(path: &str, command: &mut clap::Command, text: &mut String) {
    let path = format!("{path} {}", command.get_name());
    let help = command.render_long_help().to_string();
    text.push_str(&format!("\n##{path}\n\n```\n{}\n```\n", help.trim_end()));
    for inner in command.get_subcommands_mut().filter(|inner| inner.get_name() != "help") {
        helped(&path, inner, text);
    }
}

fn messages() -> String {
    let mut text =
        "# Messages\n\nEvery message has a code; `standpipe show code CODE` says the same as this page.\n".to_owned();
    for code in Code::ALL {
        text.push_str(&format!("\n## {code}\n\n**{}**\n", code.meaning()));
        if let Some(page) = code.page() {
            text.push_str(&format!("\n{}\n\n```\n{}\n```\n\nFix: {}\n", page.about, page.example, page.fix));
        }
    }
    text
}

fn exit_codes() -> String {
    let mut text = "# Exit codes\n\nThe same for every command.\n\n| code | what it says |\n| --- | --- |\n".to_owned();
    for exit in Exit::ALL {
        text.push_str(&format!("| {} | {} |\n", exit.number(), exit.means()));
    }
    text
}

fn schema_file(kind: SchemaKind) -> String {
    format!("schemas/{}.json", kind.to_possible_value().map(|value| value.get_name().to_owned()).unwrap_or_default())
}

fn schemas() -> String {
    let mut text = "# JSON schemas\n\nOf the files that people write, for editors, and of results. `standpipe schema KIND` prints \
                    one; for `family` and `job`, `--form ID` adds the questions of a form.\n\n"
        .to_owned();
    for kind in SchemaKind::value_variants() {
        text.push_str(&format!("- [{}]({})\n", schema::title(*kind), schema_file(*kind)));
    }
    text
}
