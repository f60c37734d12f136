//! Inputs as they stand on the command line: `name=value`, `name=@file.csv`, `name=value@instrument`.

use std::path::Path;

use indexmap::IndexMap;
use jiff::ZonedDateTime;

use super::Desk;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_library::Instrument;
use standpipe_library::read_file;
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_sheet::uncertainty::{self, Error, Spread};
use standpipe_sheet::{Input, Places, Shape};

/// What was given, and where.
#[derive(Default)]
pub struct Given {
    pub values: IndexMap<String, Value>,
    pub places: Places,
    /// How far those may be off of which that is known.
    pub spreads: IndexMap<String, Spread>,
}

/// Reads all of them; everything wrong goes into `problems`. The sheet itself is argument 1.
pub fn read(args: &[String], desk: &Desk, problems: &mut Problems) -> Given {
    let mut given = Given::default();
    given.places.whole = Some(desk.asked.place.clone());
    for (index, text) in args.iter().enumerate() {
        let source = Source::new(format!("<argument {}>", index + 2), text.as_str());
        let whole = Place::new(&source, 0..text.len());
        if let Err(problem) = one(text, &whole, desk, &mut given, problems) {
            problems.push(*problem);
        }
    }
    given
}

fn one(
    text: &str,
    whole: &Place,
    desk: &Desk,
    given: &mut Given,
    problems: &mut Problems,
) -> Result<(), Box<Diagnostic>> {
    let (sheet, units) = (&desk.sheet, &*desk.units);
    let Some((name, value)) = text.split_once('=') else {
        return Err(Box::new(
            Diagnostic::error(Code::WrongArguments, whole, format!("`{text}` is not name=value"))
                .expected("an input with its value, such as volume=\"7 L\"")
                .help("put quotes around a value with a space in it"),
        ));
    };
    let (name_at, value_at) = (whole.slice(0..name.len()), whole.slice(name.len() + 1..text.len()));
    let name = name.trim();
    let input = match sheet.input(name, &name_at) {
        Ok(input) => input,
        Err(problem) => {
            // What was misspelt is not missing as well.
            if let Some(meant) = nearest(name, sheet.inputs.keys().map(String::as_str)) {
                given.values.entry(meant.to_owned()).or_insert(Value::Unknown);
            }
            return Err(problem);
        }
    };
    let file = value.trim().strip_prefix('@');
    let read = match file {
        Some(_) if !input.list => {
            let message = format!("a file can't stand for `{name}`, which is {}", input.described());
            Err(Box::new(Diagnostic::error(Code::FaultyInput, &value_at, message)))
        }
        Some(path) => match read_file(Path::new(path.trim()), problems) {
            Some(source) => input.read_series(name, &source, units),
            None => Ok(Value::Unknown),
        },
        None => uncertain(input, value, &value_at, desk, problems).map(|(read, spread)| {
            given.spreads.extend(spread.map(|spread| (name.to_owned(), spread)));
            read
        }),
    };
    let (read, problem) = match read {
        Ok(read) => (read, None),
        // It was given, so it is not called missing as well.
        Err(problem) => (Value::Unknown, Some(problem)),
    };
    if let Some(before) = given.places.inputs.get(name) {
        let also = before.clone();
        match (given.values.get_mut(name), read) {
            (Some(Value::List(items)), Value::List(more)) => items.extend(more),
            _ if problem.is_some() => {}
            _ => {
                let problem = Diagnostic::error(Code::WrongArguments, &value_at, format!("`{name}` is given twice"));
                return Err(Box::new(problem.also(&also, "the first time")));
            }
        }
        return problem.map_or(Ok(()), Err);
    }
    given.places.inputs.insert(name.to_owned(), value_at);
    given.values.insert(name.to_owned(), read);
    problem.map_or(Ok(()), Err)
}

/// A value, and how far it may be off: as written behind it, or as the shop knows of the instrument it was read with.
fn uncertain(
    input: &Input,
    text: &str,
    place: &Place,
    desk: &Desk,
    problems: &mut Problems,
) -> Result<(Value, Option<Spread>), Box<Diagnostic>> {
    let units = &*desk.units;
    let Shape::Quantity(of) = &input.shape else { return Ok((input.read_text(text, None, units, place)?, None)) };
    if input.list {
        return Ok((input.read_text(text, None, units, place)?, None));
    }
    let (text, read_with) = match text.rsplit_once('@') {
        Some((reading, name)) => {
            let at = place.slice(reading.len() + 1..text.len());
            let instrument = instrument(name, &at, desk)?;
            problems.extend(overdue(name, instrument, &at));
            (reading, Some(instrument))
        }
        None => (text, None),
    };
    let place = &place.slice(0..text.len());
    let bare = read_with.and_then(|instrument| instrument.unit.as_deref());
    let (value, mut spread) = match uncertainty::read(text, of, bare, units, place)? {
        Some((value, spread)) => (value, spread),
        None => (input.read_text(text, bare, units, place)?, Spread::default()),
    };
    if let (Some(instrument), Value::Quantity(reading)) = (read_with, &value) {
        spread.0.extend(errors_of(instrument, reading, place)?);
    }
    Ok((value, Some(spread).filter(|spread| !spread.0.is_empty())))
}

fn instrument<'a>(name: &str, place: &Place, desk: &'a Desk) -> Result<&'a Instrument, Box<Diagnostic>> {
    let known = &desk.shop.instruments;
    known.get(name.trim()).ok_or_else(|| {
        let message = format!("the shop has no instrument `{}`", name.trim());
        let problem = Diagnostic::error(Code::UnfitInstrument, place, message);
        Box::new(match (nearest(name.trim(), known.keys().map(String::as_str)), known.is_empty()) {
            (Some(near), _) => problem.help(format!("did you mean `{near}`?")),
            (None, true) => problem.help("name the shop's file with --shop"),
            (None, false) => problem.expected(known.keys().map(String::as_str).collect::<Vec<_>>().join(", ")),
        })
    })
}

/// The result stands, but what the shop says of the instrument held until that day only.
fn overdue(name: &str, instrument: &Instrument, place: &Place) -> Option<Diagnostic> {
    let due = instrument.due.filter(|due| *due < ZonedDateTime::now().date())?;
    let message = format!("the calibration of `{}` ran out on {due}", name.trim());
    Some(
        Diagnostic::warning(Code::UnfitInstrument, place, message)
            .help("by how much it may be off is not shown any more"),
    )
}

/// Its limit of error, and half a step of its scale.
fn errors_of(instrument: &Instrument, reading: &Quantity, place: &Place) -> Result<Vec<Error>, Box<Diagnostic>> {
    let refuse = |message: &str| Err(Box::new(Diagnostic::error(Code::UnfitInstrument, place, message)));
    if !instrument.reaches(&Value::Quantity(reading.clone())) {
        return refuse("the scale of the instrument does not reach this value");
    }
    match instrument.spread_of(reading) {
        Some(spread) => Ok(spread.0),
        None => refuse("the shop does not say how far this instrument may be off when it reads such a value"),
    }
}
