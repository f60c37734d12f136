//! The embedded units against values from outside, and how they are read and shown.

use standpipe_diagnostic::Code;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Purpose, Quantity, Side, Style, System, Units, convert, convert_to_all};

fn read(text: &str, asked: &str) -> Quantity {
    match Units::standard().read(text, Some(asked), None).unwrap_or_else(|fault| panic!("{text}: {fault}")) {
        Value::Quantity(quantity) => quantity,
        Value::Number(number) => Quantity::number(number),
        other => panic!("{text}: {other:?}"),
    }
}

fn number(text: &str, to: &str) -> f64 {
    convert(&Units::standard(), text, to).unwrap_or_else(|fault| panic!("{text} -> {to}: {}", fault.fault)).value
}

#[track_caller]
fn assert_close(found: f64, expected: f64, tolerance: f64, what: &str) {
    let error = (found - expected).abs() / expected.abs().max(f64::MIN_POSITIVE);
    assert!(error <= tolerance, "{what}: {found} instead of {expected}, off by {error:.1e}");
}

#[test]
fn the_embedded_units_have_no_fault() {
    assert!(Units::standard_problems().is_empty(), "{:#?}", Units::standard_problems());
    let wanted = "length distance area volume mass time temperature temperature-difference pressure force torque angle \
                  rotational-speed density kinematic-viscosity dynamic-viscosity flow power energy speed ratio count \
                  money money-rate temperature-rate";
    for quantity in wanted.split_whitespace() {
        assert!(Units::standard().family(quantity).is_some(), "{quantity}");
    }
}

/// Every row of tests/reference/unit_conversions.csv (sources in SOURCES.md beside it).
#[test]
fn every_reference_conversion_holds() {
    let text = include_str!("../reference/unit_conversions.csv");
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let mut count = 0;
    for row in rows.records() {
        let row = row.unwrap();
        let (from, to, dimension) = (&row[0], &row[1], &row[6]);
        let (factor, offset): (f64, f64) = (row[2].parse().unwrap(), row[3].parse().unwrap());
        let quantity = match dimension {
            "tdiff" => "temperature-difference",
            "temperature_absolute" => "temperature",
            "kinvisc" => "kinematic-viscosity",
            "dynvisc" => "dynamic-viscosity",
            "rotational_speed" => "rotational-speed",
            other => other,
        };
        // The conventional inch of mercury stands in the table with seven figures, 1.1e-7 away from its definition.
        let tolerance = if [from, to].contains(&"inHg_conv") { 1.1e-7 } else { 1e-12 };
        for value in [1.0, 38.6, 273.15, 1234.5] {
            let text = format!("{value} {from}");
            let converted = convert(&Units::standard(), &text, to)
                .unwrap_or_else(|fault| panic!("{text} -> {to}: {}", fault.fault));
            let expected = value * factor + offset;
            if offset == 0.0 {
                assert_close(converted.value, expected, tolerance, &format!("{text} -> {to}"));
            } else {
                // Near the zero of a scale only the distance from absolute zero can be exact.
                let error = (converted.value - expected).abs();
                assert!(error <= 1e-12 * (expected.abs() + 459.67), "{text} -> {to}: {}", converted.value);
            }
            let asked = match Units::standard().read(&text, Some(quantity), None) {
                Ok(Value::Quantity(quantity)) => quantity,
                other => panic!("{text}: {other:?}"),
            };
            let again = Units::standard().convert(&asked, to).unwrap();
            assert_close(again, converted.value, 1e-12, &format!("{text} as {quantity} -> {to}"));
            count += 1;
        }
    }
    assert_eq!(count, 4 * 90);
}

/// Every unit through SI and back, and every spelling of it through the reader.
#[test]
fn every_spelling_of_every_unit_is_read_and_comes_back() {
    let units = Units::standard();
    for family in units.families() {
        for unit in family.units.values() {
            let spellings = [&*unit.symbol].into_iter().chain(unit.script.as_deref());
            for spelling in spellings.chain(unit.also.iter().map(String::as_str)) {
                let text = format!("300 {spelling}");
                let value = units.read(&text, Some(&family.name), None).unwrap_or_else(|f| panic!("{text}: {f}"));
                if let Value::Quantity(quantity) = value {
                    let unwritten = Quantity { written: None, ..quantity.clone() };
                    let back = units.convert(&unwritten, &unit.symbol).unwrap();
                    assert_close(back, 300.0, 1e-13, &text);
                    assert_eq!(quantity.of.as_deref(), Some(&*family.name), "{text}");
                }
            }
            if let Some(script) = &unit.script {
                let made = units.quantity(300.0, script).unwrap_or_else(|f| panic!("{script}: {f}"));
                assert_close(made.si, unit.to_si(300.0), 0.0, script);
                assert_eq!(made.of.as_deref(), Some(&*family.name), "{script} means its own family");
            }
        }
    }
}

