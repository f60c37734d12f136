//! First lines of CSV files.

/// The heading of a column: `volume [L]`, or a name alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Heading {
    /// Name of an input or output.
    pub name: String,
    /// The unit of numbers that carry none.
    pub unit: Option<String>,
}

impl Heading {
    /// Reads `NAME [UNIT]`.
    pub fn read(text: &str) -> Self {
        let text = text.trim().trim_start_matches('\u{feff}');
        let split = text.strip_suffix(']').and_then(|text| text.rsplit_once('['));
        match split {
            Some((name, unit)) => Self { name: name.trim().to_owned(), unit: Some(unit.trim().to_owned()) },
            None => Self { name: text.to_owned(), unit: None },
        }
    }
}

/// What separates cells, judged by the first line: where a comma is the decimal sign, spreadsheets write `;`.
pub fn separator(text: &str) -> u8 {
    let line = text.lines().next().unwrap_or_default();
    let mut outside = 0;
    let mut quoted = false;
    // A unit or a name in quotes may hold any of them.
    let mut count = [0usize; 3];
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            _ if quoted => {}
            '[' => outside += 1,
            ']' => outside -= 1,
            ',' if outside <= 0 => count[0] += 1,
            ';' if outside <= 0 => count[1] += 1,
            '\t' if outside <= 0 => count[2] += 1,
            _ => {}
        }
    }
    match count {
        [commas, semicolons, tabs] if tabs > commas && tabs > semicolons => b'\t',
        [commas, semicolons, _] if semicolons > commas => b';',
        _ => b',',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_is_a_name_and_perhaps_a_unit() {
        for (text, name, unit) in [
            ("volume [L]", "volume", Some("L")),
            (" kv40[mm2/s] ", "kv40", Some("mm2/s")),
            ("note", "note", None),
            ("\u{feff}at [°C]", "at", Some("°C")),
            ("a [b] [ft·lbf]", "a [b]", Some("ft·lbf")),
            ("]", "]", None),
        ] {
            assert_eq!(Heading::read(text), Heading { name: name.into(), unit: unit.map(str::to_owned) }, "{text}");
        }
    }

    #[test]
    fn the_first_line_shows_what_parts_the_cells() {
        assert_eq!(separator("a,b,c\n1;2;3"), b',');
        assert_eq!(separator("a [L];b [mm2/s]"), b';');
        assert_eq!(separator("a\tb, or so\tc"), b'\t');
        assert_eq!(separator("\"a;b;c\",d"), b',');
        assert_eq!(separator("volume [L]"), b',');
    }
}
