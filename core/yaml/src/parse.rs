//! Text to tree: one marked parse that refuses what YAML would take in silence.

use std::collections::HashMap;
use std::sync::Arc;

use saphyr_parser::{Event, Parser, ScalarStyle, Span};

use super::node::{Kind, Node, Offsets, Scalar, Style};
use super::{refuse, scan_fault};
use crate::At;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// Lists and maps within one another.
const DEEPEST: usize = 64;
/// Faults after which nobody reads on.
const MOST: usize = 200;
const LARGEST: usize = 8 * 1024 * 1024;

pub(super) struct Parsed {
    pub root: Node,
    /// Nothing was refused but keys that stand twice: what was read is what was meant.
    pub sound: bool,
}

/// Reports everything refused; `None` if there is no tree to go on with.
pub(super) fn parse(source: &Arc<Source>, problems: &mut Problems) -> Option<Parsed> {
    let whole = Place::whole(source);
    if source.text.len() > LARGEST {
        problems.push(
            Diagnostic::error(Code::NotText, &whole, format!("the file has {} bytes", source.text.len()))
                .expected(format!("at most {LARGEST} bytes"))
                .help("split it into several files"),
        );
        return None;
    }
    // The scanner takes a NUL for the end of the text and would leave out the rest in silence.
    if let Some(at) = control(&source.text) {
        problems.push(
            Diagnostic::error(
                Code::NotText,
                &Place::new(source, at..at + 1),
                "a control character: this is not a text file",
            )
            .expected("text in UTF-8")
            .help("remove the character, or check that this is the file you meant"),
        );
        return None;
    }
    if let Some(place) = Place::of_merge(source) {
        problems.push(refuse::merge(&place));
        return None;
    }
    let mut builder = Builder::new(source);
    let finished = builder.run();
    let until = finished.as_ref().err().map_or(usize::MAX, |fault| fault.place.range().start);
    builder.scan.refuse_tabs(until, &mut builder.problems);
    if let Err(fault) = finished {
        let told = builder.problems.iter().any(|p| p.code == Code::TabIndent && p.place.line() == fault.place.line());
        if !told {
            // Text that begins with a brace is a map without values up to where the scanner gives up.
            let line = fault.place.line();
            builder.problems.retain(|p| p.code != Code::WrongShape || p.place.line() != line);
            problems.push(*fault);
        }
        problems.append(&mut builder.problems);
        return None;
    }
    let root = builder.root.take();
    if root.is_none() && builder.problems.is_empty() {
        builder.problems.push(
            Diagnostic::error(Code::InvalidYaml, &whole, "the file is empty")
                .expected("keys and values")
                .help("fill it in, or delete it"),
        );
    }
    let sound = builder.problems.iter().all(|p| p.code == Code::DuplicateKey);
    problems.append(&mut builder.problems);
    root.map(|root| Parsed { root, sound })
}

/// Where the first control character stands that is no end of a line and no tab. The bytes are looked at first: those of a
/// control character beyond ASCII begin with 0xC2.
fn control(text: &str) -> Option<usize> {
    let doubtful = |byte: u8| (byte < b' ' && !matches!(byte, b'\n' | b'\r' | b'\t')) || byte == 0x7f || byte == 0xc2;
    if !text.bytes().any(doubtful) {
        return None;
    }
    text.find(|c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
}

struct Builder<'s> {
    source: &'s Arc<Source>,
    scan: scan_fault::Scan<'s>,
    offsets: Offsets,
    open: Vec<Open>,
    root: Option<Node>,
    problems: Problems,
    documents: usize,
}

/// A list or map whose end has not come yet.
struct Open {
    start: usize,
    end: usize,
    flow: bool,
    content: Content,
}

enum Content {
    List(Vec<Node>),
    Map { entries: Vec<(At<String>, Node)>, key: Option<Key>, seen: Seen },
}

/// Which keys a map has so far. Few are compared one by one, which most maps are done with.
#[derive(Default)]
struct Seen(HashMap<String, Place>);

const FEW: usize = 24;

impl Seen {
    fn first<'a>(&'a mut self, name: &str, entries: &'a [(At<String>, Node)]) -> Option<&'a Place> {
        if entries.len() < FEW {
            return entries.iter().find(|(key, _)| key.value == name).map(|(key, _)| &key.place);
        }
        // All entries but those that came since.
        for (key, _) in &entries[self.0.len()..] {
            self.0.insert(key.value.clone(), key.place.clone());
        }
        self.0.get(name)
    }
}