/// What is shown can be typed in again.
#[test]
fn what_is_shown_is_read_back() {
    let units = Units::standard();
    for family in units.families().filter(|family| !family.whole) {
        for unit in family.units.values() {
            let before = read(&format!("412.5 {}", unit.symbol), &family.name);
            let shown = units.show_in(&before, &unit.symbol, &Style::default()).unwrap();
            assert_eq!(read(&shown, &family.name), before, "{shown}");
        }
    }
}

#[test]
fn script_names_are_the_ones_people_expect() {
    let units = Units::standard();
    let names: Vec<&str> = units.script_units().map(|(name, ..)| name).collect();
    let wanted = "degC degF K degC_diff degF_diff K_diff lbf_ft lbf_in N_m kgf_m mm2_s cSt kg_m3 g_mL L mL US_qt US_gal \
                  imp_gal in3 cm3 mm inch m km mile s min h rpm deg rad percent bar kPa psi N kN W kW J L_min kg g lb";
    for name in wanted.split_whitespace() {
        assert!(names.contains(&name), "{name}");
    }
}

#[test]
fn text_as_people_write_it() {
    for (text, quantity, unit, value) in [
        ("7 lbf·ft", "torque", "N·m", 9.490_725_638_319_803),
        ("7 lbf*ft", "torque", "N·m", 9.490_725_638_319_803),
        ("7 ft-lb", "torque", "N·m", 9.490_725_638_319_803),
        ("7 ft-lbs", "torque", "N·m", 9.490_725_638_319_803),
        ("7 ft·lbf", "torque", "N·m", 9.490_725_638_319_803),
        ("84 in-lb", "torque", "N·m", 9.490_725_638_319_803),
        ("9.5 Nm", "torque", "N·m", 9.5),
        ("5.5 L", "volume", "mL", 5500.0),
        ("5,5 l", "volume", "mL", 5500.0),
        ("5500 cc", "volume", "L", 5.5),
        ("6 US_qt", "volume", "L", 5.678_117_676),
        ("38 °C", "temperature", "°C", 38.0),
        ("38 ºC", "temperature", "°C", 38.0),
        ("41,5 °C", "temperature", "°C", 41.5),
        ("100.4°F", "temperature", "°C", 38.0),
        ("−40 degC", "temperature", "°F", -40.0),
        ("5 °C", "temperature-difference", "Δ°F", 9.0),
        ("28.2 mm2/s", "kinematic-viscosity", "cSt", 28.2),
        ("845 kg/m^3", "density", "g/mL", 0.845),
        ("0.845 g/cm³", "density", "kg/m³", 845.0),
        ("6 %", "ratio", "1", 0.06),
        ("0.3°", "angle", "°", 0.3),
        ("750 rpm", "rotational-speed", "rev/s", 12.5),
        ("3 oz", "mass", "g", 85.048_569_375),
        ("30 000 miles", "distance", "km", 48_280.32),
        ("60 mph", "speed", "km/h", 96.560_64),
        ("80 ¤/h", "money-rate", "¤/h", 80.0),
        ("2 °C/min", "temperature-rate", "°F/min", 3.6),
    ] {
        let quantity = read(text, quantity);
        let found = Units::standard().convert(&quantity, unit).unwrap_or_else(|fault| panic!("{text}: {fault}"));
        assert_close(found, value, 1e-12, text);
    }
}

