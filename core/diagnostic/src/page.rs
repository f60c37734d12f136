//! The page of a code: what it means, an example, and the fix. Pages stand in `pages/`, a file for each area.

use include_dir::{Dir, include_dir};

use super::Code;

static PAGES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/src/pages");

/// What there is to say of a code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// A few sentences, a line for each paragraph.
    pub about: String,
    /// A few lines that give the code.
    pub example: String,
    /// What to do about it.
    pub fix: String,
}

impl Code {
    /// `None` for a code that nobody has written a page for, which a test does not let pass.
    pub fn page(self) -> Option<Page> {
        let name = self.name();
        let heading = format!("# {name}\n");
        let mut pages = PAGES.files().filter_map(|file| file.contents_utf8());
        let text = pages.find_map(|text| text[text.find(&heading)?..].strip_prefix(&heading))?;
        let body = text.split("\n# ").next()?;
        let (mut about, mut example, mut fix) = (Vec::new(), Vec::new(), Vec::new());
        for line in body.lines() {
            if let Some(line) = line.strip_prefix("    ") {
                example.push(line);
            } else if let Some(first) = line.strip_prefix("Fix: ") {
                fix.push(first);
            } else if !line.is_empty() {
                // A line without a mark goes on with what came before it.
                if fix.is_empty() { about.push(line) } else { fix.push(line) }
            }
        }
        let page = Page { about: about.join(" "), example: example.join("\n"), fix: fix.join(" ") };
        let whole = !page.about.is_empty() && !page.example.is_empty() && !page.fix.is_empty();
        whole.then_some(page)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_has_a_page() {
        let without: Vec<&str> =
            Code::ALL.iter().filter(|code| code.page().is_none()).map(|code| code.name()).collect();
        assert!(without.is_empty(), "codes without about, example and fix in core/diagnostic/pages: {without:?}");
    }

    #[test]
    fn every_page_is_that_of_a_code_and_stands_once() {
        let mut seen = Vec::new();
        for line in PAGES.files().filter_map(|file| file.contents_utf8()).flat_map(str::lines) {
            let Some(name) = line.strip_prefix("# ") else { continue };
            assert!(Code::ALL.iter().any(|code| code.name() == name), "a page for `{name}`, which is no code");
            assert!(!seen.contains(&name), "two pages for {name}");
            seen.push(name);
        }
    }
}
