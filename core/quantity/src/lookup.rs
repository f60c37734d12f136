//! Which unit a text means: in the family asked for, or in any.

use std::ops::Range;

use super::family::{Unit, UnitFamily};
use super::fault::{ReadFault, quote};
use super::symbol::normal;
use super::{Name, Quantity, Units};
use standpipe_diagnostic::{Code, nearest};

/// One spelling of a unit. Its symbol and its script name are its own; other spellings give way to those.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entry {
    pub family: usize,
    pub unit: usize,
    pub own: bool,
}

/// The unit that was meant, and the family if the text leaves no doubt about it.
pub(super) struct Found<'a> {
    pub family: &'a UnitFamily,
    pub unit: &'a Unit,
    pub of: Option<Name>,
}

impl Units {
    /// The unit that `text` means; `asked` names the quantity wanted. `range` is where the text stands.
    pub(super) fn resolve(&self, text: &str, asked: Option<&str>, at: Range<usize>) -> Result<Found<'_>, ReadFault> {
        match asked {
            Some(asked) => self.resolve_in(text, self.asked(asked, at.clone())?, at),
            None => self.resolve_any(text, at),
        }
    }

    pub(super) fn asked(&self, name: &str, at: Range<usize>) -> Result<&UnitFamily, ReadFault> {
        self.family(name).ok_or_else(|| {
            let fault = ReadFault::new(Code::WrongQuantity, at, format!("there is no quantity {}", quote(name)));
            match nearest(name, self.families.keys().map(|family| &**family)) {
                Some(known) => fault.help(format!("did you mean `{known}`?")),
                None => fault,
            }
        })
    }

    fn resolve_in<'a>(&'a self, text: &str, family: &'a UnitFamily, at: Range<usize>) -> Result<Found<'a>, ReadFault> {
        let form = normal(text);
        let form = if form.is_empty() { "1" } else { &form };
        let entries = self.index.get(form).map_or(&[][..], Vec::as_slice);
        let found = |entry: &Entry| {
            let (_, home) = self.families.get_index(entry.family)?;
            let (_, unit) = home.units.get_index(entry.unit)?;
            Some((home, unit))
        };
        let known: Vec<_> = entries.iter().filter_map(found).collect();
        let of = Some(family.name);
        if let Some((_, unit)) = known.iter().find(|(home, _)| home.name == family.name) {
            return Ok(Found { family, unit, of });
        }
        if let Some((_, choices)) = family.ambiguous.iter().find(|(written, _)| normal(written) == form) {
            return Err(ambiguous(text, choices.iter().map(|choice| choice.to_string()).collect(), at));
        }
        // A family of the same kind may lend its unit: a length in miles is a length.
        if let Some((_, unit)) = known.iter().find(|(home, _)| self.lends(home, family)) {
            return Ok(Found { family, unit, of });
        }
        if let Some((home, _)) = known.first() {
            let what = match form {
                "1" => "a bare number".to_owned(),
                _ => format!("{} is a unit of {}", quote(text), home.title()),
            };
            let message = format!("{what}, but the quantity asked for is {}", family.title());
            return Err(ReadFault::new(Code::WrongQuantity, at, message).choices(family.examples()));
        }
        if let Some(others) = self.ambiguous.get(form) {
            let named = others.iter().filter_map(|i| self.families.get_index(*i)).map(|(_, other)| other.title());
            let message = format!(
                "{} is a unit of {}, but the quantity asked for is {}",
                quote(text),
                named.collect::<Vec<_>>().join(" or "),
                family.title()
            );
            return Err(ReadFault::new(Code::WrongQuantity, at, message).choices(family.examples()));
        }
        Err(self.unknown(text, Some(family), at))
    }

    /// What scripts call the unit that is written like this in files: `N_m` for `Nm`.
    pub fn script_name(&self, text: &str) -> Option<&str> {
        let name = |entry: &Entry| {
            let (_, family) = self.families.get_index(entry.family)?;
            let (_, unit) = family.units.get_index(entry.unit)?;
            unit.script.as_deref()
        };
        self.index.get(&normal(text))?.iter().find_map(name)
    }

    /// Whether any unit is written like this.
    pub(super) fn is_known(&self, text: &str) -> bool {
        self.index.contains_key(&normal(text))
    }

    fn lends(&self, home: &UnitFamily, to: &UnitFamily) -> bool {
        home.dimension == to.dimension
            && home.point == to.point
            && !home.dimension.is_none()
            && !self.distinct(&home.name, &to.name)
    }

    fn resolve_any(&self, text: &str, at: Range<usize>) -> Result<Found<'_>, ReadFault> {
        let form = normal(text);
        let form = if form.is_empty() { "1" } else { &form };
        let entries = self.index.get(form).map_or(&[][..], Vec::as_slice);
        if let Some(families) = self.ambiguous.get(form) {
            let listed = families.iter().filter_map(|i| self.families.get_index(*i)).flat_map(|(_, family)| {
                family.ambiguous.iter().filter(|(written, _)| normal(written) == form).flat_map(|(_, choices)| choices)
            });
            let mut choices: Vec<String> = listed.map(|choice| choice.to_string()).collect();
            choices.extend(entries.iter().filter_map(|entry| self.clear_name(entry)));
            return Err(ambiguous(text, choices, at));
        }
        let own = entries.iter().any(|entry| entry.own);
        let known: Vec<_> = entries
            .iter()
            .filter(|entry| entry.own == own)
            .filter_map(|entry| {
                let (_, family) = self.families.get_index(entry.family)?;
                let (_, unit) = family.units.get_index(entry.unit)?;
                Some((entry, family, unit))
            })
            .collect();
        let Some((_, family, unit)) = known.first() else { return Err(self.unknown(text, None, at)) };
        let one_meaning = known.iter().all(|(_, other, twin)| {
            other.dimension == family.dimension && other.point == family.point && twin.same_as(unit)
        });
        if !one_meaning {
            return Err(ambiguous(text, known.iter().filter_map(|(entry, ..)| self.clear_name(entry)).collect(), at));
        }
        let of = (known.len() == 1).then_some(family.name);
        Ok(Found { family, unit, of })
    }

    /// A spelling of the unit that means it and nothing else.
    fn clear_name(&self, entry: &Entry) -> Option<String> {
        let (_, family) = self.families.get_index(entry.family)?;
        let (_, unit) = family.units.get_index(entry.unit)?;
        let mut spellings =
            [&*unit.symbol].into_iter().chain(unit.script.as_deref()).chain(unit.also.iter().map(String::as_str));
        spellings
            .find(|spelling| {
                let form = normal(spelling);
                !self.ambiguous.contains_key(&form) && self.index.get(&form).is_some_and(|entries| entries.len() == 1)
            })
            .map(str::to_owned)
    }

    fn unknown(&self, text: &str, family: Option<&UnitFamily>, at: Range<usize>) -> ReadFault {
        let fault = ReadFault::new(Code::UnknownUnit, at, format!("{} is not a unit that is known", quote(text)));
        let fault = match family {
            Some(family) => fault.choices(family.examples()),
            None => fault,
        };
        // The distance of long texts is slow to compute and never small.
        if text.len() > 60 {
            return fault;
        }
        if text.contains(['€', '$', '£', '¥']) {
            let meant = text.replace(['€', '$', '£', '¥'], "¤");
            return fault.help(format!("money is written with `¤`, whatever the currency: `{meant}`")).mend(meant);
        }
        if text.contains(',') {
            return fault.help("write several values as a list: `[5 min, pause]`");
        }
        let units = self
            .families
            .values()
            .filter(|home| family.is_none_or(|family| home.name == family.name))
            .flat_map(|home| home.units.values());
        // A script's spelling may be what is near; a file is told its own.
        let spellings: Vec<(&str, &str)> = units
            .flat_map(|unit| {
                let own =
                    [&*unit.symbol].into_iter().chain(unit.script.as_deref()).map(|spelling| (spelling, &*unit.symbol));
                own.chain(unit.also.iter().map(|also| (also.as_str(), also.as_str())))
            })
            .collect();
        let form = normal(text).to_lowercase();
        let form = form.trim_end_matches('.');
        let mut in_any_case = spellings.iter().filter(|(spelling, _)| normal(spelling).to_lowercase() == form);
        let other_case = in_any_case.next();
        // `MW` and `mW` are two units, and neither is certain.
        let alone = other_case.is_some_and(|(_, meant)| in_any_case.all(|(_, other)| other == meant));
        let near = || {
            // A single sign is near to every other.
            text.trim().chars().nth(1)?;
            // Pressure above that of the air is another quantity than pressure, not a slip of the pen.
            let gauge = |spelling: &str| matches!(text.trim().strip_prefix(spelling), Some("g" | "a"));
            let others = spellings.iter().map(|(spelling, _)| *spelling).filter(|spelling| !gauge(spelling));
            let near = nearest(text.trim().trim_end_matches('.'), others)?;
            spellings.iter().find(|(spelling, _)| *spelling == near)
        };
        match other_case.or_else(near) {
            Some((_, meant)) => {
                let meant = typeable(meant, text);
                let fault = fault.help(format!("did you mean `{meant}`?"));
                if alone { fault.mend(meant) } else { fault }
            }
            None => fault,
        }
    }

    /// Whether two families declare themselves different things.
    pub(super) fn distinct(&self, one: &str, other: &str) -> bool {
        let names = |from: &str, to: &str| {
            self.families.get(from).is_some_and(|family| family.distinct_from.iter().any(|name| &**name == to))
        };
        names(one, other) || names(other, one)
    }

    /// The family a quantity belongs to: its own, or the first of its dimension.
    pub(super) fn family_of(&self, quantity: &Quantity) -> Option<&UnitFamily> {
        match &quantity.of {
            Some(name) => self.families.get(name),
            None if quantity.dimension.is_none() => None,
            None => self
                .families
                .values()
                .find(|family| family.dimension == quantity.dimension && family.point == quantity.point),
        }
    }

    /// The unit called `text` among those a quantity can be expressed in.
    pub fn unit_for(&self, quantity: &Quantity, text: &str) -> Option<&Unit> {
        let form = normal(text);
        let form = if form.is_empty() { "1" } else { &form };
        let mut best: Option<(u8, &Unit)> = None;
        for entry in self.index.get(form)? {
            let (_, family) = self.families.get_index(entry.family)?;
            let (_, unit) = family.units.get_index(entry.unit)?;
            let fits = family.dimension == quantity.dimension && family.point == quantity.point;
            let apart = quantity.of.as_ref().is_some_and(|of| self.distinct(of, &family.name));
            if !fits || apart {
                continue;
            }
            let rank = match &quantity.of {
                Some(of) if *of == family.name => 2,
                _ if entry.own => 1,
                _ => 0,
            };
            if best.is_none_or(|(other, _)| rank > other) {
                best = Some((rank, unit));
            }
        }
        best.map(|(_, unit)| unit)
    }
}

/// Who types without raised digits and degree signs is not told to find them on the keyboard.
fn typeable(symbol: &str, as_in: &str) -> String {
    if as_in.is_ascii() { symbol.replace('²', "2").replace('³', "3").replace('°', "deg") } else { symbol.to_owned() }
}

fn ambiguous(text: &str, choices: Vec<String>, at: Range<usize>) -> ReadFault {
    if let [meant] = choices.as_slice() {
        let message = format!("{} is often written for {}, and is something else", quote(text), quote(meant));
        let help = format!("write `{meant}` if that is meant");
        return ReadFault::new(Code::UnknownUnit, at, message).choices(choices).help(help);
    }
    let help = format!("write {}", choices.iter().map(|c| format!("`{c}`")).collect::<Vec<_>>().join(" or "));
    ReadFault::new(Code::AmbiguousQuantity, at, format!("{} can mean more than one unit", quote(text)))
        .choices(choices)
        .help(help)
}
