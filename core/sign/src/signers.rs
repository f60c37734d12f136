//! The list of who may sign by which key, and from when until when: ALLOWED SIGNERS of ssh-keygen(1), read strictly.

use std::ops::Range;
use std::sync::Arc;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_job::Moment;

use crate::patterns::Patterns;
use crate::sshsig::{KIND, Key};
use crate::{NAMESPACE, timestamp};

#[derive(Clone, Debug, Default)]
pub struct Signers {
    list: Vec<Signer>,
}

#[derive(Clone, Debug)]
struct Signer {
    line: usize,
    people: Patterns,
    options: Options,
    key: Key,
}

#[derive(Clone, Debug, Default)]
struct Options {
    namespaces: Option<Patterns>,
    /// With the time as it is written.
    after: Option<(Timestamp, String)>,
    before: Option<(Timestamp, String)>,
}

/// What the list makes of a key that somebody signed with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trust {
    Valid,
    /// It is that person's, and did not count then: why.
    NotThen(String),
    /// The list has keys of that person, and not this one.
    Other,
    /// The list has no key of that person.
    NoKey,
}

impl Signers {
    /// Reads a list. Lines with a fault are reported and left out: a list with any is not to be relied on.
    pub fn read(source: &Arc<Source>) -> (Self, Problems) {
        Self::read_in(source, &TimeZone::system())
    }

    /// `zone`: in which times count that do not end in `Z`.
    pub fn read_in(source: &Arc<Source>, zone: &TimeZone) -> (Self, Problems) {
        let (mut list, mut problems, mut start) = (Vec::new(), Problems::new(), 0);
        for (index, whole) in source.text.split_inclusive('\n').enumerate() {
            let lead = whole.len() - whole.trim_start().len();
            let text = whole.trim();
            let at = start + lead;
            start += whole.len();
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            let mut line = Line { source, text, at, zone, problems: &mut problems };
            list.extend(line.signer(index + 1));
        }
        (Self { list }, problems)
    }

    /// Whether any key is that person's, at whatever time.
    pub fn knows(&self, person: &str) -> bool {
        self.of(person).next().is_some()
    }

    fn of(&self, person: &str) -> impl Iterator<Item = &Signer> {
        self.list.iter().filter(move |signer| signer.people.fit(person))
    }

    /// Could this person have signed by this key at that time?
    pub fn judge(&self, person: &str, key: Key, at: Moment) -> Trust {
        if !self.knows(person) {
            return Trust::NoKey;
        }
        let mut why = None;
        for signer in self.of(person).filter(|signer| signer.key == key) {
            match signer.at(at) {
                Ok(()) => return Trust::Valid,
                // Of several lines the last says how it stands by now.
                Err(said) => why = Some(format!("{said} (line {} of the list)", signer.line)),
            }
        }
        why.map_or(Trust::Other, Trust::NotThen)
    }
}

impl Signer {
    fn at(&self, at: Moment) -> Result<(), String> {
        let Options { namespaces, after, before } = &self.options;
        if namespaces.as_ref().is_some_and(|namespaces| !namespaces.fit(NAMESPACE)) {
            return Err(format!("not for `{NAMESPACE}`"));
        }
        let at = timestamp::of(at).ok_or("for no such time")?;
        // Both ends count, as for ssh-keygen.
        match (after, before) {
            (Some((after, said)), _) if at < *after => Err(format!("valid from {said} on")),
            (_, Some((before, said))) if at > *before => Err(format!("valid until {said}")),
            _ => Ok(()),
        }
    }
}

/// A line that is read.
struct Line<'a> {
    source: &'a Arc<Source>,
    /// Without what stands around it.
    text: &'a str,
    /// Where it begins.
    at: usize,
    zone: &'a TimeZone,
    problems: &'a mut Problems,
}

const FORM: &str = "PERSON [OPTIONS] ssh-ed25519 KEY";

