//! Blocks as text.

use super::{Block, Computed, Part, Setting, Shown};
use crate::shown::{clock, section, words};
use standpipe_diagnostic::columns::{hang, pad, width as columns};
use standpipe_job::Verdict;

pub fn lines(blocks: &[Block], out: &mut Vec<String>, width: usize) {
    for block in blocks {
        section(out, &block.title);
        for part in &block.parts {
            if let Some(variant) = &part.variant {
                out.extend(hang("  ", &format!("for {}:", words(variant)), width));
            }
            part_lines(part, out, width);
        }
    }
}

fn part_lines(part: &Part, out: &mut Vec<String>, width: usize) {
    for said in &part.said {
        out.extend(hang("  ", &said.text, width));
    }
    let widest = part.facts.iter().map(|fact| columns(&fact.name)).max().unwrap_or(0).min(26);
    for fact in &part.facts {
        let label = format!("  {}  ", pad(&fact.name, widest));
        match fact.shown.as_slice() {
            [] => out.extend(hang(&label, "NOBODY HAS ENTERED IT", width)),
            [one] => out.extend(hang(&label, one, width)),
            several => out.extend(several.iter().flat_map(|one| hang("  - ", one, width))),
        }
    }
    part.settings.iter().for_each(|setting| out.extend(setting_lines(setting, width)));
    if let Some(computed) = &part.computed {
        computed_lines(computed, out, width);
    }
    part.shown_by.iter().for_each(|shown| out.extend(shown_lines(shown, width)));
}

fn setting_lines(setting: &Setting, width: usize) -> Vec<String> {
    let on: Vec<String> = setting
        .on
        .iter()
        .map(|on| match &on.set {
            Some(set) => format!("{} {set}", on.instrument),
            None => format!("{} does not reach it", on.instrument),
        })
        .collect();
    let on = if on.is_empty() { "THE SHOP HAS NONE".to_owned() } else { on.join("; ") };
    hang(&format!("  {}  ", pad(&setting.name, 20)), &format!("{}: {on}", setting.required), width)
}

fn computed_lines(computed: &Computed, out: &mut Vec<String>, width: usize) {
    if !computed.missing.is_empty() {
        out.extend(hang("  ", &format!("{}: not known, needs {}", computed.title, computed.missing.join(", ")), width));
        out.extend(computed.earlier.iter().flat_map(|earlier| hang("  ", &earlier.text, width)));
        return;
    }
    for table in &computed.tables {
        let wide =
            |at: usize| table.rows.iter().filter_map(|row| row.get(at)).map(|cell| columns(cell)).max().unwrap_or(0);
        for row in &table.rows {
            let cells: Vec<String> = row.iter().enumerate().map(|(at, cell)| pad(cell, wide(at))).collect();
            out.extend(hang("  ", &cells.join("  "), width));
        }
    }
    let widest = computed.results.iter().map(|named| columns(&words(&named.name))).max().unwrap_or(0);
    for named in &computed.results {
        out.extend(hang(&format!("  {}  ", pad(&words(&named.name), widest)), &named.shown, width));
    }
    out.extend(computed.earlier.iter().flat_map(|earlier| hang("  ", &earlier.text, width)));
    out.extend(computed.warnings.iter().flat_map(|warning| hang("  ! ", warning, width)));
}

fn shown_lines(shown: &Shown, width: usize) -> Vec<String> {
    let verdict = match shown.verdict {
        Some(Verdict::Met) => "met".to_owned(),
        Some(verdict) if shown.accepted => format!("{}, accepted", verdict.words().to_uppercase()),
        Some(verdict) => verdict.words().to_uppercase(),
        None => shown.status.to_uppercase(),
    };
    let when = shown.at.map(|at| format!(", {} {}", clock(at), shown.by)).unwrap_or_default();
    let found = if shown.found.is_empty() { String::new() } else { format!(": {}", shown.found.join(", ")) };
    hang(&format!("  {}  ", pad(&verdict, 9)), &format!("{}{}{found}{when}", shown.title, shown.which()), width)
}
