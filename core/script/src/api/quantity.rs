//! Quantities, besides the operators and the units as properties of numbers.

use super::{Arguments, Function};
use crate::guest::Complaint;
use crate::guest::{Answer, Stop, raise, stop};
use crate::operand::{Operand, give, give_number};
use crate::operator::faulty;
use standpipe_diagnostic::Code;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "value",
        takes: &["quantity", "unit"],
        about: "The plain number of a quantity in a unit.",
        examples: &[
            ("5.5.L.value(\"mL\")", "5500"),
            ("value(95.degF, \"degC\")", "35"),
            ("round(value(12.lbf_ft, \"N·m\"), 1)", "16.3"),
            ("value(1.L, \"N·m\")", "error: 1"),
        ],
        run: value,
    },
    Function {
        name: "quantity",
        takes: &["number", "unit"],
        about: "A quantity from a number and the text of a unit; with a unit known beforehand, write `7.lbf_ft`.",
        examples: &[
            ("quantity(7, \"lbf·ft\") == 7.lbf_ft", "true"),
            ("quantity(1, \"gal\")", "error: `gal` can mean more than one unit"),
        ],
        run: quantity,
    },
    Function {
        name: "mean",
        takes: &["first", "second?", "third?", "fourth?"],
        about: "The mean of its values, or of one list; the one way to combine temperatures.",
        examples: &[
            ("mean(20.degC, 30.degC) == 25.degC", "true"),
            ("mean([1, 2, 6])", "3"),
            ("mean([])", "error: `mean`: the list is empty"),
        ],
        run: mean,
    },
];

fn value(a: Arguments<'_, '_>) -> Answer {
    let unit = a.text(1)?;
    let quantity = a.quantity(0)?;
    give_number(a.run.units.convert(&quantity, &unit).map_err(faulty)?)
}

fn quantity(a: Arguments<'_, '_>) -> Answer {
    let (number, unit) = (a.number(0)?, a.text(1)?);
    let read = a.run.units.quantity(number, &unit);
    give(read.map_err(|fault| {
        let help = fault
            .help
            .or_else(|| (!fault.choices.is_empty()).then(|| format!("write one of {}", fault.choices.join(", "))));
        raise(Complaint { code: fault.code, message: fault.message, help })
    })?)
}

fn mean(a: Arguments<'_, '_>) -> Answer {
    let values = match (a.count(), a.operand(0)) {
        (1, Operand::List) => a.list(0)?,
        _ => (0..a.count()).map(|index| a.value(index).clone()).collect(),
    };
    let values: Vec<_> = values
        .iter()
        .map(|value| {
            let operand = Operand::of(value);
            operand.measured().ok_or_else(|| a.refuse_value(&operand, "numbers or quantities"))
        })
        .collect::<Result<_, Stop>>()?;
    if values.is_empty() {
        return Err(stop(Code::FaultyScript, "`mean`: the list is empty"));
    }
    give(a.run.units.mean(&values).map_err(faulty)?)
}
