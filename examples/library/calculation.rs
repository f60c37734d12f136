//! One calculation from code: a sheet of a built-in plugin, with inputs as a person would write them.
//!
//!     cargo run --example calculation

// It speaks to whoever runs it.
#![allow(clippy::print_stdout)]

use std::error::Error;

use indexmap::IndexMap;
use standpipe::diagnostic::Problems;
use standpipe::job::plan::{Parsed, typed};
use standpipe::library::{Files, Kind};
use standpipe::quantity::{Purpose, Style, System};
use standpipe::sheet::Sheet;
use standpipe::value::Value;

/// The volume, in litres, that 9.4 L at 15 °C have at 45 °C.
fn volume() -> Result<f64, Box<dyn Error>> {
    let mut problems = Problems::new();
    let parsed = Parsed::new(Files::built_in(), &mut problems);
    let units = &parsed.units;
    let id = typed("<example>", "volume-at-temperature");
    let document = parsed.library.find(Kind::Sheet, &id, &mut problems).ok_or("there is no such sheet")?;
    let sheet = Sheet::read(&document.source, &document.plugin, units, &mut problems).ok_or("it can't be read")?;

    let given = [
        ("volume", "volume", "9.4 L"),
        ("at", "temperature", "59 degF"),
        ("to", "temperature", "45 degC"),
        ("density_15", "density", "845 kg/m3"),
    ];
    let mut inputs = IndexMap::new();
    for (name, quantity, text) in given {
        inputs.insert(name.to_owned(), units.read(text, Some(quantity), None)?);
    }
    let outcome = sheet.run(&parsed.scripts(), inputs)?;
    let Some(Value::Quantity(volume)) = outcome.outputs.get("volume") else { return Err("no volume".into()) };

    println!("{}", sheet.title);
    println!("{} ({})", units.show(volume, &Style::new(System::Metric, Purpose::Computed { digits: 4 })), sheet.source);
    Ok(units.convert(volume, "L")?)
}

fn main() -> Result<(), Box<dyn Error>> {
    volume().map(|_| ())
}

#[cfg(test)]
mod tests {
    #[test]
    fn it_gives_what_the_formula_gives() {
        // Source: as the case `volume-from-15-to-45` of the plugin; 59 degF is 15 degC.
        let volume = super::volume().unwrap();
        assert!((volume - 9.61568748358).abs() < 1e-9, "{volume}");
    }
}
