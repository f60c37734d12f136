//! The documents that card and record are as data, with whatever was wrong. Made once, for what is written and for what is
//! published of it.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};
use serde::Serialize;
use serde_json::Value as Json;

use super::card::CardView;
use super::record::RecordView;

#[derive(Serialize, JsonSchema)]
pub struct CardData {
    /// `standpipe.card/1`
    pub schema: &'static str,
    pub ok: bool,
    /// Not there if there could be no card.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub card: Option<CardView>,
    pub problems: Json,
}

#[derive(Serialize, JsonSchema)]
pub struct RecordData {
    /// `standpipe.report/1`
    pub schema: &'static str,
    pub ok: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordView>,
    pub problems: Json,
}

/// Of what is written, not of what could be read.
pub fn schema_of<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}
