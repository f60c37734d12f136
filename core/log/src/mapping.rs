//! What the shop file or the command line says of logs, as choices.

use indexmap::IndexMap;

use super::{Choices, DecimalSign, Encoding, TimeForm};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_library::LogMapping;
use standpipe_yaml::At;

/// Reads what was said; what is not understood is reported under a code.
pub struct Said<'a> {
    pub code: Code,
    pub problems: &'a mut Problems,
}

impl Said<'_> {
    fn one_of<T>(&mut self, text: Option<&At<String>>, read: impl Fn(&str) -> Option<T>, all: &str) -> Option<T> {
        let text = text?;
        let found = read(text);
        if found.is_none() {
            self.problems.push(
                Diagnostic::error(self.code, &text.place, format!("`{}` is not understood here", text.value))
                    .help(format!("write one of: {all}")),
            );
        }
        found
    }

    pub fn decimal(&mut self, text: Option<&At<String>>) -> Option<DecimalSign> {
        self.one_of(text, DecimalSign::parse, "point, comma")
    }

    pub fn delimiter(&mut self, text: Option<&At<String>>) -> Option<u8> {
        self.one_of(text, delimiter, "comma, semicolon, tab")
    }

    pub fn encoding(&mut self, text: Option<&At<String>>) -> Option<Encoding> {
        self.one_of(text, Encoding::parse, "utf-8, utf-16-le, utf-16-be, latin-1")
    }

    pub fn time(&mut self, text: Option<&At<String>>) -> Option<TimeForm> {
        self.one_of(text, TimeForm::parse, "clock, elapsed, date")
    }
}

/// How the shop file says that a reader writes its logs.
pub fn of_mapping(mapping: &LogMapping, problems: &mut Problems) -> Choices {
    let plain = |map: &IndexMap<At<String>, At<String>>| -> IndexMap<String, String> {
        map.iter().map(|(name, value)| (name.value.clone(), value.value.clone())).collect()
    };
    let mut said = Said { code: Code::FaultyShop, problems };
    Choices {
        columns: plain(&mapping.columns),
        units: plain(&mapping.units),
        words: mapping.words.iter().map(|(name, words)| (name.value.clone(), plain(words))).collect(),
        decimal: said.decimal(mapping.decimal.as_ref()),
        delimiter: said.delimiter(mapping.delimiter.as_ref()),
        encoding: said.encoding(mapping.encoding.as_ref()),
        time: said.time(mapping.time.as_ref()),
    }
}

pub(super) fn delimiter(text: &str) -> Option<u8> {
    match text {
        "comma" | "," => Some(b','),
        "semicolon" | ";" => Some(b';'),
        "tab" | "\t" => Some(b'\t'),
        _ => None,
    }
}
