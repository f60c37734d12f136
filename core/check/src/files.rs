//! Files that are in force and that nothing makes use of.

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_job::plan::Parsed;
use standpipe_library::{Kind, STANDARD};

/// Files beside those of a plugin, and tables and scripts that no other file names. Whoever wrote one meant it to be used.
pub fn unused(parsed: &Parsed, problems: &mut Problems) {
    parsed.library.strays(problems);
    let all: Vec<_> = Kind::ALL.iter().flat_map(|kind| parsed.library.documents(*kind)).collect();
    for kind in [Kind::Table, Kind::Script] {
        for document in parsed.library.documents(kind).filter(|document| document.plugin != STANDARD) {
            let word = if kind == Kind::Script { format!("{}::", document.id) } else { document.id.clone() };
            let used = all.iter().any(|other| {
                !std::ptr::eq(&raw const **other, &raw const *document)
                    && other.source.name != document.source.name
                    && (mentions(&other.source.text, &word)
                        || of_model(other.kind, kind) && mentions(&other.source.text, &document.id))
            });
            // A plugin of tables alone is there for other plugins.
            let only_tables = all
                .iter()
                .filter(|other| other.plugin == document.plugin)
                .all(|other| matches!(other.kind, Kind::Table | Kind::Case));
            if !used && !only_tables {
                problems.push(
                    Diagnostic::warning(
                        Code::StrayFile,
                        &Place::whole(&document.source),
                        format!("nothing uses the {kind} `{}`", document.id),
                    )
                    .help("name it where it is needed, or take the file out"),
                );
            }
        }
    }
}

/// A model names a script, and functions of it without the script's name.
fn of_model(other: Kind, kind: Kind) -> bool {
    other == Kind::Model && kind == Kind::Script
}

/// As a word of its own: `pan-1` is not mentioned by `pan-10`.
pub fn mentions(text: &str, word: &str) -> bool {
    let of_word = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
    text.match_indices(word).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        !before.is_some_and(of_word) && (word.ends_with(':') || !after.is_some_and(of_word))
    })
}
