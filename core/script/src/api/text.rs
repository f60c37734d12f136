//! Texts.

use rhai::{Array, Dynamic};

use super::{Arguments, Function};
use crate::convert::from_script;
use crate::guest::{Answer, Stop, stop};
use crate::operand::Operand;
use crate::run::Run;
use standpipe_diagnostic::Code;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "text",
        takes: &["value"],
        about: "A value as a person would read it; the same as putting it into a text as `${value}`.",
        examples: &[("text(2.5)", "2.5"), ("`${1 + 1} rounds`", "2 rounds")],
        run: |a| Ok(written(a.run, a.value(0))?.into()),
    },
    Function {
        name: "lower",
        takes: &["text"],
        about: "A text in small letters.",
        examples: &[("lower(\"M6\")", "m6")],
        run: |a| Ok(a.text(0)?.to_lowercase().into()),
    },
    Function {
        name: "trim",
        takes: &["text"],
        about: "A text without the spaces around it.",
        examples: &[("trim(\" a b \")", "a b")],
        run: |a| Ok(a.text(0)?.trim().to_string().into()),
    },
    Function {
        name: "starts_with",
        takes: &["text", "start"],
        about: "Whether a text begins with another; for a part anywhere, write `part in text`.",
        examples: &[("starts_with(\"M6x20\", \"M6\")", "true"), ("\"6x\" in \"M6x20\"", "true")],
        run: |a| Ok(a.text(0)?.starts_with(a.text(1)?.as_str()).into()),
    },
    Function {
        name: "split",
        takes: &["text", "between"],
        about: "The parts of a text between a separator.",
        examples: &[
            ("split(\"a, b\", \", \")", "a, b"),
            ("split(\"ab\", \"\")", "error: `split`: the separator is empty"),
        ],
        run: split,
    },
    Function {
        name: "join",
        takes: &["list", "between"],
        about: "The entries of a list as one text.",
        examples: &[("join([1, 7, 4], \"-\")", "1-7-4")],
        run: join,
    },
];

/// As text. What is not known does not become words.
pub(super) fn written(run: &Run, value: &Dynamic) -> Result<String, Stop> {
    match Operand::of(value) {
        Operand::Text(text) => Ok(text.to_string()),
        Operand::Absent(absent) => Err(run.touch(&absent)),
        Operand::Truth(truth) => Ok(truth.to_string()),
        Operand::Exact(exact) => Ok(exact.0.to_string()),
        _ => {
            let value = from_script(run, value, "a value put into a text")?;
            Ok(run.units.show_value(&value, &run.style))
        }
    }
}

fn split(a: Arguments<'_, '_>) -> Answer {
    let (text, between) = (a.text(0)?, a.text(1)?);
    if between.is_empty() {
        return Err(a.fail("the separator is empty"));
    }
    let parts: Array = text.split(between.as_str()).map(|part| Dynamic::from(part.to_string())).collect();
    Ok(Dynamic::from_array(parts))
}

fn join(a: Arguments<'_, '_>) -> Answer {
    let parts: Vec<String> = a.list(0)?.iter().map(|value| written(a.run, value)).collect::<Result<_, Stop>>()?;
    let joined = parts.join(&a.text(1)?);
    if joined.len() > crate::limits::TEXT {
        return Err(stop(Code::ScriptLimit, "the script was stopped: a text grows too large"));
    }
    Ok(joined.into())
}
