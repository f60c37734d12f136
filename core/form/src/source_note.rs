//! Where the values of a document come from.

use std::sync::Arc;

use serde::Serialize;

use super::snake;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_yaml::{At, Node, Sources};

/// A source, and who vouches for the copy.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SourceNote {
    /// The source: a document, its date, its page.
    pub from: String,
    /// Who copied the values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entered_by: Option<String>,
    /// Who compared the copy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub checked_by: Option<String>,
    /// Where it is said.
    pub place: Place,
}

/// The `sources:` of a document.
#[derive(Clone, Debug, Default)]
pub(super) struct SourceNotes {
    notes: Vec<(Covers, Arc<SourceNote>)>,
}

#[derive(Clone, Debug)]
enum Covers {
    All,
    Paths(Vec<At<String>>),
}

impl SourceNotes {
    pub(super) fn read(node: Option<&Node>, problems: &mut Problems) -> Self {
        let Some(node) = node else { return Self::default() };
        let mut notes = Vec::new();
        for note in Sources::read_node(node, problems) {
            let covers = match note.covers.as_ref().map(|covers| (covers, covers.as_list(), covers.as_text())) {
                None | Some((_, _, Some("all"))) => Covers::All,
                Some((covers, None, Some(path))) => Covers::Paths(vec![At::new(snake(path), covers.place.clone())]),
                Some((_, Some(items), _)) => {
                    let paths =
                        items.iter().filter_map(|item| Some(At::new(snake(item.as_text()?), item.place.clone())));
                    Covers::Paths(paths.collect())
                }
                Some((covers, None, None)) => {
                    problems.push(
                        Diagnostic::error(
                            Code::MissingSource,
                            &covers.head(),
                            format!("expected fields, found {}", covers.described()),
                        )
                        .help("write `covers: all`, or a list of fields or groups such as `[level, capacity.total]`"),
                    );
                    continue;
                }
            };
            let place = note.from.place.clone();
            notes.push((
                covers,
                Arc::new(SourceNote {
                    from: note.from.value,
                    entered_by: note.entered_by.map(|by| by.value),
                    checked_by: note.checked_by.map(|by| by.value),
                    place,
                }),
            ));
        }
        Self { notes }
    }

    /// The note that covers a path most closely; of two alike the first.
    pub(super) fn of(&self, path: &str, variant: Option<&str>) -> Option<Arc<SourceNote>> {
        let in_variant = variant.map(|id| format!("variants.{}.{path}", snake(id)));
        let mut best: Option<(usize, &Arc<SourceNote>)> = None;
        for (covers, note) in &self.notes {
            let reach = match covers {
                Covers::All => Some(0),
                Covers::Paths(paths) => {
                    let reach = |covered: &At<String>| {
                        let direct = is_within(path, covered).then_some(covered.len());
                        // What is said of a variant alone is said more closely than anything else.
                        let special =
                            in_variant.as_deref().filter(|path| is_within(path, covered)).map(|_| 1000 + covered.len());
                        special.or(direct)
                    };
                    paths.iter().filter_map(reach).max()
                }
            };
            if let Some(reach) = reach
                && best.is_none_or(|(other, _)| reach > other)
            {
                best = Some((reach, note));
            }
        }
        best.map(|(_, note)| note.clone())
    }

    /// Every path that a note says it covers.
    pub(super) fn covered(&self) -> impl Iterator<Item = &At<String>> {
        self.notes.iter().flat_map(|(covers, _)| match covers {
            Covers::All => &[][..],
            Covers::Paths(paths) => paths,
        })
    }
}

/// Whether a path is this one or lies below it.
pub(super) fn is_within(path: &str, outer: &str) -> bool {
    path.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}
