//! Which formats each command can write. Its help offers these and no others.

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{CommandFactory, ValueEnum};

use super::args::{Args, Format};

/// The formats of a command, by its name.
pub fn of(command: &str) -> &'static [Format] {
    match command {
        "check" => &[Format::Human, Format::Short, Format::Json],
        "calc" | "log" => &[Format::Human, Format::Json, Format::Csv],
        "audit" => &[Format::Human, Format::Json, Format::Csv, Format::Junit],
        "card" | "simulate" => &[Format::Human, Format::Json, Format::Html],
        "report" => &[Format::Human, Format::Json, Format::Csv, Format::Html],
        "show" => &[Format::Human, Format::Json, Format::Yaml, Format::Html],
        "test" => &[Format::Human, Format::Json, Format::Junit],
        _ => &[Format::Human, Format::Json],
    }
}

/// The program's arguments. Formats that a command can't write are still read, so that they are refused with a message that
/// says what there is, in the format of all messages.
pub fn command() -> clap::Command {
    let whole = Args::command();
    let Some(format) = whole.get_arguments().find(|argument| argument.get_id() == "format").cloned() else {
        return whole;
    };
    whole.mut_subcommands(|command| {
        let offered = of(command.get_name());
        let values = Format::value_variants().iter().filter_map(|one| {
            let value = one.to_possible_value()?;
            Some(value.hide(!offered.contains(one)))
        });
        let parser = PossibleValuesParser::new(values).try_map(|text| Format::from_str(&text, false));
        command.arg(format.clone().value_parser(parser))
    })
}
