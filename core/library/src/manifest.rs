//! plugin.yaml: what a plugin is and what it needs.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::layer::Layer;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_yaml::{self as yaml, At, Sources};

#[derive(Debug, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Raw {
    /// Id of the plugin: the name of its folder.
    ///
    /// Example: `plugin: ferry-lane`
    #[schemars(with = "standpipe_yaml::told::Id")]
    plugin: At<String>,
    /// Its version, in three numbers; in quotes, since it is no number.
    ///
    /// Example: `version: "1.0.0"`
    #[schemars(with = "standpipe_yaml::told::Version")]
    version: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    title: Option<String>,
    /// Ids of the plugins that it builds on; what these have can be named in it.
    ///
    /// Example: `plugins: [units, calculations]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
    plugins: Vec<At<String>>,
    /// Under which licence it may be passed on.
    ///
    /// Example: `licence: MIT OR Apache-2.0`
    licence: Option<String>,
    /// Who made it.
    ///
    /// Example: `author: Ferry Lane Workshop`
    author: Option<String>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    invented: bool,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[serde(default)]
    #[allow(dead_code, reason = "stated in every document, used by none of a manifest's readers")]
    sources: Option<Sources>,
}

/// A plugin whose manifest can be relied on.
#[derive(Clone, Debug)]
pub struct Plugin {
    /// What it is called by.
    pub id: String,
    /// As its `plugin.yaml` says.
    pub version: String,
    /// What people call it.
    pub title: Option<String>,
    /// Plugins whose documents it uses.
    pub plugins: Vec<At<String>>,
    /// Under what it may be passed on.
    pub licence: Option<String>,
    /// Who vouches for it.
    pub author: Option<String>,
    /// All its data is made up.
    pub invented: bool,
    /// Where it came from.
    pub layer: Layer,
    /// Where its id stands.
    pub place: Place,
}

pub(super) fn read(source: &Arc<Source>, folder: &str, layer: Layer, problems: &mut Problems) -> Option<Plugin> {
    let before = problems.len();
    let raw: Raw = yaml::read(source, problems)?;
    if raw.plugin.value != folder {
        problems.push(
            Diagnostic::error(
                Code::NoManifest,
                &raw.plugin.place,
                format!("the plugin `{}` is in a folder `{folder}`", raw.plugin.value),
            )
            .help(format!("write `plugin: {folder}`, or rename the folder to `{}`", raw.plugin.value)),
        );
    }
    if !is_kebab(folder) {
        problems.push(
            Diagnostic::error(Code::MisplacedId, &raw.plugin.place, format!("`{folder}` can't be the id of a plugin"))
                .expected("lower-case letters, digits and hyphens")
                .help("rename the folder, e.g. `our-own-steps`"),
        );
    }
    let numbers: Vec<&str> = raw.version.split('.').collect();
    if numbers.len() != 3 || numbers.iter().any(|number| number.parse::<u32>().is_err()) {
        problems.push(
            Diagnostic::error(
                Code::NoManifest,
                &raw.version.place,
                format!("`{}` is not a version", raw.version.value),
            )
            .expected("three numbers, such as 1.0.0")
            .help("write e.g. `version: \"1.0.0\"`"),
        );
    }
    if problems[before..].iter().any(Diagnostic::is_error) {
        return None;
    }
    Some(Plugin {
        id: raw.plugin.value,
        version: raw.version.value,
        title: raw.title,
        plugins: raw.plugins,
        licence: raw.licence,
        author: raw.author,
        invented: raw.invented,
        layer,
        place: raw.plugin.place,
    })
}

/// `our-own-steps`: what ids look like.
pub(super) fn is_kebab(id: &str) -> bool {
    let sound = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit());
    id.split('-').all(sound)
}

/// The id that a name comes nearest to.
pub(super) fn kebab(name: &str) -> String {
    let parts = name.split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
    let id = parts.map(str::to_ascii_lowercase).collect::<Vec<_>>().join("-");
    if id.is_empty() { "an-id".to_owned() } else { id }
}

/// `volume_at`: what names look like to a script.
pub(super) fn is_snake(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

/// What editors are told of a plugin's manifest.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(Raw)
}