enum Key {
    Sound(At<String>),
    /// Refused already; the value that follows is left out.
    Refused,
}

type Step = Result<(), Box<Diagnostic>>;

impl<'s> Builder<'s> {
    fn new(source: &'s Arc<Source>) -> Self {
        // A byte order mark is no part of the first key.
        let skipped = if source.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        Self {
            source,
            scan: scan_fault::Scan::new(source),
            offsets: Offsets::new(source, skipped),
            open: Vec::new(),
            root: None,
            problems: Problems::new(),
            documents: 0,
        }
    }

    fn run(&mut self) -> Step {
        let source = self.source;
        let text = source.text.strip_prefix('\u{feff}').unwrap_or(&source.text);
        let mut parser = Parser::new_from_str(text);
        while let Some(event) = parser.next_event() {
            match event {
                Ok((Event::StreamEnd, _)) => break,
                Ok((event, span)) => {
                    self.take(event, span)?;
                    if self.problems.len() > MOST {
                        let place = Place::new(source, self.offsets.byte(span.end.index())..source.text.len());
                        return Err(Box::new(
                            Diagnostic::error(
                                Code::InvalidYaml,
                                &place,
                                format!("more than {MOST} faults before here"),
                            )
                            .help("fix these first; what follows was not checked"),
                        ));
                    }
                }
                Err(fault) => {
                    let at = self.offsets.byte(fault.marker().index());
                    return Err(Box::new(self.scan.explain(fault.info(), at)));
                }
            }
        }
        Ok(())
    }

    fn take(&mut self, event: Event, span: Span) -> Step {
        let (start, end) = (self.offsets.byte(span.start.index()), self.offsets.byte(span.end.index()));
        match event {
            Event::DocumentStart(_) => {
                self.documents += 1;
                if self.documents > 1 {
                    let place = Place::new(self.source, start..end);
                    return Err(Box::new(
                        Diagnostic::error(Code::InvalidYaml, &place, "a second document begins here")
                            .expected("one document in a file")
                            .help("remove the line `---`, or move what follows into a file of its own"),
                    ));
                }
            }
            Event::Alias(_) => {
                refuse::reference(&Place::new(self.source, start..end), &mut self.problems);
                self.add(Node {
                    place: Place::new(self.source, start..end),
                    kind: Kind::Scalar(Scalar { text: self.source.text[start..end].into(), style: Style::Plain }),
                });
            }
            Event::Scalar(text, style, anchor, tag) => {
                let decorated = anchor > 0 || tag.is_some();
                if decorated {
                    refuse::decoration(self.source, start, &mut self.problems);
                }
                self.scalar(text.into_owned(), style, start, end, decorated);
            }
            Event::SequenceStart(anchor, tag) => {
                self.begin(start, end, anchor > 0 || tag.is_some(), '[', Content::List(Vec::new()))?;
            }
            Event::MappingStart(anchor, tag) => {
                let content = Content::Map { entries: Vec::new(), key: None, seen: Seen::default() };
                self.begin(start, end, anchor > 0 || tag.is_some(), '{', content)?;
            }
            Event::SequenceEnd | Event::MappingEnd => self.finish(end),
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
        }
        Ok(())
    }

    fn begin(&mut self, start: usize, end: usize, decorated: bool, bracket: char, content: Content) -> Step {
        if decorated {
            refuse::decoration(self.source, start, &mut self.problems);
        }
        // The span of a flow collection runs past the blanks after its bracket, and begins with its tag.
        let opening = self.source.text[start..end].rfind(bracket);
        let flow = opening.is_some();
        let start = start + opening.unwrap_or(0);
        if self.open.len() >= DEEPEST {
            let place = Place::new(self.source, start..start + 1);
            return Err(Box::new(
                Diagnostic::error(
                    Code::InvalidYaml,
                    &place,
                    format!("more than {DEEPEST} lists and maps within one another"),
                )
                .help("nest it less deeply"),
            ));
        }
        self.scan.opened(start, flow);
        self.open.push(Open { start, end, flow, content });
        Ok(())
    }

