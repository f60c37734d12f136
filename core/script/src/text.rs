//! Which text a script was compiled from, and where its lines stand.

use std::sync::Arc;

use rhai::Position;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_yaml::Script;

#[derive(Clone)]
pub(super) enum Text {
    /// An expression in a YAML file or on the command line.
    Expression(Script),
    /// A file of functions.
    File(Arc<Source>),
    /// Something we made up ourselves, such as the call of a sheet's function: every position in it means this place.
    Made(Place),
}

impl Text {
    pub fn place(&self, position: Position) -> Place {
        let (Some(line), column) = (position.line(), position.position().unwrap_or(0)) else {
            return self.whole();
        };
        match self {
            Self::Expression(script) => script.place_of(line, column),
            Self::File(source) => in_file(source, line, column),
            Self::Made(place) => place.clone(),
        }
    }

    pub fn whole(&self) -> Place {
        match self {
            Self::Expression(script) => script.place.clone(),
            Self::File(source) => Place::whole(source),
            Self::Made(place) => place.clone(),
        }
    }
}

fn in_file(source: &Arc<Source>, line: usize, column: usize) -> Place {
    let mut start = 0;
    for _ in 1..line {
        match source.text[start..].find('\n') {
            Some(end) => start += end + 1,
            None => return Place::new(source, source.text.len()..source.text.len()),
        }
    }
    let rest = source.text[start..].lines().next().unwrap_or("");
    let from = rest.char_indices().nth(column.saturating_sub(1)).map_or(rest.len(), |(byte, _)| byte);
    let word = rest[from..].find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len() - from);
    let length = if word > 0 { word } else { rest[from..].chars().next().map_or(0, char::len_utf8) };
    Place::new(source, start + from..start + from + length)
}
