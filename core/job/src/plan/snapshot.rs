//! Everything a plan is built from, as text.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::edition;
use standpipe_apart::Opening;
use standpipe_diagnostic::Diagnostic;
use standpipe_diagnostic::source::Source;
use standpipe_library::Files;

/// Versions and texts. Its hash is that of its JSON text, byte for byte.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Snapshot {
    /// `standpipe.plan/1`
    pub schema: String,
    /// Edition of the language of its texts.
    pub language: u32,
    /// Edition of what its scripts mean.
    pub scripts: u32,
    /// Version of this program.
    pub tool: String,
    /// Version of the script interpreter.
    pub interpreter: String,
    /// What answered it, where that was a model and no person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub simulated: Option<Simulated>,
    pub job: Text,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shop: Option<Text>,
    /// SHA-256 of what [`Snapshot::texts_json`] makes of the files.
    pub texts: String,
    /// Files of every plugin that the job uses, and the script library. They are kept apart, as jobs have them in common.
    #[serde(skip)]
    pub files: Files,
    /// What is kept of job and shop, where texts of people are kept apart.
    #[serde(skip)]
    pub(super) sealed: Option<Arc<Sealed>>,
}

/// The texts of a job with tokens in them, and what these stand for.
#[derive(Debug)]
pub(super) struct Sealed {
    pub job: Text,
    pub shop: Option<Text>,
    pub opening: Arc<Opening>,
}

/// A plan as it is kept.
#[derive(Clone, Debug)]
pub struct PlanText {
    pub plan: String,
    /// The texts of its files, the ones it names by their hash; or why they are not there.
    pub texts: Result<String, Box<Diagnostic>>,
    /// What its tokens stand for.
    pub opening: Arc<Opening>,
}

/// What a job says that was answered by a model: it is no job of the real world, and with this it can be had again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Simulated {
    pub model: String,
    pub people: String,
    pub seed: u64,
    pub run: u32,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<String>,
}

impl Simulated {
    /// In one line.
    pub fn words(&self) -> String {
        let faults = match self.faults.as_slice() {
            [] => "no faults".to_owned(),
            faults => format!("faults {}", faults.join(", ")),
        };
        format!("model {}, people {}, seed {}, run {}, {faults}", self.model, self.people, self.seed, self.run)
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Text {
    pub name: String,
    pub text: String,
}

impl Text {
    pub fn of(source: &Source) -> Self {
        Self { name: source.name.clone(), text: source.text.clone() }
    }

    pub fn source(&self) -> Arc<Source> {
        Source::new(self.name.clone(), self.text.clone())
    }
}

impl Snapshot {
    pub fn new(job: &Source, shop: Option<&Source>, files: Files) -> Self {
        Self {
            schema: edition::plan_schema(),
            language: edition::LANGUAGE,
            scripts: edition::SCRIPTS,
            tool: env!("CARGO_PKG_VERSION").to_owned(),
            interpreter: standpipe_script::VERSION.to_owned(),
            simulated: None,
            job: Text::of(job),
            shop: shop.map(Text::of),
            texts: sha256(json(&files).as_bytes()),
            files,
            sealed: None,
        }
    }

    /// The text that is kept, and hashed.
    pub fn json(&self) -> String {
        let Some(sealed) = &self.sealed else { return json(self) };
        let (job, shop) = (sealed.job.clone(), sealed.shop.clone());
        json(&Self { files: Files::default(), job, shop, sealed: None, ..self.clone() })
    }

    /// The texts of all files, which are kept beside it.
    pub fn texts_json(&self) -> String {
        json(&self.files)
    }

    pub fn kept(&self) -> PlanText {
        let opening = self.sealed.as_ref().map(|sealed| sealed.opening.clone()).unwrap_or_default();
        PlanText { plan: self.json(), texts: Ok(self.texts_json()), opening }
    }

    /// Whether two plans are made of the same texts by the same versions, by whatever paths somebody came to the files.
    pub fn says_the_same(&self, other: &Self) -> bool {
        (self.language, self.scripts) == (other.language, other.scripts)
            && (&self.tool, &self.interpreter) == (&other.tool, &other.interpreter)
            && self.job.text == other.job.text
            && self.shop.as_ref().map(|shop| &shop.text) == other.shop.as_ref().map(|shop| &shop.text)
            && self.texts == other.texts
    }

    pub fn hash(&self) -> String {
        sha256(self.json().as_bytes())
    }
}

fn json(what: &impl Serialize) -> String {
    // Plain strings and lists: there is nothing in it that could fail to serialise.
    serde_json::to_string_pretty(what).unwrap_or_default()
}

/// Lower-case hexadecimal SHA-256.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
