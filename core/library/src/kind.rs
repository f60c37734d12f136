//! The kinds of documents a plugin contributes, each from a folder of its own.

use std::fmt;

/// What a document of a plugin is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Unit families.
    Units,
    /// A table of values.
    Table,
    /// What is to be known of one kind of thing.
    Form,
    /// A form filled in.
    Family,
    /// Steps in their order.
    Procedure,
    /// A calculation.
    Sheet,
    /// What a shop changes.
    Overlay,
    /// Functions.
    Script,
    /// A worked example.
    Case,
    /// What logs have to show.
    Log,
    /// Invented units whose truth is known.
    Model,
    /// What people do wrong.
    People,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 12] = [
        Kind::Units,
        Kind::Table,
        Kind::Form,
        Kind::Family,
        Kind::Procedure,
        Kind::Sheet,
        Kind::Overlay,
        Kind::Script,
        Kind::Case,
        Kind::Log,
        Kind::Model,
        Kind::People,
    ];

    /// The folder of a plugin in which it lies.
    pub fn folder(self) -> &'static str {
        match self {
            Kind::Units => "units",
            Kind::Table => "tables",
            Kind::Form => "forms",
            Kind::Family => "families",
            Kind::Procedure => "procedures",
            Kind::Sheet => "sheets",
            Kind::Overlay => "overlays",
            Kind::Script => "scripts",
            Kind::Case => "cases",
            Kind::Log => "logs",
            Kind::Model => "models",
            Kind::People => "people",
        }
    }

    /// What people call one of them, and the key that holds its id.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Units => "units",
            Kind::Table => "table",
            Kind::Form => "form",
            Kind::Family => "family",
            Kind::Procedure => "procedure",
            Kind::Sheet => "sheet",
            Kind::Overlay => "overlay",
            Kind::Script => "script",
            Kind::Case => "case",
            Kind::Log => "log",
            Kind::Model => "model",
            Kind::People => "people",
        }
    }

    /// How its files end.
    pub fn extension(self) -> &'static str {
        match self {
            Kind::Table => "csv",
            Kind::Script => "rhai",
            _ => "yaml",
        }
    }

    /// Whether one id can stand for only one document over all plugins. Units add up, scripts are looked for by plugin,
    /// cases are only run.
    pub fn is_exclusive(self) -> bool {
        !matches!(self, Kind::Units | Kind::Script | Kind::Case)
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
