//! Units and quantities: what is read is shown so that it reads as the same, and conversions keep the order.

use standpipe::quantity::{Purpose, Quantity, Style, System, Units, convert, convert_to_all};
use standpipe::value::Value;

use super::choices::Choices;

pub fn run(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let units = Units::standard();
    let families: Vec<_> = units.families().collect();
    let family = families[choices.below(families.len())];
    let other = choices.below(family.units.len());
    let by = choices.byte();
    let rest = String::from_utf8_lossy(choices.rest());
    let (text, unit) = rest.split_once('>').unwrap_or((&rest, ""));
    for style in [Style::default(), Style::new(System::Both, Purpose::Reading), computed()] {
        if let Ok(value) = units.read_range(text, Some(&family.name), None) {
            units.show_value(&value, &style);
        }
    }
    let _ = convert(&units, text, unit);
    let _ = convert_to_all(&units, text);
    let _ = units.read(text, None, None);
    let Ok(Value::Quantity(read)) = units.read(text, Some(&family.name), None) else { return };
    assert!(read.si.is_finite(), "{read:?}");
    shown_again(&units, &read, &family.name);
    let Some((_, unit)) = family.units.get_index(other) else { return };
    // Something more is more in every unit, or less in every one that counts the other way.
    let more = Quantity { si: read.si + read.si.abs() * f64::from(by) * 1e-3, written: None, ..read.clone() };
    let both = [&read, &more].map(|one| units.convert(one, &unit.symbol));
    if let [Ok(one), Ok(two)] = both {
        let turns = units.convert(&Quantity { si: read.si + 1.0, written: None, ..read.clone() }, &unit.symbol);
        let falls = turns.is_ok_and(|turned| turned < one);
        assert!(if falls { two <= one } else { two >= one }, "{read:?} and {more:?} in {}: {one}, {two}", unit.symbol);
    }
}

fn computed() -> Style {
    Style::new(System::Inch, Purpose::Computed { digits: 3 })
}

/// In its own unit and as it was written.
fn shown_again(units: &Units, read: &Quantity, family: &str) {
    let Some(written) = &read.written else { return };
    let Some(shown) = units.show_in(read, &written.unit, &Style::default()) else { return };
    let again = units.read(&shown, Some(family), Some(&written.unit));
    let Ok(Value::Quantity(again)) = again else { panic!("{read:?} is shown as `{shown}`: {again:?}") };
    let near = (again.si - read.si).abs() <= 1e-9 * read.si.abs().max(again.si.abs());
    assert!(near, "{read:?} is shown as `{shown}`, which reads as {again:?}");
}
