//! The first line of a table.

use indexmap::IndexMap;

use super::{Column, ERROR, Table, Uncertain, WARNINGS};
use crate::{Heading, Places, Shape, Sheet};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_quantity::value::Value;
use standpipe_quantity::{ReadFault, Units};

impl<'a> Table<'a> {
    /// Settles what the columns of a table are. `fixed` holds for every row; `line` is the first line.
    ///
    /// A column that is no input is carried along, unless its name is so near to one that it may be misspelt: an optional
    /// input would then be left out of every row without a word.
    pub fn new(
        sheet: &'a Sheet,
        units: &'a Units,
        (names, separator): (&[String], u8),
        fixed: (IndexMap<String, Value>, &Places),
        uncertain: Uncertain,
        line: &Place,
        problems: &mut Problems,
    ) -> Option<Self> {
        let before = problems.len();
        let (fixed, places) = fixed;
        let mut columns = Vec::new();
        let mut headings: Vec<String> = Vec::new();
        let mut seen: Vec<String> = Vec::new();
        for name in names {
            let heading = Heading::read(name);
            headings.push(sheet.given_heading(&heading));
            if let Some(place) = places.inputs.get(&heading.name).filter(|_| fixed.contains_key(&heading.name)) {
                let message = format!("`{}` is a column of the table and given for all rows", heading.name);
                problems.push(Diagnostic::error(Code::WrongArguments, place, message).help("leave one out"));
            } else if seen.contains(&heading.name) && sheet.inputs.contains_key(&heading.name) {
                let message = format!("two columns are called `{}`", heading.name);
                problems.push(Diagnostic::error(Code::FaultyInput, line, message));
            }
            match column(sheet, units, &heading, line) {
                Ok(column) => columns.push(column),
                Err(problem) => problems.push(*problem),
            }
            seen.push(heading.name);
        }
        let missing: Vec<&str> = sheet
            .inputs
            .keys()
            .map(String::as_str)
            .filter(|name| {
                !sheet.is_optional(name) && !fixed.contains_key(*name) && !seen.iter().any(|one| one == name)
            })
            .collect();
        // A column that is misspelt has been reported.
        if !missing.is_empty() && problems.len() == before {
            let names = missing.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
            problems.push(
                Diagnostic::error(Code::FaultyInput, line, format!("sheet `{}` needs {names}", sheet.id))
                    .expected(format!("a column for each, such as `{} [unit]`", missing[0]))
                    .help("what is the same in all rows can be given as name=value"),
            );
        }
        let given = columns.iter().any(|column| matches!(column, Column::Standard { .. }));
        let wanted = uncertain.wanted || given || !uncertain.spreads.is_empty();
        let uncertain = wanted.then_some(uncertain);
        for (name, output) in &sheet.outputs {
            headings.push(output.heading(name));
            if uncertain.is_some() && matches!(output.shape, Shape::Quantity(_)) {
                headings.extend(["u", "low", "high"].map(|what| output.heading(&format!("{what}({name})"))));
            }
        }
        headings.extend([WARNINGS.to_owned(), ERROR.to_owned()]);
        (problems.len() == before).then_some(Self { sheet, units, columns, headings, fixed, separator, uncertain })
    }

    /// Names of columns that are carried along.
    pub fn carried(&self) -> Vec<&str> {
        let pairs = self.columns.iter().zip(&self.headings);
        pairs.filter(|(column, _)| matches!(column, Column::Carried)).map(|(_, heading)| heading.as_str()).collect()
    }
}

/// The whole line is the place: cells of a heading have none of their own.
fn unreadable(fault: ReadFault, heading: &Heading, line: &Place) -> Box<Diagnostic> {
    let mut problem = fault.at(line);
    problem.place = line.clone();
    problem.message = format!("column `{}`: {}", heading.name, problem.message);
    Box::new(problem)
}

/// A column `u(NAME) [unit]`, if that is one.
fn standard(sheet: &Sheet, units: &Units, heading: &Heading, line: &Place) -> Option<Result<Column, Box<Diagnostic>>> {
    let name = heading.name.strip_prefix("u(")?.strip_suffix(')')?.trim();
    let input = sheet.inputs.get(name)?;
    let Shape::Quantity(of) = &input.shape else { return None };
    let factor = units.difference(1.0, of, heading.unit.as_deref().unwrap_or_default());
    Some(
        factor
            .map(|factor| Column::Standard { name: name.to_owned(), factor })
            .map_err(|fault| unreadable(fault, heading, line)),
    )
}

fn column(sheet: &Sheet, units: &Units, heading: &Heading, line: &Place) -> Result<Column, Box<Diagnostic>> {
    if let Some(standard) = standard(sheet, units, heading, line) {
        return standard;
    }
    let Some(input) = sheet.inputs.get(&heading.name) else {
        let near = nearest(&heading.name, sheet.inputs.keys().map(String::as_str));
        return match near {
            None => Ok(Column::Carried),
            Some(near) => Err(Box::new(
                sheet
                    .no_input(&heading.name, Some(line))
                    .help(format!("did you mean `{near}`? If not, give the column a more different name")),
            )),
        };
    };
    let scale = match (&input.shape, &heading.unit) {
        (Shape::Quantity(of) | Shape::Range(of), Some(unit)) => {
            let scale = units.scale(of, unit).map_err(|fault| unreadable(fault, heading, line))?;
            (!input.list && matches!(input.shape, Shape::Quantity(_))).then_some(scale)
        }
        // What needs no unit: a ratio, a count.
        (Shape::Quantity(of), None) if !input.list => units.scale(of, "").ok(),
        _ => None,
    };
    Ok(Column::Input { name: heading.name.clone(), unit: heading.unit.clone(), scale })
}
