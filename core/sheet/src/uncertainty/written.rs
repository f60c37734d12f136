//! Values with their uncertainty, as people write them.
//!
//! `38.2 ± 1.5 degC` are limits of error, `38.2(5) degC` and `38.2 degC u=0.5` are standard uncertainties. After limits a
//! word may name another form than rectangular: `± 0.5 degC arcsine`.

use super::{Error, Spread};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::value::Value;
use standpipe_quantity::{ReadFault, Units, starts_with_number};

type Refused = Box<Diagnostic>;
/// An error of some form, by its size.
type Form = fn(f64) -> Error;

/// Reads a value of a quantity with its uncertainty; `None` where none is written. `bare` is the unit of bare numbers.
pub fn read(
    text: &str,
    of: &str,
    bare: Option<&str>,
    units: &Units,
    place: &Place,
) -> Result<Option<(Value, Spread)>, Refused> {
    let Some(Written { value, spread, form }) = Written::of(text) else { return Ok(None) };
    let refuse = |message: String| {
        Box::new(
            Diagnostic::error(Code::NotAQuantity, place, message)
                .expected("a value such as `38.2 ± 1.5 degC`, `38.2(5) degC` or `38.2 degC u=0.5`"),
        )
    };
    let unreadable = |fault: ReadFault| {
        let mut problem = fault.at(place);
        problem.place = place.clone();
        Box::new(problem)
    };
    let Some(number) = starts_with_number(spread.text).filter(|number| number.value >= 0.0) else {
        return Err(refuse(format!("`{}` is not an uncertainty", spread.text)));
    };
    let own = spread.text[number.end..].trim();
    let bare_value = starts_with_number(&value).is_some_and(|number| value[number.end..].trim().is_empty());
    // Of a ratio `2 %` are two hundredths; of everything else they are a share of the value.
    let share = own == "%" && units.difference(1.0, of, own).is_err();
    // A unit behind both counts for both.
    let whole = if bare_value && !share && !own.is_empty() { format!("{value} {own}") } else { value };
    let value = units.read(&whole, Some(of), bare).map_err(unreadable)?;
    let Value::Quantity(quantity) = &value else {
        return Err(refuse(format!("`{text}`: a count has no uncertainty")));
    };
    let size = match &quantity.written {
        _ if share && quantity.point => {
            return Err(refuse(format!("`{}` does not say what it is a share of", spread.text)));
        }
        _ if share => number.value / 100.0 * quantity.si.abs(),
        written => {
            let unit = written.as_ref().map_or("", |written| &*written.unit);
            let unit = if own.is_empty() { unit } else { own };
            units.difference(number.value * spread.step, of, unit).map_err(unreadable)?
        }
    };
    if !size.is_finite() {
        return Err(refuse(format!("`{}` is not an uncertainty", spread.text)));
    }
    Ok(Some((value, Spread(vec![form(size)]))))
}

struct Written<'a> {
    /// Number and perhaps unit.
    value: String,
    spread: Size<'a>,
    form: Form,
}

struct Size<'a> {
    text: &'a str,
    /// What its number counts in: the last digit of the value in `38.2(5)`.
    step: f64,
}

impl<'a> Written<'a> {
    fn of(text: &'a str) -> Option<Self> {
        if let Some(at) = text.find("u=").filter(|at| text[..*at].ends_with(char::is_whitespace)) {
            let spread = Size { text: text[at + 2..].trim(), step: 1.0 };
            return Some(Self { value: text[..at].trim().to_owned(), spread, form: Error::Normal });
        }
        if let Some((value, spread)) = ["±", "+/-", "+-"].into_iter().find_map(|sign| text.split_once(sign)) {
            let (spread, form) = formed(spread.trim());
            return Some(Self { value: value.trim().to_owned(), spread: Size { text: spread, step: 1.0 }, form });
        }
        let number = starts_with_number(text)?;
        let (digits, unit) = text[number.end..].strip_prefix('(')?.split_once(')')?;
        let step = 10f64.powi(-i32::from(number.decimals));
        let value = format!("{} {}", &text[..number.end], unit.trim()).trim().to_owned();
        Some(Self { value, spread: Size { text: digits.trim(), step }, form: Error::Normal })
    }
}

