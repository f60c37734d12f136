//! What `audit --format json` writes, described for programs that read it.

use schemars::JsonSchema;
use serde::Serialize;

use super::journal::Audited;

/// The document of `audit --format json`.
#[derive(JsonSchema, Serialize)]
struct Document {
    /// `standpipe.audit/1`; another number where a key changes its meaning or goes.
    schema: String,
    /// Whether nothing was found that does not hold.
    ok: bool,
    /// In the order in which they were named or lie on the disk. Missing where the audit could not be begun.
    #[serde(skip_serializing_if = "Option::is_none")]
    journals: Option<Vec<Audited>>,
    /// Where an archive was asked: how many of its jobs are not among the journals, which are those that something was found of.
    #[serde(skip_serializing_if = "Option::is_none")]
    archived: Option<ArchivedJobs>,
    /// What was wrong with the call or with the newer plugins; as in the JSON of every command.
    #[schemars(with = "Vec<std::collections::BTreeMap<String, serde_json::Value>>")]
    problems: serde_json::Value,
    /// Folder of the newer plugins.
    #[serde(skip_serializing_if = "Option::is_none")]
    against: Option<String>,
}

/// Jobs of an archive.
#[derive(JsonSchema, Serialize)]
struct ArchivedJobs {
    /// Finished ones: each was judged again.
    finished: u64,
    /// The others, which were not.
    others: u64,
    /// Finished jobs of shops whose file was not at hand.
    without_shop: u64,
}

pub fn schema() -> schemars::Schema {
    // As it is written: what is left out when it is empty need not be there.
    let settings = schemars::generate::SchemaSettings::default().for_serialize();
    settings.into_generator().into_root_schema_for::<Document>()
}
