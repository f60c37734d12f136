//! `show`: what is known, and from which file and line.

mod code;
mod family;
mod form;
mod key;
mod listing;
mod plugin;
mod procedure;
mod quantity;
mod sheet;
mod text;

use serde_json::{Value as Json, json};

use super::Exit;
use super::args::{Format, Show};
use super::context::Context;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_job::plan::{Parsed, typed};
use standpipe_library::Kind;
use standpipe_overlay::Overlay;
use standpipe_yaml::At;

const SCHEMA: &str = "standpipe.show/1";

/// Words that can stand after `show`; the documents of plugins by their own names.
const WORDS: &[&str] = &[
    "plugin",
    "quantity",
    "units",
    "table",
    "form",
    "family",
    "procedure",
    "sheet",
    "overlay",
    "script",
    "case",
    "code",
    "key",
];

/// Something shown: for people and for programs.
pub struct Shown {
    pub text: String,
    pub json: Json,
    /// As a page, where there is one.
    pub html: Option<String>,
}

pub fn run(args: &Show, context: &Context) -> Exit {
    let mut problems = Problems::new();
    let shown = match (&args.kind, &args.id) {
        (Some(word), Some(id)) if word == "code" => code::show(id, context.width()),
        (Some(word), None) if word == "code" => Ok(listing::codes()),
        (Some(word), Some(id)) if word == "key" => key::show(id, context.width()),
        (Some(word), None) if word == "key" => Ok(key::kinds()),
        (kind, id) => {
            let (parsed, overlays) = context.with_overlays(&mut problems);
            let (places, lowered, json) = (args.places, args.lowered, context.json());
            let known = Known { parsed: &parsed, overlays, places, lowered, json };
            let family = args.family.as_deref().map(|id| typed("--family", id));
            let (width, colour) = (context.width(), context.color_out());
            let wanted = procedure::Wanted { family: family.as_ref(), width, colour };
            one(kind.as_deref(), id.as_deref(), &wanted, known, &mut problems)
        }
    };
    match shown {
        Ok(shown) => {
            context.report(&problems);
            let mut json = json!({ "schema": SCHEMA, "ok": true });
            if let (Some(out), Json::Object(inner)) = (json.as_object_mut(), shown.json) {
                out.extend(inner);
                out.insert("problems".to_owned(), standpipe_diagnostic::json(&problems));
            }
            match (context.format(), shown.html) {
                (Format::Json, _) => context.out_json(&json),
                (Format::Yaml, _) => context.out(&standpipe_yaml::write(&json).unwrap_or_else(|fault| fault)),
                (Format::Html, Some(html)) => context.out(&html),
                (Format::Html, None) => {
                    let at = typed("--format", "html");
                    let problem =
                        Diagnostic::error(Code::WrongArguments, &at.place, "only a procedure is shown as a page");
                    context
                        .failed(SCHEMA, &[problem.help("write `show procedure ID --format html`, or another format")]);
                    return Exit::Usage;
                }
                _ => context.out(&shown.text),
            }
            // A faulty plugin that this did not need is reported, and stops nothing.
            Exit::Well
        }
        Err(problem) => {
            problems.push(*problem);
            context.failed(SCHEMA, &problems);
            Exit::Usage
        }
    }
}

type Found = Result<Shown, Box<Diagnostic>>;

/// What can be shown, and whether the place of every piece is wanted.
struct Known<'a> {
    parsed: &'a Parsed,
    /// Those that the shop lists.
    overlays: Vec<Overlay>,
    places: bool,
    /// The program of a sheet, too.
    lowered: bool,
    /// For a program; people need not wait until the place of every value is written down for them.
    json: bool,
}

fn one(
    word: Option<&str>,
    id: Option<&str>,
    wanted: &procedure::Wanted<'_>,
    known: Known<'_>,
    problems: &mut Problems,
) -> Found {
    let (parsed, places) = (known.parsed, known.places);
    let Some(word) = word else { return Ok(listing::everything(parsed)) };
    let word = match word {
        // Plurals are what one says when asking for a list.
        "plugins" => "plugin",
        "families" => "family",
        "quantities" => "quantity",
        "unit" => "units",
        other => other.strip_suffix('s').filter(|one| WORDS.contains(one)).unwrap_or(other),
    };
    if !WORDS.contains(&word) {
        let at = typed("<KIND>", word);
        let mut problem =
            Diagnostic::error(Code::WrongArguments, &at.place, format!("there is nothing called `{word}` to show"))
                .expected(format!("one of: {}", WORDS.join(", ")));
        if let Some(near) = nearest(word, WORDS.iter().copied()) {
            problem = problem.help(format!("did you mean `{near}`?"));
        }
        return Err(Box::new(problem));
    }
    let Some(id) = id else {
        return Ok(match word {
            "plugin" => listing::plugins(parsed),
            "quantity" => listing::quantities(parsed),
            word => listing::documents(parsed, kind_of(word)),
        });
    };
    let id = typed("<ID>", id);
    match word {
        "plugin" => plugin::show(&id, parsed),
        "quantity" => quantity::show(&id, parsed),
        "family" => family::show(&id, known, problems),
        "form" => form::show(&id, places, parsed, problems),
        "procedure" => procedure::show(&id, wanted, known, problems),
        "sheet" if !places => sheet::show(&id, known.lowered, parsed),
        word => text::show(kind_of(word), &id, places, parsed),
    }
}

fn kind_of(word: &str) -> Kind {
    Kind::ALL.into_iter().find(|kind| kind.name() == word).unwrap_or(Kind::Units)
}

fn absent(what: &str, id: &At<String>, near: Option<&str>) -> Box<Diagnostic> {
    let problem = Diagnostic::error(Code::UnknownReference, &id.place, format!("there is no {what} `{}`", id.value));
    Box::new(problem.help(match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("`standpipe show {what}` lists those in force"),
    }))
}

/// The last problem, where a search has just reported that it failed.
fn last(problems: &mut Problems, id: &At<String>, what: &str) -> Box<Diagnostic> {
    problems.pop().map_or_else(|| absent(what, id, None), Box::new)
}