    fn scalar(&mut self, text: String, style: ScalarStyle, start: usize, end: usize, decorated: bool) {
        let style = match style {
            ScalarStyle::Plain => Style::Plain,
            ScalarStyle::SingleQuoted => Style::SingleQuoted,
            ScalarStyle::DoubleQuoted => Style::DoubleQuoted,
            ScalarStyle::Literal => Style::Literal,
            ScalarStyle::Folded => Style::Folded,
        };
        // Blocks end where the next key begins; their own text ends before. A comment behind a quote belongs to no text.
        let end = match style {
            Style::SingleQuoted | Style::DoubleQuoted => start + quoted(&self.source.text[start..end]),
            _ => start + self.source.text[start..end].trim_end().len(),
        };
        let place = Place::new(self.source, start..end);
        if style != Style::Plain {
            self.scan.covered(start, end);
        }
        if !decorated {
            self.refuse_scalar(&text, style, &place);
        }
        self.add(Node { kind: Kind::Scalar(Scalar { text, style }), place });
    }

    fn refuse_scalar(&mut self, text: &str, style: Style, place: &Place) {
        if style != Style::Plain {
            return;
        }
        if text.is_empty() || text == "~" {
            match self.open.last().map(|open| &open.content) {
                Some(Content::Map { key: Some(Key::Sound(key)), .. }) => {
                    refuse::nothing_after(key, place, self.source, &mut self.problems);
                }
                Some(Content::Map { key: None, .. }) => refuse::no_key(place, &mut self.problems),
                Some(Content::Map { key: Some(Key::Refused), .. }) => {}
                Some(Content::List(_)) | None => refuse::nothing_here(place, &mut self.problems),
            }
        } else {
            refuse::word(text, place, &mut self.problems);
            refuse::cut_by_comment(place, &mut self.problems);
            refuse::swallowed_item(place, &mut self.problems);
        }
    }

    /// Puts a finished node where it belongs.
    fn add(&mut self, node: Node) {
        let Some(open) = self.open.last_mut() else {
            self.root = Some(node);
            return;
        };
        open.end = open.end.max(node.place.range().end);
        match &mut open.content {
            Content::List(items) => {
                if !open.flow && items.is_empty() {
                    open.start = open.start.min(node.place.range().start);
                }
                items.push(node);
            }
            Content::Map { entries, key, seen } => match key.take() {
                None => *key = Some(as_key(node, &mut self.problems)),
                Some(Key::Refused) => {}
                Some(Key::Sound(name)) => match seen.first(&name.value, entries) {
                    Some(first) => refuse::twice(&name, first, &mut self.problems),
                    None => entries.push((name, node)),
                },
            },
        }
    }

    fn finish(&mut self, end: usize) {
        let Some(open) = self.open.pop() else { return };
        self.scan.closed();
        let (kind, first) = match open.content {
            Content::List(items) => {
                let first = items.first().map(|item| item.place.range().start);
                (Kind::List(items), first)
            }
            Content::Map { entries, .. } => {
                let first = entries.first().map(|(key, _)| key.place.range().start);
                (Kind::Map(entries), first)
            }
        };
        // A block has no end of its own: the scanner puts it at the next token, which may be lines below.
        let range = if open.flow { open.start..end } else { first.unwrap_or(open.start)..open.end };
        self.add(Node { kind, place: Place::new(self.source, range) });
    }
}

fn as_key(node: Node, problems: &mut Problems) -> Key {
    match node.kind {
        Kind::Scalar(scalar) if scalar.text.is_empty() && scalar.is_plain() => Key::Refused,
        Kind::Scalar(scalar) if scalar.text == "<<" && scalar.is_plain() => {
            refuse::merge_key(&node.place, problems);
            Key::Refused
        }
        Kind::Scalar(scalar) => Key::Sound(At::new(scalar.text, node.place)),
        _ => {
            problems.push(
                Diagnostic::error(Code::WrongShape, &node.place, format!("{} is used as a key", node.described()))
                    .expected("a word as the key")
                    .help("write a word before the colon; text that begins with `{` or `[` needs quotes"),
            );
            Key::Refused
        }
    }
}

/// How long a text in quotes is, with both quotes.
fn quoted(text: &str) -> usize {
    let quote = text.as_bytes().first().copied().unwrap_or_default();
    let mut bytes = text.bytes().enumerate().skip(1).peekable();
    while let Some((at, byte)) = bytes.next() {
        let doubled = quote == b'\'' && bytes.peek().is_some_and(|(_, next)| *next == quote);
        if byte == quote && !doubled {
            return at + 1;
        }
        if byte == b'\\' && quote == b'"' || byte == quote {
            bytes.next();
        }
    }
    text.trim_end().len()
}
