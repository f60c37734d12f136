//! What a copy of a job's folder says of itself: for whom it was made, and which evidence is therefore not in it.

use std::collections::BTreeSet;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::evidence::name_of;
use crate::event::EvidenceRef;

/// It says so of itself, and nobody vouches for it: what it names is not shown, and never more than that.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// `stranger`
    #[serde(rename = "for")]
    pub whom: String,
    /// Files of evidence, by their names in the folder.
    pub files: BTreeSet<String>,
}

impl LeftOut {
    pub const FILE: &str = "left-out.json";
    pub const LARGEST: u64 = 4 << 20;

    /// Of a folder that leaves nothing out, or says nothing that can be read: nothing.
    pub fn of(dir: &Path) -> Self {
        let bytes = standpipe_disk::bytes(&dir.join(Self::FILE), Self::LARGEST).unwrap_or_default();
        serde_json::from_slice(&bytes).unwrap_or_default()
    }

    /// Whether it says of a piece of evidence, which is not there, that it was left out.
    pub fn has(&self, dir: &Path, evidence: &EvidenceRef) -> bool {
        name_of(evidence).is_some_and(|name| self.files.contains(&name) && dir.join(name).symlink_metadata().is_err())
    }

    pub fn written(&self) -> String {
        // Plain strings: there is nothing in it that could fail to serialise.
        serde_json::to_string(self).unwrap_or_default() + "\n"
    }
}
