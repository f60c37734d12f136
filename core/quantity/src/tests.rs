//! The rules of quantities, on a handful of invented families; the embedded units are checked in tests/quantities.rs.

use std::cmp::Ordering;

use super::sample::{SAMPLE, from_text, quantity, sample};
use super::*;
use crate::value::Value;
use standpipe_diagnostic::Code;
use standpipe_diagnostic::source::{Place, Source};

fn range_of(value: Value) -> (Quantity, Quantity) {
    match value {
        Value::Range(low, high) => (low, high),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_text_is_read_in_any_spelling_of_its_unit() {
    let units = sample();
    for text in ["7 lbf·ft", "7 lbf*ft", "7 ft-lb", "7lbf ft", "7\u{a0}lbf\u{22c5}ft", "7.0 lbf_ft", " +7 lbf - ft "] {
        let read = quantity(&units, text);
        assert!(close(read.si, 9.490_725_638_319_803), "{text}: {}", read.si);
        assert_eq!(read.of.as_deref(), Some("moment"), "{text}");
        assert_eq!(read.written.unwrap().unit.as_ref(), "lbf·ft");
    }
    assert_eq!(quantity(&units, "41,5 °C").si, 314.65);
    assert_eq!(quantity(&units, "\u{2212}40 degC").si, 233.14999999999998);
    assert_eq!(units.read("12", None, None), Ok(Value::Number(12.0)));
}

#[test]
fn what_is_asked_decides_what_a_unit_means() {
    let units = sample();
    let Value::Quantity(warming) = units.read("5 °C", Some("warming"), None).unwrap() else { panic!() };
    assert_eq!((warming.si, warming.point, warming.of.as_deref()), (5.0, false, Some("warming")));
    let Value::Quantity(point) = units.read("5 °C", None, None).unwrap() else { panic!() };
    assert_eq!((point.si, point.point), (278.15, true));
    let Value::Quantity(bare) = units.read("7", Some("moment"), Some("lbf·ft")).unwrap() else { panic!() };
    assert!(close(bare.si, 9.490_725_638_319_803));
    assert_eq!(units.read("9", Some("count"), None), Ok(Value::Number(9.0)));
    assert_eq!(units.read("9 pcs", Some("count"), None), Ok(Value::Number(9.0)));
    let Value::Quantity(share) = units.read("0.05", Some("share"), None).unwrap() else { panic!() };
    assert_eq!((share.si, share.written.unwrap().unit.as_ref()), (0.05, ""));
}

#[test]
fn a_faulty_text_gets_its_code_place_and_way_out() {
    let units = sample();
    for (text, asked, code, marked, says) in [
        ("5 gal", None, Code::AmbiguousQuantity, "gal", "write `US gal` or `imp gal`"),
        ("5 gal", Some("volume"), Code::AmbiguousQuantity, "gal", "write `US gal` or `imp gal`"),
        (
            "5 gal",
            Some("moment"),
            Code::WrongQuantity,
            "gal",
            "is a unit of volume, but the quantity asked for is moment",
        ),
        ("1,234 L", None, Code::AmbiguousQuantity, "1,234", "write `1234` or `1.234`"),
        ("5 L", Some("moment"), Code::WrongQuantity, "L", "`L` is a unit of volume"),
        ("5 J", Some("moment"), Code::WrongQuantity, "J", "`J` is a unit of work"),
        ("5 °C", Some("length"), Code::WrongQuantity, "°C", "asked for is length"),
        ("5 LBF·FT", None, Code::UnknownUnit, "LBF·FT", "did you mean `lbf·ft`?"),
        ("5 lbf·tf", None, Code::UnknownUnit, "lbf·tf", "did you mean `lbf·ft`?"),
        ("5 lbf_ftt", None, Code::UnknownUnit, "lbf_ftt", "did you mean `lbf·ft`?"),
        ("5 parsec", Some("length"), Code::UnknownUnit, "parsec", "is not a unit that is known"),
        ("5", Some("moment"), Code::NotAQuantity, "5", "has no unit; write e.g. `5 N·m`"),
        ("nan L", None, Code::NotAQuantity, "nan", "not a finite number"),
        ("1e307 ft-lb", None, Code::NotAQuantity, "", ""),
        ("1.7e308 ft-lb", None, Code::NotAQuantity, "1.7e308 ft-lb", "beyond what can be computed with"),
        ("-300 °C", None, Code::NotAQuantity, "-300 °C", "below the lowest possible value, `-273.15 °C`"),
        ("1.5", Some("count"), Code::WrongQuantity, "1.5", "is not a whole number"),
        ("-3", Some("count"), Code::NotAQuantity, "-3", "below the lowest"),
        ("5 %", Some("slope"), Code::WrongQuantity, "%", "is a unit of share"),
        ("5..6 L", None, Code::NotAQuantity, "5..6 L", "more than one number"),
        ("5 - 6 L", None, Code::NotAQuantity, "5 - 6 L", "more than one number"),
        ("5 L 6 L", None, Code::UnknownUnit, "L 6 L", "not a unit"),
        ("about 5 L", None, Code::NotAQuantity, "about 5 L", "does not start with a number"),
        ("", Some("length"), Code::NotAQuantity, "", "nothing is written"),
        ("5 L", Some("lenght"), Code::WrongQuantity, "L", "did you mean `length`?"),
    ] {
        let result = units.read(text, asked, None);
        if marked.is_empty() && says.is_empty() {
            assert!(result.is_ok(), "{text} is large but finite: {result:?}");
            continue;
        }
        let fault = result.expect_err(text);
        assert_eq!(fault.code, code, "{text}: {fault}");
        assert_eq!(&text[fault.range.clone()], marked, "{text}: {fault}");
        assert!(fault.to_string().contains(says), "{text}: {fault}");
    }
    assert!(units.read(&format!("5 {}", "x".repeat(1_000_000)), None, None).is_err());
}

#[test]
fn a_fault_becomes_a_message_at_its_place() {
    let source = Source::new("job.yaml", "fill: 5 gal\n");
    let place = Place::new(&source, 6..11);
    let diagnostic = sample().read(place.text(), Some("volume"), None).unwrap_err().at(&place);
    assert_eq!((diagnostic.place.line(), diagnostic.place.column(), diagnostic.place.text()), (1, 9, "gal"));
    assert_eq!(diagnostic.expected.as_deref(), Some("US gal, imp gal"));
}

#[test]
fn ranges_as_people_write_them() {
    let units = sample();
    for text in [
        "35..45 degC",
        "35…45 degC",
        "35...45 °C",
        "35 to 45 degC",
        "35–45 °C",
        "35-45 °C",
        "35 - 45 °C",
        "35 degC..45",
        "35 degC .. 45 degC",
        "35 °C to 113 °F",
        "40 ± 5 °C",
        "40 +/- 5 °C",
        "35.0..45 degC",
    ] {
        let (low, high) =
            range_of(units.read_range(text, Some("temperature"), None).unwrap_or_else(|f| panic!("{text}: {f}")));
        assert!(close(low.si, 308.15) && close(high.si, 318.15), "{text}: {} {}", low.si, high.si);
        assert!(low.point && high.point, "{text}");
    }
    let (low, high) = range_of(units.read_range("-10..-5", Some("temperature"), Some("°C")).unwrap());
    assert!(close(low.si, 263.15) && close(high.si, 268.15));
    let (low, high) = range_of(units.read_range("-10--5 °C", Some("temperature"), None).unwrap());
    assert!(close(low.si, 263.15) && close(high.si, 268.15));
    let (low, high) = range_of(units.read_range("7 ft-lb - 9 ft-lb", Some("moment"), None).unwrap());
    assert!(low.si < high.si);
    let (low, high) = range_of(units.read_range("8.5 ± 0.1 N·m", Some("moment"), None).unwrap());
    assert_eq!((low.si, high.si), (8.4, 8.6));
    let (low, high) = range_of(units.read_range("2..3", Some("count"), None).unwrap());
    assert_eq!((low.si, high.si), (2.0, 3.0));
}

#[test]
fn faulty_ranges_say_why() {
    let units = sample();
    for (text, asked, code, says) in [
        ("45..35 °C", "temperature", Code::ReversedRange, "lies above its high end"),
        ("40 °C", "temperature", Code::NotAQuantity, "is one value, not a range; write both ends, e.g. `40..40 °C`"),
        ("35..45", "temperature", Code::NotAQuantity, "has no unit"),
        ("35.. °C", "temperature", Code::NotAQuantity, "does not start with a number"),
        ("35..", "temperature", Code::NotAQuantity, "a number is missing at the end"),
        ("..45 °C", "temperature", Code::NotAQuantity, "does not start with a number"),
        ("35..40..45 °C", "temperature", Code::NotAQuantity, "has more than two ends"),
        ("1..2 gal", "volume", Code::AmbiguousQuantity, "can mean more than one unit"),
        ("1,000..2 L", "volume", Code::AmbiguousQuantity, "1000 or as 1.000"),
        ("1..2.5", "count", Code::WrongQuantity, "is not a whole number"),
        ("5 N·m ± 10 %", "moment", Code::WrongQuantity, "`%` is a unit of share"),
        ("5 N·m ± 1 lbf·ft", "moment", Code::NotAQuantity, "has two units"),
    ] {
        let fault = units.read_range(text, Some(asked), None).expect_err(text);
        assert_eq!(fault.code, code, "{text}: {fault}");
        assert!(fault.to_string().contains(says), "{text}: {fault}");
        assert!(text.get(fault.range.clone()).is_some(), "{text}: {:?}", fault.range);
    }
}

#[test]
fn points_and_differences_follow_the_rules_of_a_scale() {
    let units = sample();
    let (hot, warm) = (quantity(&units, "45 °C"), quantity(&units, "95 °F"));
    let step = quantity(&units, "18 Δ°F");
    let gap = units.sub(&hot, &warm).unwrap();
    assert!(close(gap.si, 10.0) && !gap.point, "{gap:?}");
    assert_eq!(gap.of.as_deref(), Some("warming"));
    let up = units.add(&warm, &step).unwrap();
    assert_eq!(
        (units.compare(&up, &hot), up.point, up.of.as_deref()),
        (Ok(Ordering::Equal), true, Some("temperature"))
    );
    assert_eq!(units.compare(&units.sub(&hot, &step).unwrap(), &warm), Ok(Ordering::Equal));
    let middle = units.mean(&[hot.clone(), warm.clone()]).unwrap();
    assert!(close(middle.si, 313.15) && middle.point);
    for (result, says) in [
        (
            units.add(&hot, &warm),
            "two points on a scale can't be added: 45 °C (temperature) and 95 °F (temperature); take their middle with `mean",
        ),
        (units.sub(&step, &hot), "a point can't be taken from a difference"),
        (units.mul(&hot, &Quantity::number(2.0)), "is a point on a scale and can't be multiplied"),
        (units.div(&Quantity::number(2.0), &hot), "can't be divided by"),
        (units.neg(&hot), "can't be negated"),
        (units.pow(&hot, 1.0), "can't be raised"),
        (units.mean(&[hot.clone(), step.clone()]), "is a point on a scale and 18 Δ°F (warming) a difference"),
        (units.mean(&[]), "the mean of nothing"),
    ] {
        let fault = result.unwrap_err();
        assert!(fault.to_string().contains(says), "{fault}");
    }
    let fault = units.compare(&hot, &step).unwrap_err();
    assert!(fault.to_string().contains("units of warming: Δ°C, Δ°F"), "{fault}");
}

#[test]
fn unlike_things_are_neither_added_nor_compared() {
    let units = sample();
    let moment = quantity(&units, "7 lbf·ft");
    let work = quantity(&units, "7 J");
    let force_times_way = Quantity::new(7.0, moment.dimension);
    assert!(
        units.add(&moment, &work).unwrap_err().to_string().contains("7 lbf·ft (moment) and 7 J (work) can't be added")
    );
    assert!(units.compare(&moment, &work).is_err());
    // A product has forgotten what it was; it takes the name of what it is added to.
    assert_eq!(units.add(&moment, &force_times_way).unwrap().of.as_deref(), Some("moment"));
    assert_eq!(units.compare(&work, &force_times_way), Ok(Ordering::Equal));
    let slope = quantity(&units, "2 °");
    assert!(units.add(&slope, &quantity(&units, "2 %")).is_err());
    let fault = units.compare(&quantity(&units, "38 °C"), &Quantity::number(45.0)).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "38 °C (temperature) and the number 45 can't be compared; if the number is meant in a unit, write it: `45.degC`"
    );
}

#[test]
fn products_forget_graduations_keep_and_nothing_infinite_comes_out() {
    let units = sample();
    let length = quantity(&units, "2 m");
    let moment = quantity(&units, "6 N·m");
    let twice = units.mul(&moment, &Quantity::number(2.0)).unwrap();
    assert_eq!((twice.si, twice.of.as_deref()), (12.0, Some("moment")));
    let tenth = units.mul(&quantity(&units, "10 %"), &moment).unwrap();
    assert_eq!(tenth.of.as_deref(), Some("moment"));
    assert_eq!(units.mul(&quantity(&units, "2 °"), &moment).unwrap().of, None);
    let force = units.div(&moment, &length).unwrap();
    assert_eq!((force.si, force.of, force.dimension.to_string().as_str()), (3.0, None, "kg·m/s²"));
    assert_eq!(units.show(&force, &Style::default()), "3.000 kg·m/s²");
    let square = units.pow(&length, 2.0).unwrap();
    assert_eq!(units.compare(&units.pow(&square, 0.5).unwrap(), &length), Ok(Ordering::Equal));
    assert!(units.pow(&length, 0.5).is_err());
    assert_eq!(units.div(&length, &Quantity::number(0.0)).unwrap_err().code, Code::NonFiniteResult);
    assert_eq!(
        units.mul(&quantity(&units, "1e200 m"), &quantity(&units, "1e200 m")).unwrap_err().code,
        Code::NonFiniteResult
    );
    assert_eq!(units.pow(&Quantity::number(-1.0), 0.5).unwrap_err().code, Code::NonFiniteResult);
    assert!(units.compare(&Quantity::number(f64::NAN), &Quantity::number(1.0)).is_err());
    let mut runaway = length.clone();
    let grown = std::iter::repeat_with(|| {
        runaway = units.mul(&runaway, &runaway)?;
        Ok::<_, DimensionFault>(())
    });
    assert!(grown.take(10).any(|result| result.is_err()), "exponents are bounded");
}

#[test]
fn close_is_relative() {
    assert!(close(0.1 + 0.2, 0.3) && close(0.0, -0.0) && close(1e300, 1e300 * (1.0 + 1e-15)));
    assert!(!close(0.0, 1e-17) && !close(1.0, 1.0 + 1e-11) && !close(f64::NAN, f64::NAN));
    assert!(!close(f64::INFINITY, 1.0));
}

#[test]
fn a_value_in_its_own_unit_comes_back_to_the_last_bit() {
    let units = sample();
    for text in ["0.1 ft", "7 lbf·ft", "98.6 °F", "41.7 °C", "0.3 US gal"] {
        let read = quantity(&units, text);
        let written = read.written.clone().unwrap();
        assert_eq!(units.convert(&read, &written.unit), Ok(written.value), "{text}");
    }
    assert_eq!(units.convert(&quantity(&units, "32 °F"), "°C"), Ok(0.0));
    assert_eq!(units.convert(&quantity(&units, "95 °F"), "degC"), Ok(35.0));
    assert_eq!(units.convert(&quantity(&units, "1 °C"), "L").unwrap_err().code, Code::DimensionClash);
    assert_eq!(units.convert(&quantity(&units, "1 °C"), "zork").unwrap_err().code, Code::UnknownUnit);
    assert!(units.convert(&quantity(&units, "1 J"), "N·m").is_err());
}

#[test]
fn a_faulty_definition_is_reported_and_left_out() {
    for (from, to, says) in [
        ("dimension: length,", "dimension: lenght,", "`lenght` where one of length"),
        ("m: { factor: 1, script: m }", "m: { factor: 0, script: m }", "a factor must be above 0"),
        ("m: { factor: 1, script: m }", "m: { factor: 1 +, script: m }", "factor: `+` can't follow here"),
        ("m: { factor: 1, script: m }", "m: { factor: 1, shift: 2, script: m }", "can have a `shift`"),
        ("m: { factor: 1, script: m }", "m: { factor: 1, script: in }", "`in` can't be used in scripts"),
        ("m: { factor: 1, script: m }", "m: { factor: 1, script: ft }", "`ft` already names a unit of `length`"),
        ("mm: { factor: 0.001 }", "mm: { factor: 0.001, also: [m] }", "`m` would mean both `m` and `mm`"),
        ("shown: { metric: m,", "shown: { metric: mmm,", "`mmm` is not one of its units; did you mean `mm`?"),
        ("distinct_from: [work]", "distinct_from: [wokr]", "there is no quantity `wokr`; did you mean `work`?"),
        ("difference: warming", "difference: temperature", "it can't stand for itself"),
        ("gal: [US gal, imp gal]", "gal: [US gal, imp gall]", "ambiguous `gal`: `imp gall` is not one of its units"),
    ] {
        let text = SAMPLE.replacen(from, to, 1);
        assert_ne!(text, SAMPLE, "{from}");
        let (units, problems) = from_text(&text);
        let found: Vec<String> =
            problems.iter().map(|p| format!("{}; {}", p.message, p.help.as_deref().unwrap_or(""))).collect();
        assert!(found.iter().any(|message| message.contains(says)), "{to}: {found:?}");
        assert!(units.read("5 L", Some("volume"), None).is_ok(), "{to}: the rest stays usable");
    }
    let source = Source::new("bad.yaml", "units: a\nquantities:\n  x: { dimension: length, unitz: {} }\n");
    let problems = UnitsFile::read(&source).unwrap_err();
    assert!(problems.iter().any(|problem| problem.place.line() == 3), "{problems:?}");
}

#[test]
fn a_later_plugin_adds_units_and_replaces_only_when_it_says_so() {
    let mut units = sample();
    let mut add = |text: &str| {
        let source = Source::new("more.yaml", text);
        let problems = units.extend(&[(UnitsFile::read(&source).unwrap(), Place::whole(&source))]);
        (units.clone(), problems)
    };
    let (more, problems) = add(
        "units: more\nquantities: { length: { dimension: length, units: { furlong: { factor: 0.3048 * 660 } } } }\n",
    );
    assert!(problems.is_empty(), "{problems:?}");
    assert_eq!(more.convert(&quantity(&more, "1 furlong"), "ft"), Ok(660.0));
    let (_, problems) =
        add("units: more\nquantities: { length: { dimension: length, units: { m: { factor: 2 } } } }\n");
    assert_eq!(problems[0].code, Code::DefinedTwice);
    let (more, problems) = add(
        "units: more\noverride: true\nquantities: { length: { dimension: length, units: { m: { factor: 2 } } } }\n",
    );
    assert!(problems.is_empty(), "{problems:?}");
    assert_eq!(quantity(&more, "1 m").si, 2.0);
    let (_, problems) = add("units: more\nquantities: { length: { dimension: mass, units: { x: { factor: 2 } } } }\n");
    assert!(problems[0].message.contains("known with m"), "{problems:?}");
}

#[test]
fn another_unit_goes_by_the_scale_of_an_instrument_that_reaches_it() {
    let units = sample();
    let step = quantity(&units, "0.5 ft");
    let reach = |ends: &str| match units.read_range(ends, None, None) {
        Ok(Value::Range(low, high)) => Some((low.si, high.si)),
        other => panic!("{other:?}"),
    };
    let style = |ends: &str| Style {
        system: System::Both,
        graduations: vec![Graduation { step: step.clone(), range: reach(ends) }],
        ..Style::default()
    };
    let length = quantity(&units, "5.83 m");
    let plain = units.show(&length, &Style { system: System::Both, ..Style::default() });
    assert!(plain.contains("19.13 ft"), "{plain}");
    let scaled = units.show(&length, &style("1..40 ft"));
    assert!(scaled.contains("19.0 ft"), "{scaled}");
    assert_eq!(units.show(&length, &style("1..4 ft")), plain, "out of its reach");
    let short = quantity(&units, "0.2 m");
    let unscaled = units.show(&short, &Style { system: System::Both, ..Style::default() });
    assert_eq!(units.show(&short, &style("0..40 ft")), unscaled, "too coarse for it");
}
