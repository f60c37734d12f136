//! The many ways to write one unit, brought to one form for looking it up.
//!
//! `lbf·ft`, `lbf*ft`, `lbf ft`, `lbf-ft` and `lbf_ft` are one unit, so are `mm²/s`, `mm^2/s` and `mm2/s`. Capitals stay
//! what they are: `mPa` and `MPa` differ by nine orders of magnitude.

/// The form under which a unit is looked up.
pub(super) fn normal(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim_matches(is_space).chars() {
        match c {
            '·' | '⋅' | '∙' | '•' | '*' | '_' | '-' | '⁻' | '\u{2010}'..='\u{2013}' => joint(&mut out),
            c if is_space(c) => joint(&mut out),
            '^' => {}
            'º' | '˚' => out.push('°'),
            '℃' => out.push_str("°C"),
            '℉' => out.push_str("°F"),
            'µ' => out.push('μ'),
            'ℓ' => out.push('L'),
            '∆' => out.push('Δ'),
            '⁄' | '∕' => slash(&mut out),
            '/' => slash(&mut out),
            '¹' => out.push('1'),
            '²' => out.push('2'),
            '³' => out.push('3'),
            c => out.push(c),
        }
    }
    if !out.contains('·') {
        return out;
    }
    // `/` and `°` bind tighter than the space beside them.
    let out = out.replace("/·", "/").replace("°·", "°");
    out.trim_matches('·').to_owned()
}

fn joint(out: &mut String) {
    if !out.ends_with('·') {
        out.push('·');
    }
}

fn slash(out: &mut String) {
    if out.ends_with('·') {
        out.pop();
    }
    out.push('/');
}

/// Spaces of every width: people paste no-break and thin ones from documents.
pub(super) fn is_space(c: char) -> bool {
    c.is_whitespace() || matches!(c, '\u{200b}' | '\u{2060}' | '\u{feff}')
}

/// Whether a script can use the name as a property: a letter first, then letters, digits and underscores.
pub(super) fn is_script_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        && !RESERVED.contains(&name)
}

/// Words of the script language that can't follow a dot (rhai 1.27, keywords and reserved symbols).
const RESERVED: [&str; 54] = [
    "as",
    "async",
    "await",
    "break",
    "call",
    "case",
    "catch",
    "const",
    "continue",
    "curry",
    "debug",
    "default",
    "do",
    "else",
    "eval",
    "exit",
    "export",
    "false",
    "fn",
    "for",
    "go",
    "goto",
    "if",
    "import",
    "in",
    "is",
    "is_def_fn",
    "is_def_var",
    "is_shared",
    "let",
    "loop",
    "match",
    "module",
    "new",
    "nil",
    "null",
    "package",
    "print",
    "private",
    "public",
    "return",
    "shared",
    "spawn",
    "static",
    "super",
    "switch",
    "sync",
    "this",
    "thread",
    "throw",
    "true",
    "try",
    "type_of",
    "until",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_unit_meet() {
        for (written, form) in [
            ("lbf·ft", "lbf·ft"),
            ("lbf*ft", "lbf·ft"),
            ("lbf ft", "lbf·ft"),
            ("lbf-ft", "lbf·ft"),
            ("lbf_ft", "lbf·ft"),
            ("lbf * ft", "lbf·ft"),
            ("lbf\u{a0}\u{22c5}\u{2009}ft", "lbf·ft"),
            (" mm² / s ", "mm2/s"),
            ("mm^2/s", "mm2/s"),
            ("° C", "°C"),
            ("℃", "°C"),
            ("µm", "μm"),
            ("mPa", "mPa"),
            ("", ""),
            (" - ", ""),
        ] {
            assert_eq!(normal(written), form, "{written:?}");
        }
    }

    #[test]
    fn script_names_start_with_a_letter_and_are_not_words_of_the_language() {
        assert!(is_script_name("degC_diff"));
        assert!(is_script_name("m3"));
        for name in ["", "3m", "°C", "N·m", "_x", "in", "is", "thread"] {
            assert!(!is_script_name(name), "{name}");
        }
    }
}