fn formed(spread: &str) -> (&str, Form) {
    let forms: [(&str, Form); 3] =
        [("rectangular", Error::Rectangular), ("triangular", Error::Triangular), ("arcsine", Error::Arcsine)];
    let named = forms.into_iter().find_map(|(word, form)| Some((spread.strip_suffix(word)?.trim_end(), form)));
    named.unwrap_or((spread, Error::Rectangular))
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::source::Source;

    fn written(text: &str, of: &str) -> Result<Option<(Value, Spread)>, Refused> {
        let source = Source::new("<test>", text);
        read(text, of, None, &Units::standard(), &Place::new(&source, 0..text.len()))
    }

    #[test]
    fn limits_and_standard_uncertainties_in_any_unit() {
        for (text, of, si, error) in [
            ("38.2 ± 1.5 degC", "temperature", 311.35, Error::Rectangular(1.5)),
            ("38.2 degC ± 1.5", "temperature", 311.35, Error::Rectangular(1.5)),
            ("38.2 degC +/- 1.5 K", "temperature", 311.35, Error::Rectangular(1.5)),
            ("100 ± 1.8 degF", "temperature", 310.927_777_777_777_8, Error::Rectangular(1.0)),
            ("38.2(5) degC", "temperature", 311.35, Error::Normal(0.5)),
            ("38.20(15) degC", "temperature", 311.35, Error::Normal(0.15)),
            ("-38(2) degC", "temperature", 235.15, Error::Normal(2.0)),
            ("38.2 degC u=0.5", "temperature", 311.35, Error::Normal(0.5)),
            ("38.2 degC u=900 mK", "temperature", 311.35, Error::Normal(0.9)),
            ("850 kg/m3 ± 2 %", "density", 850.0, Error::Rectangular(17.0)),
            ("7,0 L u=1%", "volume", 0.007, Error::Normal(0.000_07)),
            ("38 ± 2 %", "ratio", 0.38, Error::Rectangular(0.02)),
            ("0.18(2)", "ratio", 0.18, Error::Normal(0.02)),
            ("0 ± 0.5 degC arcsine", "temperature", 273.15, Error::Arcsine(0.5)),
            ("5 ± 0.5 mm triangular", "length", 0.005, Error::Triangular(0.0005)),
            ("11.5e-6 ± 2e-6 1/°C", "temperature-coefficient", 11.5e-6, Error::Rectangular(2e-6)),
        ] {
            if text.contains("mK") {
                // No such unit is shipped: refused, not misread.
                assert!(written(text, of).is_err());
                continue;
            }
            let (value, spread) = written(text, of).unwrap_or_else(|fault| panic!("{text}: {fault:?}")).expect(text);
            let Value::Quantity(quantity) = value else { panic!("{text}: {value:?}") };
            assert!((quantity.si - si).abs() <= 1e-12 * si.abs(), "{text}: {}", quantity.si);
            let [found] = spread.0.as_slice() else { panic!("{text}: {spread:?}") };
            assert!((found.standard() / error.standard() - 1.0).abs() < 1e-12, "{text}: {found:?}");
            assert_eq!(std::mem::discriminant(found), std::mem::discriminant(&error), "{text}");
        }
    }

    #[test]
    fn what_carries_no_uncertainty_is_left_alone_and_what_makes_no_sense_is_refused() {
        for text in ["38.2 degC", "-5 degC", "unknown", "1..2 degC", "5 hp (mech)"] {
            assert_eq!(written(text, "temperature").ok(), Some(None), "{text}");
        }
        for (text, of, part) in [
            ("38.2 ± degC", "temperature", "is not an uncertainty"),
            ("38.2 ± -1 degC", "temperature", "is not an uncertainty"),
            ("38.2 ± 1.5", "temperature", "has no unit"),
            ("38.2 degC ± 2 %", "temperature", "what it is a share of"),
            ("38.2 degC ± 1 kg", "temperature", "unit of mass"),
            ("8(1)", "count", "has no uncertainty"),
            ("38.2(x) degC", "temperature", "is not an uncertainty"),
        ] {
            match written(text, of) {
                Err(problem) => assert!(problem.message.contains(part), "{text}: {}", problem.message),
                Ok(found) => panic!("{text}: {found:?}"),
            }
        }
    }
}
