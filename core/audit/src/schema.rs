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
    /// What was wrong with the call or with the newer plugins; as in the JSON of every command.
    #[schemars(with = "Vec<std::collections::BTreeMap<String, serde_json::Value>>")]
    problems: serde_json::Value,
    /// Folder of the newer plugins.
    #[serde(skip_serializing_if = "Option::is_none")]
    against: Option<String>,
}

pub fn schema() -> schemars::Schema {
    // As it is written: what is left out when it is empty need not be there.
    let settings = schemars::generate::SchemaSettings::default().for_serialize();
    settings.into_generator().into_root_schema_for::<Document>()
}
