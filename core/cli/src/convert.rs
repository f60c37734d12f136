//! `convert`: a quantity in another unit, or in all units of its kind.

use serde_json::json;

use super::Exit;
use super::args::Convert;
use super::context::Context;
use standpipe_diagnostic::Diagnostic;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_quantity::{ConvertFault, Converted, ReadFault, Side, convert, convert_to_all};

const SCHEMA: &str = "standpipe.convert/1";

pub fn run(args: &Convert, context: &Context) -> Exit {
    let (units, problems) = context.units();
    context.report(&problems);
    let converted = match &args.unit {
        Some(unit) => {
            convert(&units, &args.quantity, unit).map(|one| vec![one]).map_err(|fault| at_argument(fault, args))
        }
        None => convert_to_all(&units, &args.quantity)
            .map_err(|fault| at_argument(ConvertFault { side: Side::Quantity, fault }, args)),
    };
    match converted {
        Ok(all) => {
            show(&all, args, context);
            Exit::Well
        }
        Err(problem) => {
            context.failed(SCHEMA, &[problem]);
            Exit::Usage
        }
    }
}

fn at_argument(fault: ConvertFault, args: &Convert) -> Diagnostic {
    let (name, text) = match fault.side {
        Side::Quantity => ("<QUANTITY>", args.quantity.as_str()),
        Side::Unit => ("<UNIT>", args.unit.as_deref().unwrap_or_default()),
    };
    let source = Source::new(name, text);
    let fault: ReadFault = fault.fault;
    fault.at(&Place::new(&source, 0..text.len()))
}

fn show(all: &[Converted], args: &Convert, context: &Context) {
    if context.json() {
        let values: Vec<_> = all
            .iter()
            .map(|one| json!({ "quantity": &*one.quantity, "unit": &*one.unit, "value": one.value, "shown": one.shown, "rounded": one.rounded }))
            .collect();
        context.out_json(&json!({ "schema": SCHEMA, "ok": true, "from": args.quantity, "values": values }));
        return;
    }
    let widest = all.iter().map(|one| one.shown.chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    for one in all {
        let padding = " ".repeat(widest - one.shown.chars().count());
        if one.rounded == one.shown {
            text.push_str(&format!("{}\n", one.shown));
        } else {
            text.push_str(&format!("{}{padding}   about {}\n", one.shown, one.rounded));
        }
    }
    context.out(&text);
}
