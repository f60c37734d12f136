//! Something of a procedure left out, to see what it is worth: in the texts, so that the plan is built as any other.

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_library::{Files, Kind};
use standpipe_yaml::{self as yaml, At, Node};

/// What is left out of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    Gate,
    Witness,
    /// The step itself.
    Step,
}

impl Part {
    pub fn words(self) -> &'static str {
        match self {
            Part::Gate => "gate",
            Part::Witness => "witness",
            Part::Step => "step",
        }
    }
}

/// The texts without a part of a step, in every text that has it: one may replace another. Lines stay where they were.
///
/// Errors: no text has such a step, or it has no such part.
pub fn without(files: &Files, step: &At<String>, part: Part) -> Result<Files, Box<Diagnostic>> {
    let mut files = files.clone();
    let of_steps = |path: &str| [Kind::Procedure, Kind::Overlay].iter().any(|kind| path.starts_with(kind.folder()));
    let (mut found, mut changed) = (false, false);
    for file in files.list.iter_mut().filter(|file| of_steps(&file.path)) {
        if !file.source.text.contains(step.as_str()) {
            continue;
        }
        let Some(root) = yaml::parse(&file.source, &mut Problems::new()) else { continue };
        let Some((node, before)) = find(&root, step, None) else { continue };
        found = true;
        let range = match part {
            Part::Step => before..node.place.range().end,
            Part::Gate | Part::Witness => {
                let Some((key, value)) = node.entry(part.words()) else { continue };
                key.place.range().start..value.place.range().end
            }
        };
        let text = &file.source.text;
        let blank: String = text[range.clone()].chars().map(|one| if one == '\n' { '\n' } else { ' ' }).collect();
        let text = format!("{}{blank}{}", &text[..range.start], &text[range.end..]);
        file.source = Source::new(file.source.name.clone(), text);
        changed = true;
    }
    if changed {
        return Ok(files);
    }
    let message = match found {
        true => format!("the step `{}` has no {}", step.value, part.words()),
        false => format!("no procedure has a step `{}`", step.value),
    };
    Err(Box::new(
        Diagnostic::error(Code::WrongArguments, &step.place, message)
            .help("`standpipe show procedure ID` lists steps and gates"),
    ))
}

/// The map of a step, and where the mark of its place in the list begins.
pub(crate) fn find<'n>(node: &'n Node, id: &str, item: Option<usize>) -> Option<(&'n Node, usize)> {
    if let Some(list) = node.as_list() {
        return list.iter().find_map(|one| find(one, id, dash_before(one)));
    }
    if let Some(start) = item
        && node.get("id").and_then(Node::as_text) == Some(id)
    {
        return Some((node, start));
    }
    node.as_map()?.iter().find_map(|(_, value)| find(value, id, None))
}

/// The dash that an item of a block stands behind.
fn dash_before(node: &Node) -> Option<usize> {
    let start = node.place.range().start;
    let before = &node.place.source().text[..start];
    let dash = before.trim_end_matches([' ', '\n']).len().checked_sub(1)?;
    before[dash..].starts_with('-').then_some(dash)
}
