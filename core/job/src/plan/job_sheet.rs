//! The job file: which subject, which family, which procedure, and the facts that the form asks for.

use std::sync::Arc;

use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_yaml::{self as yaml, At, Node};

/// Keys of a job file that are not facts, and what editors are told of them.
pub const KEYS: &[(&str, &str)] = &[
    ("job", "Id of the job.\n\nExample: `job: 2026-1101`"),
    ("title", "What people read as its name.\n\nExample: `title: The van that came in hot`"),
    ("invented", "Not a real job; card and record say so.\n\nExample: `invented: true`"),
    ("family", "The family of the unit.\n\nExample: `family: heron`"),
    ("variant", "Its variant, where that is known before anybody looks.\n\nExample: `variant: deep-pan`"),
    ("procedure", "The work to be done.\n\nExample: `procedure: pan-service-overflow`"),
    ("shop", "The shop file, relative to this one.\n\nExample: `shop: ../workshop/shop.yaml`"),
    ("follows", "The journal of the closed job that this one goes on from.\n\nExample: `follows: 2026-1100`"),
];

/// A job file as written; its facts are read once the form is known.
#[derive(Clone, Debug)]
pub struct RawJob {
    pub id: At<String>,
    pub title: Option<String>,
    pub invented: bool,
    pub family: At<String>,
    pub variant: Option<At<String>>,
    pub procedure: At<String>,
    /// The closed job that this one goes on from.
    pub follows: Option<At<String>>,
    /// Everything else.
    pub facts: Vec<(At<String>, Node)>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct JobSheet {
    pub id: String,
    pub title: Option<String>,
    pub invented: bool,
    pub variant: Option<String>,
    pub follows: Option<String>,
    pub facts: Value,
}

impl RawJob {
    /// Reads a job file; `None` when it can't be used at all.
    pub fn read(source: &Arc<Source>, problems: &mut Problems) -> Option<RawJob> {
        let root = yaml::parse(source, problems)?;
        let place = root.head();
        let Some(entries) = root.as_map() else {
            problems.push(
                Diagnostic::error(Code::FaultyJob, &place, "not a job file")
                    .expected("keys such as job, family and procedure")
                    .help("`standpipe new job ID` asks for what is needed and writes one"),
            );
            return None;
        };
        let mut text = |key: &str, required: bool| -> Option<At<String>> {
            match root.entry(key) {
                Some((_, node)) => match node.as_text() {
                    Some(text) => Some(At::new(text.to_owned(), node.head())),
                    None => {
                        problems.push(
                            Diagnostic::error(Code::WrongShape, &node.head(), format!("`{key}` is not a text"))
                                .expected("a text"),
                        );
                        None
                    }
                },
                None => {
                    if required {
                        problems.push(
                            Diagnostic::error(Code::FaultyJob, &place, format!("the job file does not say `{key}`"))
                                .help(format!("add a line `{key}: ...`")),
                        );
                    }
                    None
                }
            }
        };
        let id = text("job", true);
        let family = text("family", true);
        let procedure = text("procedure", true);
        let (variant, follows) = (text("variant", false), text("follows", false));
        let title = text("title", false).map(|title| title.value);
        let invented = text("invented", false).is_some_and(|word| word.value == "true");
        let facts =
            entries.iter().filter(|(key, _)| !KEYS.iter().any(|(known, _)| *known == key.as_str())).cloned().collect();
        Some(RawJob {
            id: id?,
            title,
            invented,
            family: family?,
            variant,
            procedure: procedure?,
            follows,
            facts,
            place,
        })
    }
}
