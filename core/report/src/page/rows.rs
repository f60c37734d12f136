//! Rows of what a record rests on: what, how much, and whence it is known.

use serde::Serialize;

use crate::record::{Assumed, Computed, Read, Required};
use crate::shown::clock;
use standpipe_quantity::value::Value;

#[derive(Debug, Serialize)]
pub(super) struct Row<'a> {
    name: &'a str,
    shown: &'a str,
    whence: String,
    flag: String,
}

/// With a list of sources, to which the rows point by number.
pub(super) fn required(of: &[Required]) -> (Vec<Row<'_>>, Vec<String>) {
    let mut sources: Vec<String> = Vec::new();
    let rows = of.iter().map(|it| {
        let flag = match (it.supplied, &it.from) {
            (true, _) => "supplied during the job",
            (false, None) => "without a source",
            _ => "",
        };
        let file = it.place.as_ref().map(|place| format!(" ({})", place.name())).unwrap_or_default();
        let number = it.from.as_ref().map(|from| number_of(&mut sources, format!("{from}{file}")));
        let line = it.place.as_ref().map(|place| format!("line {}", place.line()));
        let whence =
            [number.map(|number| format!("[{number}]")), line].into_iter().flatten().collect::<Vec<_>>().join(" ");
        Row { name: &it.named.name, shown: &it.named.shown, whence, flag: flag.to_owned() }
    });
    let rows = rows.collect();
    (rows, sources)
}

/// Each source is told once; its number counts from 1.
pub(super) fn number_of(sources: &mut Vec<String>, source: String) -> usize {
    match sources.iter().position(|known| *known == source) {
        Some(at) => at + 1,
        None => {
            sources.push(source);
            sources.len()
        }
    }
}

/// Values of one name stand together, in the order in which they came.
pub(super) fn read(of: &[Read]) -> Vec<Row<'_>> {
    // How long something was held stands with its step.
    let mut rows: Vec<Row<'_>> = of
        .iter()
        .filter(|it| it.named.name != "held")
        .map(|it| {
            let item = if it.address.item.is_empty() { String::new() } else { format!("{}, ", it.address.item) };
            let with = it.with.as_ref().map(|with| format!(", {with}")).unwrap_or_default();
            let round = match it.address.rounds.as_slice() {
                [] => String::new(),
                rounds => format!(", round {}", rounds.iter().map(u32::to_string).collect::<Vec<_>>().join(".")),
            };
            let corrected = if it.corrected { "corrected" } else { "" };
            Row {
                name: &it.named.name,
                shown: &it.named.shown,
                whence: format!("{item}{} {}{with}{round}", clock(it.at), it.by),
                flag: corrected.to_owned(),
            }
        })
        .collect();
    let order: Vec<&str> = rows.iter().map(|row| row.name).collect();
    rows.sort_by_key(|row| order.iter().position(|name| *name == row.name));
    // The same said again and again is told once.
    let mut told: Vec<(Row<'_>, usize)> = Vec::new();
    for row in rows {
        match told.last_mut() {
            Some((last, times)) if last.name == row.name && last.shown == row.shown && last.flag == row.flag => {
                *times += 1
            }
            _ => told.push((row, 1)),
        }
    }
    for (row, times) in &mut told {
        if *times > 1 {
            row.whence.push_str(&format!(", {times} times"));
        }
    }
    told.into_iter().map(|(row, _)| row).collect()
}

pub(super) fn computed(of: &[Computed]) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    for it in of {
        let again = if it.again { ", again after a correction" } else { "" };
        let whence = it
            .sheet
            .as_deref()
            .map_or_else(|| format!("an expression{again}"), |sheet| format!("sheet {sheet}{again}"));
        if !it.missing.is_empty() {
            let flag = format!("NOT SHOWN, needs {}", it.missing.join(", "));
            rows.push(Row { name: &it.name, shown: "", whence: whence.clone(), flag });
        }
        for named in it.results.iter().filter(|named| !is_drawing(&named.value)) {
            rows.push(Row { name: &named.name, shown: &named.shown, whence: whence.clone(), flag: String::new() });
        }
        rows.extend(it.warnings.iter().map(|warning| Row {
            name: &it.name,
            shown: "",
            whence: String::new(),
            flag: format!("warning: {warning}"),
        }));
    }
    rows
}

/// A drawing in letters, for a terminal.
fn is_drawing(value: &Value) -> bool {
    matches!(value, Value::Text(text) if text.contains('\n'))
}

pub(super) fn assumed(of: &[Assumed]) -> Vec<Row<'_>> {
    let row = |it: &'_ Assumed| it.why.clone();
    of.iter()
        .map(|it| Row { name: &it.named.name, shown: &it.named.shown, whence: row(it), flag: String::new() })
        .collect()
}