#[test]
fn what_is_ambiguous_is_refused_with_its_choices() {
    for (text, choices) in [
        ("5 gal", vec!["US gal", "imp gal"]),
        ("5 qt", vec!["US qt", "imp qt"]),
        ("5 pt", vec!["US pt", "imp pt"]),
        ("5 oz", vec!["US fl oz", "imp fl oz", "oz_av"]),
        ("1,234", vec!["1234", "1.234"]),
        ("1,234 L", vec!["1234", "1.234"]),
        ("88.000 km", vec!["88000", "88.0"]),
        ("1.250 rpm", vec!["1250", "1.25"]),
        ("112.345 miles", vec!["112345", "112.3450"]),
        ("5 gpm", vec!["US gal/min", "imp gal/min"]),
        ("150 hp", vec!["hp (mech)", "PS"]),
        ("5 mil", vec!["thou", "mm"]),
        ("5 '", vec!["ft", "arcmin"]),
        ("2 tons", vec!["t", "US ton", "imp ton"]),
    ] {
        let fault = Units::standard().read(text, None, None).expect_err(text);
        assert_eq!(
            (fault.code, &fault.choices),
            (Code::AmbiguousQuantity, &choices.iter().map(|c| c.to_string()).collect()),
            "{text}"
        );
        // Each choice, written as proposed, is accepted.
        for choice in choices {
            let instead = match fault.range.start {
                0 => text.replacen(text.split(' ').next().unwrap(), choice, 1),
                at => format!("{}{choice}", &text[..at]),
            };
            let read = Units::standard().read(&instead, None, None);
            assert!(read.is_ok(), "{instead}: {read:?}");
        }
    }
    let bare = Units::standard().read("5", Some("volume"), Some("qt")).unwrap_err();
    assert_eq!(bare.code, Code::AmbiguousQuantity);
}

#[test]
fn torque_and_energy_are_different_things() {
    let units = Units::standard();
    let (torque, energy) = (read("7 N·m", "torque"), read("7 J", "energy"));
    assert_eq!(torque.dimension, energy.dimension);
    assert!(units.compare(&torque, &energy).is_err() && units.add(&torque, &energy).is_err());
    assert_eq!(units.read("7 J", Some("torque"), None).unwrap_err().code, Code::WrongQuantity);
    assert!(units.convert(&torque, "J").is_err());
    // An angle times a torque is work again, and nobody has to say so.
    let turned = units.mul(&torque, &read("1 rad", "angle")).unwrap();
    assert!(units.compare(&turned, &energy).unwrap().is_eq());
}

#[test]
fn temperatures_are_points() {
    let units = Units::standard();
    assert!(units.compare(&read("95 degF", "temperature"), &read("35 degC", "temperature")).unwrap().is_eq());
    let gap = units.sub(&read("45 °C", "temperature"), &read("95 °F", "temperature")).unwrap();
    assert_eq!(units.show(&gap, &Style::new(System::Both, Purpose::Computed { digits: 3 })), "10.0 Δ°C (18.0 Δ°F)");
    // published: 1 degF of difference is 5/9 K (NIST SP 811, see SOURCES.md)
    assert_close(number("1 degF_diff", "K_diff"), 5.0 / 9.0, 1e-15, "1 degF_diff");
    let rate = units.div(&gap, &read("5 min", "time")).unwrap();
    assert_eq!(units.show(&rate, &Style::new(System::Metric, Purpose::Computed { digits: 2 })), "2.0 °C/min");
    assert!(units.read("-460 °F", None, None).is_err());
    assert!(units.read("-459.67 °F", None, None).is_ok() && units.read("-273.15 °C", None, None).is_ok());
}

/// NIST SP 811 B.7.2. 36 ft = 11.0 m: published, seen in a stored copy; 8 ft = 2.4 m: published, on a secondary page;
/// the others by the same rule.
#[test]
fn a_reading_keeps_its_precision_when_it_is_converted() {
    let units = Units::standard();
    for (text, quantity, unit, shown) in [
        ("36 ft", "length", "m", "11.0 m"),
        ("8 ft", "length", "m", "2.4 m"),
        ("5.5 L", "volume", "US qt", "5.8 US qt"),
        ("5.50 L", "volume", "US qt", "5.81 US qt"),
        ("7.0 lbf·ft", "torque", "N·m", "9.5 N·m"),
        ("9.5 N·m", "torque", "lbf·ft", "7.01 lbf·ft"),
        ("60000 mile", "distance", "km", "96561 km"),
        ("0 L", "volume", "US qt", "0 US qt"),
        ("-0.0 °C", "temperature", "°C", "0.0 °C"),
        ("38 °C", "temperature", "°F", "100 °F"),
        ("38.6 °C", "temperature", "°F", "101.5 °F"),
        ("96 °F", "temperature", "°C", "35.6 °C"),
        ("31.98 °F", "temperature", "°C", "-0.011 °C"),
        ("-17.8 °C", "temperature", "°F", "0.0 °F"),
        ("6 %", "ratio", "%", "6 %"),
        ("0.05", "ratio", "%", "5 %"),
        ("0.3 deg", "angle", "°", "0.3°"),
        ("1e-3 L", "volume", "L", "0.001 L"),
    ] {
        let found = units.show_in(&read(text, quantity), unit, &Style::default());
        assert_eq!(found.as_deref(), Some(shown), "{text}");
    }
}

