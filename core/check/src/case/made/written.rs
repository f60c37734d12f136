//! Scalars and lines as a person would write them, for our own reader to take back as the same text.

/// Longer lines are written with a key to each line.
const WIDE: usize = 118;

const WORDS: [&str; 10] = ["true", "false", "yes", "no", "on", "off", "null", "y", "n", "~"];

/// Plain where that is safe in every place, in quotes otherwise.
pub fn scalar(text: &str) -> String {
    let plain = |letter: char| letter.is_alphanumeric() || " _.°·/%-²³".contains(letter);
    let sound = text.starts_with(char::is_alphanumeric)
        && !text.ends_with(' ')
        && text.chars().all(plain)
        && !WORDS.contains(&text.to_lowercase().as_str());
    if sound { text.to_owned() } else { quoted(text) }
}

/// A JSON text is one of YAML in double quotes.
pub fn quoted(text: &str) -> String {
    serde_json::to_string(text).unwrap_or_default()
}

pub fn map<'a>(entries: impl IntoIterator<Item = (&'a str, String)>) -> String {
    let entries: Vec<String> = entries.into_iter().map(|(key, value)| format!("{key}: {value}")).collect();
    if entries.is_empty() { "{}".to_owned() } else { format!("{{ {} }}", entries.join(", ")) }
}

/// One entry of a list of maps, in one line if there is room.
pub fn entry(entries: &[(&str, String)]) -> String {
    let line = format!("  - {}\n", map(entries.iter().map(|(key, value)| (*key, value.clone()))));
    if line.chars().count() <= WIDE {
        return line;
    }
    let lines = entries.iter().enumerate();
    lines.map(|(at, (key, value))| format!("  {} {key}: {value}\n", if at == 0 { "-" } else { " " })).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::source::Source;
    use standpipe_yaml as yaml;

    #[test]
    fn every_text_reads_back_as_it_was() {
        let texts = [
            "on",
            "8.50",
            "- no list",
            "a: b",
            "it's \"so\"",
            "line\nline",
            "",
            " edge ",
            "8..75 lbf·ft",
            "°",
            "#1",
            "No",
        ];
        for text in texts {
            let source = Source::new("case", format!("key: {{ of: {}, next: 1 }}\n", scalar(text)));
            let mut problems = Vec::new();
            let root = yaml::parse(&source, &mut problems).unwrap();
            let found = root.get("key").and_then(|map| map.get("of")).and_then(yaml::Node::as_text);
            assert_eq!((found, problems.len()), (Some(text), 0), "{}", source.text);
        }
    }
}
