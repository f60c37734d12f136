//! What was said of a log or a reader on the command line and in the shop file.

use super::args::Said as Options;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::typed;
use standpipe_library::{Instrument, Shop};
use standpipe_log::{Choices, Said, of_mapping};
use standpipe_yaml::At;

impl Options {
    /// The first of the options that was given.
    pub fn given(&self) -> Option<&'static str> {
        let lists = [("--column", &self.columns), ("--unit", &self.units), ("--word", &self.words)];
        let list = lists.into_iter().find(|(_, list)| !list.is_empty()).map(|(name, _)| name);
        let single = [
            ("--as", &self.instrument),
            ("--decimal", &self.decimal),
            ("--delimiter", &self.delimiter),
            ("--encoding", &self.encoding),
            ("--time", &self.time),
        ];
        list.or_else(|| single.into_iter().find(|(_, text)| text.is_some()).map(|(name, _)| name))
    }
}

/// All that was said; what is typed goes before what the shop file says.
pub fn said(args: &Options, shop: &Shop, problems: &mut Problems) -> Choices {
    let mut choices = typed_choices(args, problems);
    if let Some(id) = &args.instrument {
        match shop.instruments.get(id) {
            Some(Instrument { log: Some(mapping), .. }) => choices = choices.over(&of_mapping(mapping, problems)),
            Some(_) => wrong(
                problems,
                &typed("--as", id),
                format!("the shop file does not say how `{id}` writes its logs"),
                "add `log: { columns: { ... }, units: { ... } }` to the instrument",
            ),
            None => {
                let known: Vec<&str> = shop.instruments.keys().map(String::as_str).collect();
                let message = format!("the shop has no instrument `{id}`");
                let known = known.join(", ");
                let help = if known.is_empty() {
                    "name a shop file with --shop".to_owned()
                } else {
                    format!("it has {known}")
                };
                wrong(problems, &typed("--as", id), message, &help);
            }
        }
    }
    choices
}

fn typed_choices(args: &Options, problems: &mut Problems) -> Choices {
    let mut choices = Choices::default();
    for (option, list, into) in
        [("--column", &args.columns, &mut choices.columns), ("--unit", &args.units, &mut choices.units)]
    {
        for text in list {
            match text.split_once('=') {
                Some((name, value)) => {
                    into.insert(name.trim().to_owned(), value.trim().to_owned());
                }
                None => wrong(
                    problems,
                    &typed(option, text),
                    format!("`{text}` has no `=`"),
                    &format!("write `{option} NAME=...`"),
                ),
            }
        }
    }
    for text in &args.words {
        match text.split_once('=').and_then(|(left, word)| Some((left.split_once('.')?, word))) {
            Some(((name, cell), word)) => {
                choices
                    .words
                    .entry(name.trim().to_owned())
                    .or_default()
                    .insert(cell.trim().to_owned(), word.trim().to_owned());
            }
            None => wrong(
                problems,
                &typed("--word", text),
                format!("`{text}` is not NAME.CELL=WORD"),
                "write e.g. `--word lever.3=up`",
            ),
        }
    }
    let at = |option: &str, text: &Option<String>| text.as_ref().map(|text| typed(option, text));
    let mut said = Said { code: Code::WrongArguments, problems };
    choices.decimal = said.decimal(at("--decimal", &args.decimal).as_ref());
    choices.delimiter = said.delimiter(at("--delimiter", &args.delimiter).as_ref());
    choices.encoding = said.encoding(at("--encoding", &args.encoding).as_ref());
    choices.time = said.time(at("--time", &args.time).as_ref());
    choices
}

fn wrong(problems: &mut Problems, at: &At<String>, message: String, help: &str) {
    problems.push(Diagnostic::error(Code::WrongArguments, &at.place, message).help(help));
}
