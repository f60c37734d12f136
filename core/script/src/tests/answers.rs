//! Where the language would answer wrongly without a word, one by one.

use super::*;

#[test]
fn unlike_things_are_not_compared() {
    for text in [
        "\"12\" < 5",
        "\"12\" == 5",
        "\"12\" != 5",
        "() <= 5.0",
        "() == 0",
        "true < 2",
        "true == 1",
        "[1] == 1",
        "#{} == []",
        "30.degC > 20",
        "30.degC == 30.L",
        "1.N_m == 1.J",
        "30.degC > 5.degC_diff",
        "\"a\" < \"b\"",
        "5 in [\"5\"]",
        "(|x| x) == 1",
        "range(1, 2) == 1",
        "date(\"2026-01-01\") == \"2026-01-01\"",
    ] {
        fails(text, Code::DimensionClash);
    }
    assert_eq!(fails("\"12\" < 5", Code::DimensionClash), "can't compare the text \"12\" with the number 5");
}

#[test]
fn nothing_is_infinite_or_no_number() {
    for text in [
        "1.0 / 0.0 > 1.0",
        "1 / 0",
        "0.0 / 0.0",
        "1e308 * 10.0",
        "exp(1000)",
        "sqrt(-1)",
        "(-8) ** 0.5 > 0",
        "1 % 0",
        "1.L / 0.L",
        "1.L / 0",
    ] {
        // `(-8)` is a literal minus eight before a power, which is refused earlier.
        let code = if text.contains("**") { Code::FaultyScript } else { Code::NonFiniteResult };
        fails(text, code);
    }
    fails("1e999 > 1", Code::NonFiniteResult);
    fails("pow(-8, 0.5)", Code::NonFiniteResult);
    fails("1e300.m * 1e300.m", Code::NonFiniteResult);
}

#[test]
fn a_misspelt_property_is_an_error() {
    let spec = Value::Record([("temperature".to_string(), quantity(130.0, "degC"))].into_iter().collect());
    let names = Known::default().with("m", [spec.clone()]).with("list", [Value::List(vec![spec])]);
    match evaluate_with(&names, "!(m.temprature > 120.degC)") {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, Code::UnknownName);
            assert_eq!(diagnostic.message, "`m` has nothing called `temprature`");
            assert_eq!(diagnostic.help.as_deref(), Some("did you mean `temperature`?"));
            assert_eq!(diagnostic.place.text(), "m.temprature");
        }
        other => panic!("{other:?}"),
    }
    // Not readable from the text, so found while it runs.
    match evaluate_with(&names, "list[0].temprature > 120.degC") {
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.message, "the record has nothing called `temprature`"),
        other => panic!("{other:?}"),
    }
    match evaluate_with(&names, "m[\"temprature\"] > 120.degC") {
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.message, "the record has nothing called `temprature`"),
        other => panic!("{other:?}"),
    }
    fails("#{ a: 1 }.b == 1", Code::UnknownName);
    fails("30.degCC > 20.degC", Code::UnknownName);
    fails("\"M6\".length", Code::UnknownName);
    fails("[1].length", Code::UnknownName);
    fails("true.length", Code::UnknownName);
}

#[test]
fn comparison_is_the_one_used_everywhere() {
    assert_eq!(shown("0.0 >= 1e-17"), "no");
    assert_eq!(shown("0.1 + 0.2 == 0.3"), "yes");
    assert_eq!(shown("0.1 + 0.2 > 0.3"), "no");
    assert_eq!(shown("0.1 + 0.2 <= 0.3"), "yes");
    assert_eq!(shown("1.0 == 1.0 + 1e-9"), "no");
    assert_eq!(shown("95.degF == 35.degC"), "yes");
    assert_eq!(shown("95.degF <= 35.degC"), "yes");
    assert_eq!(shown("95.degF > 35.degC"), "no");
    assert_eq!(shown("2 == 2.0"), "yes");
    assert_eq!(shown("[1, 2.0] == [1.0, 2]"), "yes");
    assert_eq!(shown("[30.degC] == [86.degF]"), "yes");
    assert_eq!(shown("7.lbf_ft == 7 * 1.lbf_ft"), "yes");
    assert_eq!(shown("1000.mL != 1.L"), "no");
}

#[test]
fn whole_numbers_are_numbers() {
    assert_eq!(shown("7 / 2"), "3.5");
    assert_eq!(shown("7 / 2 == 3.5"), "yes");
    assert_eq!(shown("2 ** -1"), "0.5");
    assert_eq!(shown("sqrt(2) == sqrt(2.0)"), "yes");
    assert_eq!(shown("2 ** 70 == 2.0 ** 70.0"), "yes");
    assert_eq!(shown("9007199254740993 - 9007199254740992 + 0.0 == 1"), "yes");
    assert_eq!(shown("4611686018427387904 * 4 == 2.0 ** 64"), "yes");
    fails("-2 ** 2", Code::FaultyScript);
    fails("-2.0 ** 2", Code::FaultyScript);
    let names = Known::default().with("x", [Value::Number(2.0)]);
    assert!(matches!(evaluate_with(&names, "-x ** 2"), Err(Fault::Failed(_))));
    assert_eq!(shown("-(2 ** 2)"), "-4");
    assert_eq!(shown("-5.degC < 0.degC"), "yes");
    // A count that came in as a number is no list of bits.
    match evaluate_with(&names, "x[0]") {
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::DimensionClash),
        other => panic!("{other:?}"),
    }
}