#[test]
fn a_setting_goes_to_the_resolution_of_its_instrument() {
    let units = Units::standard();
    let setting = |resolution: &str| Purpose::Setting { resolution: Some(read(resolution, "torque")) };
    for (text, resolution, shown) in [
        ("7 lbf·ft", "0.1 N·m", "9.5 N·m (7.0 lbf·ft)"),
        ("9.5 N·m", "0.1 N·m", "9.5 N·m (7.0 lbf·ft)"),
        ("7 lbf·ft", "0.5 N·m", "9.5 N·m (7 lbf·ft)"),
        ("7 lbf·ft", "0.25 N·m", "9.50 N·m (7.0 lbf·ft)"),
        ("12 lbf·ft", "1 N·m", "16 N·m (12 lbf·ft)"),
        ("12 lbf·ft", "0.1 N·m", "16.3 N·m (12.0 lbf·ft)"),
        ("12 lbf·ft", "0.2 lbf·ft", "16.3 N·m (12.0 lbf·ft)"),
    ] {
        let found = units.show(&read(text, "torque"), &Style::new(System::Both, setting(resolution)));
        assert_eq!(found, shown, "{text} at {resolution}");
    }
}

#[test]
fn a_shown_range_is_never_wider_than_the_range() {
    let units = Units::standard();
    let range = |text: &str, asked: &str, style: &Style| {
        let value = units.read_range(text, Some(asked), None).unwrap_or_else(|fault| panic!("{text}: {fault}"));
        units.show_value(&value, style)
    };
    let both = Style::new(System::Both, Purpose::Reading);
    assert_eq!(range("51..58 degC", "temperature", &both), "51..58 °C (123.8..136.4 °F)");
    assert_eq!(range("35..45 degC", "temperature", &both), "35..45 °C (95..113 °F)");
    assert_eq!(range("35.0..45.0 degC", "temperature", &both), "35.0..45.0 °C (95..113 °F)");
    let whole = Purpose::Setting { resolution: Some(read("1 degF_diff", "temperature-difference")) };
    assert_eq!(range("51..58 degC", "temperature", &Style::new(System::Inch, whole)), "124..136 °F");
    assert_eq!(range("5..6 L", "volume", &both), "5..6 L (5.3..6.3 US qt)");
    assert_eq!(range("50000..90000 km", "distance", &both), "50000..90000 km (31069..55923 mile)");
    assert_eq!(range("800..900 kg/m3", "density", &both), "800..900 kg/m³ (6.677..7.510 lb/US gal)");
}

#[test]
fn computed_values_get_sensible_digits() {
    let units = Units::standard();
    let computed = |text: &str, quantity: &str, system| {
        let value = Quantity { written: None, ..read(text, quantity) };
        units.show(&value, &Style::new(system, Purpose::Computed { digits: 3 }))
    };
    assert_eq!(computed("5.123456 L", "volume", System::Metric), "5.12 L");
    assert_eq!(computed("5.123456 L", "volume", System::Both), "5.12 L (5.41 US qt)");
    assert_eq!(computed("96560.64 km", "distance", System::Metric), "96561 km");
    assert_eq!(computed("38.5678 °C", "temperature", System::Metric), "38.6 °C");
    assert_eq!(computed("-0.01 °C", "temperature", System::Metric), "0.0 °C");
    assert_eq!(computed("12.3450 ¤", "money", System::Metric), "12.35 ¤");
    assert_eq!(computed("0.25 deg", "angle", System::Metric), "0.250°");
    let range = |low: &str, high: &str| {
        let end = |text| Quantity { written: None, ..read(text, "volume") };
        let style = Style::new(System::Metric, Purpose::Computed { digits: 3 });
        units.show_range(&end(low), &end(high), &style)
    };
    assert_eq!(range("0.3 L", "1.6 L"), "0.30..1.60 L", "one number of decimals");
    assert_eq!(range("0.0041 L", "12.3 L"), "0.00410..12.3 L", "but the small end keeps two digits");
    assert_eq!(range("0 L", "25.3 L"), "0..25.3 L");
    let money = Style { currency: Some("EUR".into()), ..Style::new(System::Metric, Purpose::Computed { digits: 3 }) };
    assert_eq!(units.show(&read("80 ¤/h", "money-rate"), &money), "80.00 EUR/h");
}

