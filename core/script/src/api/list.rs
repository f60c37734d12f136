//! Lists. Entries are counted from 0: `list[0]`.
//!
//! What asks something of all entries refuses the empty list: "all of none" would be true without anything shown.

use rhai::{Array, Dynamic};

use super::{Arguments, Function};
use crate::comparison::order;
use crate::guest::{Answer, Stop};
use crate::operand::{Operand, collapsed};
use crate::operator::faulty;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "len",
        takes: &["list"],
        about: "How many entries a list has, or how many characters a text.",
        examples: &[
            ("len([4, 5])", "2"),
            ("\"M6\".len()", "2"),
            ("len(5)", "error: `len` wants a list or a text, found the number 5"),
        ],
        run: len,
    },
    Function {
        name: "sum",
        takes: &["list", "start?"],
        about: "The sum of a list; with a start, also of an empty one.",
        examples: &[
            ("sum([1.L, 500.mL]) == 1.5.L", "true"),
            ("sum([], 0.L) == 0.L", "true"),
            ("sum([])", "error: `sum`: an empty list has no sum; say what to start from, e.g. `sum(list, 0.L)`"),
        ],
        run: sum,
    },
    Function {
        name: "map",
        takes: &["list", "function"],
        about: "The list of what a function makes of each entry.",
        examples: &[("[1, 2].map(|x| x * 10)", "10, 20")],
        run: map,
    },
    Function {
        name: "filter",
        takes: &["list", "function"],
        about: "The entries for which a function gives true.",
        examples: &[
            ("[1, 2, 3].filter(|x| x > 1)", "2, 3"),
            ("[1].filter(|x| x)", "error: `filter`: the function gives the number 1, not true or false"),
        ],
        run: filter,
    },
    Function {
        name: "every",
        takes: &["list", "function"],
        about: "Whether a function gives true for every entry; refuses an empty list, which would show nothing.",
        examples: &[
            ("[1, 2].every(|x| x > 0)", "true"),
            ("[].every(|x| x > 0)", "error: `every`: the list is empty, which shows nothing"),
        ],
        run: |a| count_true(&a).map(|(yes, of)| (yes == of).into()),
    },
    Function {
        name: "some",
        takes: &["list", "function"],
        about: "Whether a function gives true for at least one entry; refuses an empty list.",
        examples: &[("[1, 2].some(|x| x > 1)", "true")],
        run: |a| count_true(&a).map(|(yes, _)| (yes > 0).into()),
    },
    Function {
        name: "first",
        takes: &["list"],
        about: "The first entry.",
        examples: &[("first([4, 5])", "4"), ("first([])", "error: `first`: the list is empty")],
        run: |a| a.list(0)?.first().cloned().ok_or_else(|| a.fail("the list is empty")),
    },
    Function {
        name: "last",
        takes: &["list"],
        about: "The last entry.",
        examples: &[("last([4, 5])", "5")],
        run: |a| a.list(0)?.last().cloned().ok_or_else(|| a.fail("the list is empty")),
    },
    Function {
        name: "part",
        takes: &["list", "from", "to"],
        about: "The entries from one place up to, and without, another.",
        examples: &[("part([1, 2, 3, 4], 1, 3)", "2, 3"), ("part([1], 0, 5)", "error: `part`: the list has 1 entries")],
        run: part,
    },
    Function {
        name: "reversed",
        takes: &["list"],
        about: "The list from back to front.",
        examples: &[("reversed([1, 2, 3])", "3, 2, 1")],
        run: reversed,
    },
    Function {
        name: "sorted",
        takes: &["list"],
        about: "The list from the smallest to the largest entry.",
        examples: &[
            ("sorted([2.L, 500.mL]) == [500.mL, 2.L]", "true"),
            ("sorted([\"b\", \"a\"])", "error: texts have no order"),
        ],
        run: sorted,
    },
    Function {
        name: "different",
        takes: &["list"],
        about: "Texts of a list, each once, in the order in which they first come.",
        examples: &[
            ("different([\"b\", \"a\", \"b\"])", "b, a"),
            ("different([1, 1])", "error: `different` wants a text, found the number 1"),
        ],
        run: different,
    },
];