#[test]
fn points_of_temperature_are_not_differences() {
    assert_eq!(shown("(30.degC - 20.degC) == 10.degC_diff"), "yes");
    assert_eq!(shown("20.degC + 18.degF_diff == 30.degC"), "yes");
    fails("30.degC + 20.degC", Code::DimensionClash);
    fails("2 * 30.degC", Code::DimensionClash);
    fails("-(30.degC)", Code::DimensionClash);
    fails("1.L + 1", Code::DimensionClash);
    fails("1.N_m + 1.J", Code::DimensionClash);
    assert_eq!(shown("(1.L / 500.mL) == 2"), "yes");
    assert_eq!(shown("exp(1.L / 1.L) == exp(1)"), "yes");
}

#[test]
fn unknown_names_are_errors_or_not_shown_never_false() {
    match evaluate("tempp > 30.degC") {
        Err(Fault::NotShown(names)) => assert_eq!(names, ["tempp"]),
        other => panic!("{other:?}"),
    }
    assert_eq!(fails("sqr(4)", Code::UnknownName), "there is no function `sqr`");
    assert_eq!(fails("sqrt(4, 2)", Code::UnknownName), "`sqrt` takes 1 value, here it gets 2");
    assert_eq!(fails("nowhere::f(1)", Code::UnknownName), "there is no script `nowhere`");
    assert_eq!(fails("if true { 1 } else { sqr(4) }", Code::UnknownName), "there is no function `sqr`");
    assert_eq!(fails("[1].map(|x| sqr(x))", Code::UnknownName), "there is no function `sqr`");
    assert_eq!(fails("if 1 > 2 { 3 }", Code::FaultyScript), "the result has no value");
}

#[test]
fn an_absent_value_makes_everything_not_shown() {
    let spec = Value::Record(
        [("free_area".to_string(), Value::Unknown), ("low".to_string(), quantity(30.0, "degC"))].into_iter().collect(),
    );
    let names = Known::default()
        .with("spec", [spec])
        .with("odd", [Value::Unknown])
        .with("some", [Value::Number(1.0), Value::Unknown, Value::Number(3.0)])
        .with("list", [Value::List(vec![Value::Number(1.0), Value::Unknown])]);
    let missing = |text: &str| match evaluate_with(&names, text) {
        Err(Fault::NotShown(missing)) => missing,
        other => panic!("{text} gives {other:?}"),
    };
    // Looked up first, so that nothing short-circuits around it.
    assert_eq!(missing("true || spec.free_area > 1.mm2"), ["spec.free_area"]);
    assert_eq!(missing("if true { 1 } else { odd }"), ["odd"]);
    assert_eq!(missing("absent_a && absent_b"), ["absent_a", "absent_b"]);
    assert_eq!(missing("all(some).len() > 1"), ["all(some)"]);
    // Not readable from the text: touched while it runs.
    assert_eq!(missing("list[1] > 0"), ["list[1]"]);
    assert_eq!(missing("list[1] == 0 || true"), ["list[1]"]);
    assert_eq!(missing("sum(list) > 0"), ["list[1]"]);
    assert_eq!(missing("list.map(|x| x + 1).len() > 0"), ["list[1]"]);
    assert_eq!(missing("sqrt(list[1]) > 0"), ["list[1]"]);
    assert_eq!(missing("5 in list"), ["list[1]"]);
    assert_eq!(missing("list == [1, 2]"), ["list[1]"]);
    assert_eq!(missing("`${list[1]}` == \"x\""), ["list[1]"]);
    assert_eq!(missing("`value ${list[1]}`"), ["list[1]"]);
    assert_eq!(missing("list[1].low > 0"), ["list[1]"]);
    assert_eq!(missing("!list[1]"), ["list[1]"]);
    assert_eq!(missing("-list[1] > 0"), ["list[1]"]);
    assert_eq!(missing("list[1]").len(), 1);
    assert!(!missing("if list[1] { 1 } else { 2 }").is_empty());
    assert!(!missing("list[1] && true").is_empty());
    assert!(!missing("list[1][0] > 0").is_empty());
    // Carrying it about is no touch.
    assert_eq!(evaluate_with(&names, "list.len()").ok(), Some(Value::Number(2.0)));
    assert!(matches!(evaluate_with(&names, "spec"), Ok(Value::Record(_))));
    assert_eq!(evaluate_with(&names, "spec.low > 20.degC").ok(), Some(Value::Truth(true)));
}