#[test]
fn a_shop_may_choose_its_own_units() {
    let units = Units::standard();
    let mut style = Style::new(System::Metric, Purpose::Reading);
    style.overrides.insert("torque".into(), vec!["lbf_in".into(), "Nm".into()]);
    assert_eq!(units.show(&read("84 lbf·in", "torque"), &style), "84 lbf·in (9.5 N·m)");
    assert_eq!(units.show(&read("2 L", "volume"), &style), "2 L");
    assert_eq!(units.shown_units("torque", &style).iter().map(|s| &**s).collect::<Vec<_>>(), ["lbf·in", "N·m"]);
}

#[test]
fn converting_says_what_is_wrong_with_which_argument() {
    let units = Units::standard();
    for (text, to, side, code, says) in [
        ("5 gal", "L", Side::Quantity, Code::AmbiguousQuantity, "`US gal` or `imp gal`"),
        ("5 L", "gal", Side::Unit, Code::AmbiguousQuantity, "`US gal` or `imp gal`"),
        ("5 L", "oz", Side::Unit, Code::AmbiguousQuantity, "`US fl oz` or `imp fl oz`"),
        (
            "5 L",
            "N·m",
            Side::Unit,
            Code::WrongQuantity,
            "`N·m` is a unit of torque, but the quantity asked for is volume",
        ),
        ("5 L", "zork", Side::Unit, Code::UnknownUnit, "is not a unit"),
        ("5 zork", "L", Side::Quantity, Code::UnknownUnit, "is not a unit"),
        ("5", "L", Side::Quantity, Code::NotAQuantity, "write e.g. `5 L`"),
        ("L", "L", Side::Quantity, Code::NotAQuantity, "does not start with a number"),
        ("7 J", "N·m", Side::Unit, Code::WrongQuantity, "`N·m` is a unit of torque"),
    ] {
        let found = convert(&units, text, to).expect_err(text);
        assert_eq!((found.side, found.fault.code), (side, code), "{text} -> {to}: {}", found.fault);
        assert!(found.fault.to_string().contains(says), "{text} -> {to}: {}", found.fault);
    }
    // The two arguments settle what either alone leaves open.
    assert_close(number("5 oz", "g"), 141.747_615_625, 1e-12, "oz as a mass");
    assert_close(number("5 g", "oz"), 0.176_369_809_747_902, 1e-12, "g to oz");
    assert_close(number("7 ft·lbf", "N·m"), 9.490_725_638_319_803, 1e-12, "a moment");
    assert_close(number("7 ft·lbf", "J"), 9.490_725_638_319_803, 1e-12, "an energy");
    assert_close(number("9 °F", "degC_diff"), 5.0, 1e-12, "a difference");
    let converted = convert(&units, "7 lbf·ft", "Nm").unwrap();
    assert_eq!((&*converted.quantity, &*converted.unit, &*converted.shown), ("torque", "N·m", "9.49073 N·m"));
    assert_eq!(converted.rounded, "9 N·m");
    assert_eq!(convert(&units, "100 °F", "°C").unwrap().shown, "37.7778 °C");
}

#[test]
fn a_quantity_is_listed_in_all_its_units() {
    let all = convert_to_all(&Units::standard(), "5.5 L").unwrap();
    let shown: Vec<&str> = all.iter().map(|converted| &*converted.shown).collect();
    assert!(shown.starts_with(&["5.5 L", "5500 mL"]) && shown.contains(&"5.81179 US qt"), "{shown:?}");
    assert_eq!(convert_to_all(&Units::standard(), "5.5").unwrap_err().code, Code::NotAQuantity);
    assert_eq!(convert_to_all(&Units::standard(), "5 qt").unwrap_err().code, Code::AmbiguousQuantity);
}

