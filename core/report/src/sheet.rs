//! Rows for a spreadsheet.

/// The rows as CSV, quoted where it has to be.
pub fn csv<'a>(rows: impl IntoIterator<Item = &'a Vec<String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        // Writing into memory can't fail.
        let _ = writer.write_record(row);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Text that people typed. A spreadsheet would take one that begins so for a formula and carry it out.
pub fn text(typed: &str) -> String {
    let line = typed.split_whitespace().collect::<Vec<_>>().join(" ");
    match line.chars().next() {
        Some('=' | '+' | '-' | '@') => format!("'{line}"),
        _ => line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_looks_like_a_formula_stays_text() {
        assert_eq!(text("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(text("FL 417,\n the blue one"), "FL 417, the blue one");
        let rows = [vec!["a,b".to_owned(), "say \"c\"".to_owned()]];
        assert_eq!(csv(&rows), "\"a,b\",\"say \"\"c\"\"\"\n");
    }
}