fn different(a: Arguments<'_, '_>) -> Answer {
    let (mut kept, mut seen) = (Array::new(), Vec::new());
    for value in a.list(0)? {
        match Operand::of(&value) {
            Operand::Text(text) if seen.contains(&text.to_string()) => {}
            Operand::Text(text) => {
                seen.push(text.to_string());
                kept.push(value);
            }
            other => return Err(a.refuse_value(&other, "a text")),
        }
    }
    Ok(Dynamic::from_array(kept))
}

fn len(a: Arguments<'_, '_>) -> Answer {
    let length = match a.operand(0) {
        Operand::List => a.list(0)?.len(),
        Operand::Text(text) => text.chars().count(),
        other => return Err(a.refuse_value(&other, "a list or a text")),
    };
    Ok(Dynamic::from_int(length as i64))
}

fn sum(a: Arguments<'_, '_>) -> Answer {
    let list = a.list(0)?;
    let start = if a.count() == 2 { Some(a.quantity(1)?) } else { None };
    let mut total = start;
    for value in &list {
        let operand = Operand::of(value);
        let next = operand.measured().ok_or_else(|| a.refuse_value(&operand, "a list of numbers or quantities"))?;
        total = Some(match total {
            None => next,
            Some(total) => a.run.units.add(&total, &next).map_err(faulty)?,
        });
    }
    total
        .map(collapsed)
        .ok_or_else(|| a.fail("an empty list has no sum; say what to start from, e.g. `sum(list, 0.L)`"))
}

fn map(a: Arguments<'_, '_>) -> Answer {
    let function = a.function(1)?;
    let mapped: Array = a.list(0)?.into_iter().map(|value| a.apply(&function, value)).collect::<Result<_, Stop>>()?;
    Ok(Dynamic::from_array(mapped))
}

fn filter(a: Arguments<'_, '_>) -> Answer {
    let function = a.function(1)?;
    let mut kept = Array::new();
    for value in a.list(0)? {
        if a.truth_of(&a.apply(&function, value.clone())?, "the function")? {
            kept.push(value);
        }
    }
    Ok(Dynamic::from_array(kept))
}

/// Every entry is asked, so that an unknown one is not passed over.
fn count_true(a: &Arguments<'_, '_>) -> Result<(usize, usize), Stop> {
    let (list, function) = (a.list(0)?, a.function(1)?);
    if list.is_empty() {
        return Err(a.fail("the list is empty, which shows nothing"));
    }
    let of = list.len();
    let mut yes = 0;
    for value in list {
        yes += usize::from(a.truth_of(&a.apply(&function, value)?, "the function")?);
    }
    Ok((yes, of))
}

fn part(a: Arguments<'_, '_>) -> Answer {
    let list = a.list(0)?;
    let (from, to) = (a.whole(1, "the start")?, a.whole(2, "the end")?);
    match (usize::try_from(from), usize::try_from(to)) {
        (Ok(from), Ok(to)) if from <= to && to <= list.len() => Ok(Dynamic::from_array(list[from..to].to_vec())),
        _ => Err(a.fail(format!("the list has {} entries", list.len()))),
    }
}

fn reversed(a: Arguments<'_, '_>) -> Answer {
    let mut list = a.list(0)?;
    list.reverse();
    Ok(Dynamic::from_array(list))
}

fn sorted(a: Arguments<'_, '_>) -> Answer {
    let mut list = a.list(0)?;
    // A comparison may fail, which a sort of the standard library can't report: compare all with the first beforehand.
    if let Some((first, rest)) = list.split_first() {
        for other in std::iter::once(first).chain(rest) {
            order(a.run, first, other)?;
        }
    }
    // Values within 1e-12 count as equal, which is no strict order; exact values are.
    let exact = |value: &Dynamic| Operand::of(value).measured().map(|quantity| quantity.si);
    let whole = list.iter().all(|value| exact(value).is_some());
    if whole {
        list.sort_by(|x, y| exact(x).unwrap_or(0.0).total_cmp(&exact(y).unwrap_or(0.0)));
    } else {
        list.sort_by(|x, y| order(a.run, x, y).unwrap_or(std::cmp::Ordering::Equal));
    }
    Ok(Dynamic::from_array(list))
}
