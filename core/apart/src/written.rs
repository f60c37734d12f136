//! A text of YAML with tokens in the place of some of its words and of all its comments. Put back, it is what it was, to the byte.

use std::io;
use std::ops::Range;
use std::sync::Arc;

use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Source;
use standpipe_yaml::{self as yaml, Kind, Node};

use super::{Class, Sealer, is_in};

/// `is_private`: whether the text under these keys is; its comments always are, as anything may stand there.
///
/// Errors: those of [`Sealer::seal`].
pub fn sealed(
    source: &Arc<Source>,
    class: Class,
    sealer: &mut Sealer,
    is_private: &dyn Fn(&[&str]) -> bool,
) -> io::Result<String> {
    // What is no YAML was refused long before.
    let Some(root) = yaml::parse(source, &mut Problems::new()) else { return Ok(source.text.clone()) };
    let mut found = Found { is_private, leaves: Vec::new(), private: Vec::new() };
    found.walk(&root, &mut Vec::new());
    let Found { mut leaves, mut private, .. } = found;
    leaves.sort_by_key(|range| range.start);
    let mut at = 0;
    for leaf in leaves {
        private.extend(comments(&source.text, at..leaf.start.max(at)));
        at = at.max(leaf.end);
    }
    private.extend(comments(&source.text, at..source.text.len()));
    private.sort_by_key(|range| range.start);
    let (mut text, mut at) = (String::new(), 0);
    for range in private {
        let mut word = source.text[range.clone()].to_owned();
        sealer.seal(class, &mut word)?;
        text.push_str(&source.text[at..range.start]);
        text.push_str(&word);
        at = range.end;
    }
    text.push_str(&source.text[at..]);
    Ok(text)
}

/// Whether a text says the same with its texts as with the tokens of these: a word for each word, and nothing else.
///
/// A token commits to any bytes. Whoever writes a job could have it stand for some that end the word they stand in, so that
/// with them another job would be seen than without.
pub fn is_same_form(sealed: &Arc<Source>, open: &Arc<Source>) -> bool {
    // A key that stands twice would be passed over.
    let root = |source| {
        let mut problems = Problems::new();
        yaml::parse(source, &mut problems).filter(|_| problems.is_empty())
    };
    sealed.text == open.text
        || match (root(sealed), root(open)) {
            (Some(sealed), Some(open)) => is_same(&sealed, &open),
            _ => false,
        }
}

fn is_same(sealed: &Node, open: &Node) -> bool {
    match (&sealed.kind, &open.kind) {
        (Kind::Scalar(sealed), Kind::Scalar(open)) => is_in(&sealed.text) || sealed == open,
        (Kind::List(sealed), Kind::List(open)) => {
            sealed.len() == open.len() && sealed.iter().zip(open).all(|(sealed, open)| is_same(sealed, open))
        }
        (Kind::Map(sealed), Kind::Map(open)) => {
            let mut pairs = sealed.iter().zip(open);
            let same = pairs.all(|((key, sealed), (name, open))| key.value == name.value && is_same(sealed, open));
            same && sealed.len() == open.len()
        }
        _ => false,
    }
}

struct Found<'a> {
    is_private: &'a dyn Fn(&[&str]) -> bool,
    /// All keys and texts: between them nothing stands but the form, and comments.
    leaves: Vec<Range<usize>>,
    private: Vec<Range<usize>>,
}

impl Found<'_> {
    fn walk<'n>(&mut self, node: &'n Node, path: &mut Vec<&'n str>) {
        match &node.kind {
            Kind::Scalar(scalar) => {
                self.leaves.push(node.place.range());
                // What nobody knows says nothing, and has a meaning of its own.
                if (self.is_private)(path) && !matches!(scalar.text.trim(), "" | "unknown") {
                    self.private.push(node.text_place().range());
                }
            }
            Kind::List(items) => items.iter().for_each(|item| self.walk(item, path)),
            Kind::Map(entries) => {
                for (key, value) in entries {
                    self.leaves.push(key.place.range());
                    path.push(&key.value);
                    self.walk(value, path);
                    path.pop();
                }
            }
        }
    }
}

/// The words of comments in a stretch that has nothing else but signs.
fn comments(text: &str, stretch: Range<usize>) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut at = stretch.start;
    while let Some(sign) = text[at..stretch.end].find('#') {
        let start = at + sign + 1;
        let end = text[start..stretch.end].find('\n').map_or(stretch.end, |end| start + end);
        let words = &text[start..end];
        if !words.trim().is_empty() {
            let begins = start + words.len() - words.trim_start().len();
            found.push(begins..begins + words.trim().len());
        }
        at = end;
    }
    found
}