/// Whatever is typed: a value, or a message whose place lies in the text.
#[test]
fn no_text_makes_the_reader_panic() {
    let pieces = [
        "5", "12,5", "1,234", "1 234", "0", ".", ",", "..", "…", "to", " to ", "-", "−", "–", "+", "±", "+/-", "e",
        "e9", "1e308", "°", "°C", "degF", "lbf·ft", "ft-lb", "gal", "US", "qt", "/", "^2", "²", "½", "%", "¤",
        "\u{a0}", "\u{2009}", " ", "nan", "inf", "🔧", "\0", "'", "\"", "(", "mm", "1/mm", "min-1", "x",
    ];
    let units = Units::standard();
    let families: Vec<Option<&str>> = std::iter::once(None).chain(units.families().map(|f| Some(&*f.name))).collect();
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut next = |below: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state % below as u64) as usize
    };
    let (mut read, mut refused) = (0, 0);
    for _ in 0..4_000 {
        let start = ["", "5 ", "35..45", "-40"][next(4)];
        let text: String = [start].into_iter().chain((0..1 + next(4)).map(|_| pieces[next(pieces.len())])).collect();
        let asked = if next(2) == 0 { None } else { families[next(families.len())] };
        for result in [units.read(&text, asked, None), units.read_range(&text, asked, None)] {
            match result {
                Ok(value) => {
                    read += 1;
                    assert!(!units.show_value(&value, &Style::new(System::Both, Purpose::Reading)).contains("-0 "));
                }
                Err(fault) => {
                    refused += 1;
                    assert!(text.get(fault.range.clone()).is_some(), "{text:?}: {:?}", fault.range);
                    assert!(!fault.message.is_empty());
                }
            }
        }
    }
    assert!(read > 200 && refused > 200, "{read} read, {refused} refused");
}

/// A value may be written as an expression writes it, wherever it is read.
#[test]
fn the_way_of_expressions_is_read_like_the_way_of_people() {
    for (as_expression, as_people, asked) in [
        ("2.min", "2 min", "time"),
        ("2.5.min", "2.5 min", "time"),
        ("-4.5.degC", "-4.5 degC", "temperature"),
        ("7.lbf_ft", "7 lbf·ft", "torque"),
        ("95.percent", "95 %", "ratio"),
        ("0.5.degC_diff", "0.5 degC_diff", "temperature-difference"),
    ] {
        let (a, b) = (read(as_expression, asked), read(as_people, asked));
        assert!(a == b && a.of == b.of, "{as_expression}: {a:?}, {as_people}: {b:?}");
    }
    let units = Units::standard();
    let range =
        |text: &str| units.read_range(text, Some("temperature"), None).unwrap_or_else(|fault| panic!("{fault:?}"));
    assert_eq!(range("2.5.degC..4.degC"), range("2.5..4 degC"));
    for wrong in ["2.mim", "2..min", "2.5.5.min", "2.min.min"] {
        assert!(units.read(wrong, Some("time"), None).is_err(), "{wrong}");
    }
}

#[test]
fn units_are_read_as_people_in_a_workshop_type_them_and_nothing_lies_below_absolute_zero() {
    for (text, to, expected) in [
        ("12 ft.lbs", "lbf·ft", 12.0),
        ("12 FT-LB", "lbf·ft", 12.0),
        ("12 N.m", "N·m", 12.0),
        ("2 mkg", "N·m", 19.6133),
        ("2 Liter", "L", 2.0),
        ("2 KG", "kg", 2.0),
    ] {
        let found =
            convert(&Units::standard(), text, to).unwrap_or_else(|fault| panic!("{text}: {}", fault.fault)).value;
        assert!((found - expected).abs() < 1e-9, "{text}: {found}");
    }
    for (text, to) in [("-300 °C", "K"), ("-500 degF", "degC"), ("-1 K", "°C")] {
        let fault = convert(&Units::standard(), text, to).err().unwrap_or_else(|| panic!("{text} is a temperature"));
        assert!(fault.fault.message.contains("below the lowest possible value"), "{text}: {}", fault.fault.message);
    }
    assert_eq!(convert(&Units::standard(), "-300 Δ°C", "ΔK").unwrap().value, -300.0);
}