impl Line<'_> {
    fn place(&self, range: Range<usize>) -> Place {
        Place::new(self.source, self.at + range.start..self.at + range.end)
    }

    /// Always none, so that it can end what it is said of.
    fn fault<T>(&mut self, range: Range<usize>, message: impl Into<String>, help: &str) -> Option<T> {
        let fault = Diagnostic::error(Code::FaultySigners, &self.place(range), message);
        self.problems.push(fault.expected(FORM).help(help));
        None
    }

    fn signer(&mut self, number: usize) -> Option<Signer> {
        let fields = fields(self.text);
        let Some(fields) = fields else {
            return self.fault(0..self.text.len(), "a quote is not closed", "close it with `\"`");
        };
        let text = |index: usize| fields.get(index).map(|range| &self.text[range.clone()]);
        // A kind of key has its place behind the options, where there are any.
        let kind = (1..3).find(|index| text(*index).is_some_and(is_kind));
        let Some(kind) = kind else {
            let help = "write who it is, such as `jo`, then what the file `.pub` of the key has";
            return self.fault(0..self.text.len(), "this line has no kind of key", help);
        };
        let people = self.people(fields[0].clone());
        let options = if kind == 2 { self.options(fields[1].clone()) } else { Some(Options::default()) };
        let key = self.key(fields[kind].clone(), fields.get(kind + 1).cloned());
        Some(Signer { line: number, people: people?, options: options?, key: key? })
    }

    fn people(&mut self, range: Range<usize>) -> Option<Patterns> {
        let text = &self.text[range.clone()];
        let inner = text.strip_prefix('"').and_then(|text| text.strip_suffix('"')).unwrap_or(text);
        let patterns = (!inner.contains('"')).then(|| Patterns::read(inner)).flatten();
        match patterns {
            Some(patterns) => Some(patterns),
            None => {
                self.fault(range, "this names nobody", "write the ids of people with commas between, without spaces")
            }
        }
    }

    fn key(&mut self, kind: Range<usize>, key: Option<Range<usize>>) -> Option<Key> {
        let found = &self.text[kind.clone()];
        if found != KIND {
            let message = format!("keys of the kind `{found}` are not accepted");
            return self.fault(kind, message, "let the person make one with `ssh-keygen -t ed25519`");
        }
        let Some(range) = key else {
            return self.fault(kind, "the key is missing after its kind", "copy all of the file `.pub` of the key");
        };
        match Key::read(&self.text[range.clone()]) {
            Ok(key) => Some(key),
            Err(why) => {
                let message = format!("this is not a key: {why}");
                self.fault(range, message, "copy all of the file `.pub` of the key")
            }
        }
    }

    fn options(&mut self, range: Range<usize>) -> Option<Options> {
        let mut options = Options::default();
        let mut seen: Vec<String> = Vec::new();
        for part in parts(self.text, range) {
            let whole = &self.text[part.clone()];
            let (name, value) = whole.split_once('=').map_or((whole, None), |(name, value)| (name, Some(value)));
            let lower = name.to_ascii_lowercase();
            if seen.contains(&lower) {
                return self.fault(part, format!("`{name}` is here twice"), "leave one of them");
            }
            let quoted = value.map(|value| value.strip_prefix('"').and_then(|value| value.strip_suffix('"')));
            match (lower.as_str(), quoted) {
                ("cert-authority", _) => {
                    let help = "write a line for each person, with the key of that person";
                    return self.fault(part, "authorities that vouch for keys are not accepted", help);
                }
                ("namespaces" | "valid-after" | "valid-before", None) => {
                    return self.fault(
                        part,
                        format!("`{name}` has no value"),
                        "write e.g. `valid-before=\"20271231Z\"`",
                    );
                }
                ("namespaces" | "valid-after" | "valid-before", Some(None)) => {
                    return self.fault(part, format!("the value of `{name}` has no quotes"), "put it in `\"`");
                }
                ("namespaces", Some(Some(list))) => match Patterns::read(list) {
                    Some(patterns) => options.namespaces = Some(patterns),
                    None => return self.fault(part, "this names no purpose", "write `namespaces=\"act@standpipe\"`"),
                },
                ("valid-after", Some(Some(time))) => options.after = Some(self.time(part, time)?),
                ("valid-before", Some(Some(time))) => options.before = Some(self.time(part, time)?),
                _ => {
                    let known = ["namespaces", "valid-after", "valid-before"];
                    let help = match nearest(&lower, known) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!("known are {}", known.join(", ")),
                    };
                    return self.fault(part, format!("there is no option `{name}`"), &help);
                }
            }
            seen.push(lower);
        }
        if let (Some((after, _)), Some((before, _))) = (&options.after, &options.before)
            && before < after
        {
            let line = 0..self.text.len();
            return self.fault(line, "this key stops counting before it starts", "swap the times, or correct them");
        }
        Some(options)
    }

    fn time(&mut self, part: Range<usize>, text: &str) -> Option<(Timestamp, String)> {
        match timestamp::read(text, self.zone) {
            Some((at, utc)) => {
                if !utc {
                    let message = format!("`{text}` depends on the clock of whichever computer reads it");
                    let warning = Diagnostic::warning(Code::FaultySigners, &self.place(part), message);
                    self.problems.push(warning.help(format!("write `{text}Z`, which is UTC everywhere")));
                }
                Some((at, text.to_owned()))
            }
            None => {
                let help = "write the year, month and day, and hour, minute and second if need be: `20271231Z`, `20271231180000Z`";
                self.fault(part, format!("`{text}` is not a time"), help)
            }
        }
    }
}

/// Kinds of keys of OpenSSH, that of the tokens among them; only to tell them from options.
fn is_kind(text: &str) -> bool {
    ["ssh-", "ecdsa-sha2-", "sk-ssh-", "sk-ecdsa-"].iter().any(|start| text.starts_with(start))
}

/// Where the fields lie between spaces and tabs; none where a quote is not closed.
fn fields(text: &str) -> Option<Vec<Range<usize>>> {
    split(text, 0..text.len(), |c| c == ' ' || c == '\t')
}

/// Where the options lie between commas.
fn parts(text: &str, range: Range<usize>) -> Vec<Range<usize>> {
    split(text, range, |c| c == ',').unwrap_or_default()
}

fn split(text: &str, range: Range<usize>, between: fn(char) -> bool) -> Option<Vec<Range<usize>>> {
    let (mut found, mut start, mut quoted) = (Vec::new(), None, false);
    for (at, c) in text[range.clone()].char_indices().map(|(at, c)| (range.start + at, c)) {
        quoted ^= c == '"';
        match (between(c) && !quoted, start) {
            (true, Some(from)) => {
                found.push(from..at);
                start = None;
            }
            (false, None) => start = Some(at),
            _ => {}
        }
    }
    found.extend(start.map(|from| from..range.end));
    (!quoted).then_some(found)
}