#[test]
fn all_speaks_of_a_name() {
    let names =
        Known::default().with("poured", [quantity(1.5, "L"), quantity(2.0, "L")]).with("round", [Value::Number(2.0)]);
    let value = |text: &str| evaluate_with(&names, text);
    assert_eq!(value("sum(all(poured)) == 3.5.L").ok(), Some(Value::Truth(true)));
    assert_eq!(value("all( poured ).len() == round(2.2) && round == 2").ok(), Some(Value::Truth(true)));
    assert_eq!(value("all(\"poured\").len()").ok(), Some(Value::Number(2.0)));
    assert_eq!(value("all(never).len()").ok(), Some(Value::Number(0.0)));
    assert!(matches!(value("all(never).every(|x| x > 1)"), Err(Fault::Failed(_))));
    assert!(matches!(value("all(poured.volume)"), Err(Fault::Failed(_))));
    assert!(matches!(value("all()"), Err(Fault::Failed(_))));
    assert!(matches!(value("[1].all(|x| x > 1)"), Err(Fault::Failed(_))));
    let scripts = scripts();
    // A text that ends right after `all(` must not leave a trace in the next.
    let _ = scripts.compile(&Script::new("<a>", "all("));
    let next = scripts.compile(&Script::new("<b>", "poured > 1.L")).expect("sound");
    assert_eq!(next.names()[0].path, ["poured"]);
    let names: Vec<String> = scripts
        .compile(&Script::new(
            "<c>",
            "sum(all(poured), 0.L) + spec.capacity.service.low > job.a[0].b && spec.x.value(\"L\") > y",
        ))
        .expect("sound")
        .names()
        .iter()
        .map(Name::written)
        .collect();
    assert_eq!(names, ["all(poured)", "spec.capacity.service.low", "job.a", "spec.x", "y"]);
}

#[test]
fn closures_mention_what_they_take_along() {
    let names = Known::default()
        .with("limit", [Value::Record([("low".to_string(), Value::Unknown)].into_iter().collect())])
        .with("list", [Value::List(vec![Value::Number(1.0)])]);
    match evaluate_with(&names, "list.some(|x| x > limit.low)") {
        Err(Fault::NotShown(missing)) => assert_eq!(missing, ["limit.low"]),
        other => panic!("{other:?}"),
    }
    let names = names.with("limit", [Value::Number(0.5)]);
    assert_eq!(evaluate_with(&names, "list.every(|x| x > limit)").ok(), Some(Value::Truth(true)));
    assert_eq!(evaluate_with(&names, "list.map(|x| [x, limit]) == [[1, 0.5]]").ok(), Some(Value::Truth(true)));
    // The same record before and inside, and a name that the function takes for its own.
    let spec = Value::Record(
        [("list".to_string(), Value::List(vec![Value::Number(1.0)])), ("y".to_string(), Value::Number(2.0))]
            .into_iter()
            .collect(),
    );
    let names = names.with("spec", [spec]);
    assert_eq!(evaluate_with(&names, "spec.list.map(|x| x + spec.y) == [3]").ok(), Some(Value::Truth(true)));
    assert_eq!(
        evaluate_with(&names, "limit == 0.5 && list.map(|limit| limit + 1) == [2]").ok(),
        Some(Value::Truth(true))
    );
}

#[test]
fn what_scripts_may_not_do_is_refused_with_a_reason() {
    for text in [
        "eval(\"1\")",
        "print(1)",
        "debug(1)",
        "type_of(1) == \"i64\"",
        "is_def_var(\"x\")",
        "Fn(\"sqrt\")",
        "x ?? 1",
        "x?.y",
        "switch 5 { 5 => 1, _ => 2 }",
        "1 & 2",
        "1 | 2",
        "5 ^ 2",
        "1 << 2",
        "this > 1",
        "sqrt!(2)",
        "try { 1 } catch { 2 }",
    ] {
        fails(text, Code::ForbiddenInScript);
    }
    assert_eq!(fails("thread > 1", Code::ReservedName), "`thread` is a reserved word of the script language");
    fails("timestamp()", Code::UnknownName);
    fails("sleep(1)", Code::UnknownName);
    fails("let x = 1; x", Code::FaultyExpression);
    fails("x = 1", Code::FaultyExpression);
    fails("1 2", Code::FaultyExpression);
    fails("", Code::FaultyExpression);
    fails("(1", Code::FaultyExpression);
    fails("\"a", Code::FaultyExpression);
    for name in ["thread", "in", "if", "eval", "this", "Water", "a-b", "", "1a", "is", "new", "fn", "true"] {
        assert!(!usable_name(name), "{name}");
    }
    for name in ["water_temperature", "round", "all", "min", "kv40", "a"] {
        assert!(usable_name(name), "{name}");
    }
    // Words that the language has or keeps for later, and some that it does not: usable is what compiles as a name.
    let words = "true false let const if else switch do while until loop for in continue break return throw fn private import \
        export as is async await call case curry debug default eval exit final global go goto match module new null nil \
        package print protected public shared spawn static super sync thread try catch this type_of use var void with yield \
        unless finally \
        is_shared is_def_fn is_def_var range spec job event log window gap";
    let plain = rhai::Engine::new_raw();
    for word in words.split_whitespace() {
        let compiles = plain.compile_expression(format!("{word} + r.{word}")).is_ok();
        assert_eq!(usable_name(word), compiles, "{word}");
    }
}