/// Units are counted in thousands or read to a thousandth. No source but the habits of people who write odometers and scales.
#[test]
fn a_point_before_three_digits_is_a_decimal_point_but_for_what_is_counted_in_thousands() {
    let units = Units::standard();
    for (text, asked) in [
        ("88.000 km", "distance"),
        ("88.000 km", "length"),
        ("1.500 rpm", "rotational-speed"),
        ("1.200 ¤", "money"),
        ("24.000", "count"),
    ] {
        let fault = units.read(text, Some(asked), None).expect_err(text);
        assert_eq!((fault.code, fault.choices.len()), (Code::AmbiguousQuantity, 2), "{text}: {fault}");
    }
    // The unit of a bare number counts as if it were written; so do both ends of a range.
    assert!(units.read("88.000", Some("distance"), Some("km")).is_err());
    assert!(units.read_range("60.000..90.000 km", Some("distance"), None).is_err());
    for (text, asked, value) in [
        ("1.420 kg", "mass", 1.42),
        ("4.250 L", "volume", 0.00425),
        ("8.500 N·m", "torque", 8.5),
        ("0.500 km", "distance", 500.0),
        ("88.00 km", "distance", 88_000.0),
        ("88.0000 km", "distance", 88_000.0),
        ("1.234,5 km", "distance", 1_234_500.0),
        ("88000 km", "distance", 88_000_000.0),
    ] {
        assert!((read(text, asked).si - value).abs() <= 1e-12 * value, "{text}");
    }
}

#[test]
fn a_sum_of_parts_is_one_value_and_what_is_short_or_misspelt_is_told_what_to_write() {
    for (text, asked, shown, si) in [
        ("1 h 30 min", "time", "90 min", 5400.0),
        ("1 h 2 min 3.5 s", "time", "3723.5 s", 3723.5),
        ("5 ft 3 in", "length", "63 in", 63.0 * 0.0254),
        ("38 degrees C", "temperature", "38 degrees C", 311.15),
    ] {
        let value = read(text, asked);
        assert!((value.si - si).abs() < 1e-9 * si, "{text}: {}", value.si);
        assert!((value.si - read(shown, asked).si).abs() < 1e-9 * si, "{shown}");
    }
    let units = Units::standard();
    for (text, asked, says) in [
        ("60k", "distance", "`60k` can be read as 60000 or as 60; write `60000 km`"),
        ("60k km", "distance", "write `60000 km`"),
        ("5½ US qt", "volume", "write it as a decimal: `5.5`"),
        ("12 lb/ft", "torque", "write `lbf·ft`"),
        // Neither a sum nor one value.
        ("1 h 90 min", "time", ""),
        ("30 min 1 h", "time", ""),
        ("1.5 h 30 min", "time", ""),
        ("7 ft-lb 9 ft-lb", "torque", ""),
        ("20 °C 30 °C", "temperature", ""),
        ("3 L 2 min", "volume", ""),
    ] {
        let fault = units.read(text, Some(asked), None).expect_err(text);
        assert!(fault.to_string().contains(says), "{text}: {fault}");
    }
    for text in ["3 Ω", "3 Ж"] {
        let fault = units.read(text, None, None).expect_err(text);
        assert!(fault.code == Code::UnknownUnit && fault.help.is_none(), "nothing is near: {fault:?}");
    }
}

/// NIST SP 811 (2008), appendix B.8, from memory, to the seven digits it prints: 1 grad = 1.570 796 E-02 rad, 1 Btu_IT/h =
/// 2.930 711 E-01 W, 1 lbf·s/in2 (reyn) = 6.894 757 E+03 Pa·s, 1 lbf·s/ft2 = 4.788 026 E+01 Pa·s; 1 in2 = 6.4516 E-04 m2.
#[test]
fn rarer_units_are_those_of_the_guide() {
    for (text, to, printed) in [
        ("1 grad", "rad", 1.570_796e-2),
        ("1 BTU_IT/h", "W", 2.930_711e-1),
        ("1 lbf·s/in2", "Pa·s", 6.894_757e3),
        ("1 reyn", "Pa·s", 6.894_757e3),
        ("1 lbf·s/ft2", "Pa·s", 4.788_026e1),
        ("1 in2/s", "m2/s", 6.4516e-4),
    ] {
        assert_close(number(text, to), printed, 5e-7, text);
    }
}
