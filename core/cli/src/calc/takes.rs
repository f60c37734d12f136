//! What a sheet takes and gives, for whoever has not given anything yet.

use serde_json::{Value as Json, json};

use super::page::{about, entry};
use super::{Desk, SCHEMA};
use crate::args::Format;
use crate::context::Context;
use standpipe_quantity::Style;
use standpipe_sheet::{Input, Output, Shape};

pub fn show(desk: &Desk, context: &Context) {
    match context.common.format {
        Format::Json => context.out_json(&data(desk)),
        Format::Csv => {
            // The head of a table to be filled in.
            let names = desk.sheet.inputs.iter().map(|(name, input)| heading(name, input, desk));
            context.out(&(names.collect::<Vec<_>>().join(",") + "\n"));
        }
        _ => context.out(&text(desk, context.width())),
    }
}

fn text(desk: &Desk, columns: usize) -> String {
    let sheet = &desk.sheet;
    let mut lines = vec![sheet.title.clone(), String::new(), "Takes".to_owned()];
    for (name, input) in &sheet.inputs {
        entry(&mut lines, name, &in_words(input, desk), columns);
    }
    lines.extend([String::new(), "Gives".to_owned()]);
    for (name, output) in &sheet.outputs {
        entry(&mut lines, name, &output_in_words(output), columns);
    }
    lines.push(String::new());
    about(&mut lines, sheet, columns);
    let needed = sheet.inputs.iter().filter(|(name, _)| !sheet.is_optional(name));
    let example = needed.map(|(name, input)| match unit_of(input, desk) {
        Some(unit) => format!("{name}=\"... {unit}\""),
        None => format!("{name}=\"...\""),
    });
    let example = example.collect::<Vec<_>>().join(" ");
    lines.extend([String::new(), format!("standpipe calc {} {example}", sheet.id)]);
    lines.join("\n") + "\n"
}

/// The unit in which the shop would write it.
fn unit_of(input: &Input, desk: &Desk) -> Option<String> {
    let (Shape::Quantity(of) | Shape::Range(of)) = &input.shape else { return None };
    let symbol = desk.units.shown_units(of, &desk.shop.style).first()?.to_string();
    (symbol != "1").then_some(symbol)
}

fn heading(name: &str, input: &Input, desk: &Desk) -> String {
    unit_of(input, desk).map_or_else(|| name.to_owned(), |unit| format!("{name} [{unit}]"))
}

fn in_words(input: &Input, desk: &Desk) -> String {
    let units = &*desk.units;
    let style = Style::default();
    let mut parts = vec![input.described()];
    if let Some(limit) = &input.at_least {
        parts.push(format!("at least {}", units.show_plainly(limit)));
    }
    if let Some(limit) = &input.at_most {
        parts.push(format!("at most {}", units.show_plainly(limit)));
    }
    if let Some(valid) = &input.valid {
        let what = if input.refuses { "only" } else { "holds for" };
        parts.push(format!("{what} {}", units.show_range(&valid.0, &valid.1, &style)));
    }
    match &input.default {
        Some(default) => parts.push(format!("{} by default", units.show_value(default, &style))),
        None if input.optional => parts.push("may be left out".to_owned()),
        None => {}
    }
    let mut text = parts.join("; ");
    if let Some(help) = &input.help {
        text.push_str(&format!(". {help}"));
    }
    text
}

fn output_in_words(output: &Output) -> String {
    let mut text = output.shape.described();
    if output.list {
        text = format!("a list, each {text}");
    }
    if let Some(unit) = output.unit.as_ref().filter(|unit| &***unit != "1") {
        text.push_str(&format!(", {unit} in tables"));
    }
    if let Some(help) = &output.help {
        text.push_str(&format!(". {help}"));
    }
    text
}

fn data(desk: &Desk) -> Json {
    let (units, style) = (&*desk.units, Style::default());
    let inputs: Vec<Json> = desk
        .sheet
        .inputs
        .iter()
        .map(|(name, input)| {
            json!({
                "name": name,
                "is": input.described(),
                "unit": unit_of(input, desk),
                "list": input.list,
                "optional": desk.sheet.is_optional(name),
                "default": input.default.as_ref().map(|value| units.show_value(value, &style)),
                "at_least": input.at_least.as_ref().map(|limit| units.show_plainly(limit)),
                "at_most": input.at_most.as_ref().map(|limit| units.show_plainly(limit)),
                "valid": input.valid.as_ref().map(|valid| units.show_range(&valid.0, &valid.1, &style)),
                "refuses_outside": input.refuses,
                "help": input.help,
            })
        })
        .collect();
    let outputs: Vec<Json> = desk
        .sheet
        .outputs
        .iter()
        .map(|(name, output)| {
            json!({ "name": name, "is": output_in_words(output), "unit": output.unit, "optional": output.optional })
        })
        .collect();
    json!({
        "schema": SCHEMA, "ok": true, "sheet": desk.sheet.id, "title": desk.sheet.title, "takes": inputs,
        "gives": outputs, "formula": desk.sheet.formula, "source": desk.sheet.source, "holds": desk.sheet.holds,
        "cautions": desk.sheet.cautions,
    })
}
