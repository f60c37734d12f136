//! Every function's examples, and the places where the language would answer wrongly without a word.

use std::collections::HashMap;

use super::*;
use crate::diagnostic::Code;
use crate::quantity::{Style, Units};
use crate::value::Value;
use crate::yaml::Script;

#[derive(Default)]
struct Known(HashMap<String, Vec<Value>>);

impl Known {
    fn with(mut self, name: &str, values: impl IntoIterator<Item = Value>) -> Self {
        self.0.insert(name.into(), values.into_iter().collect());
        self
    }
}

impl Names for Known {
    fn latest(&self, name: &str) -> Option<Value> {
        self.0.get(name)?.last().cloned()
    }

    fn all(&self, name: &str) -> Vec<Value> {
        self.0.get(name).cloned().unwrap_or_default()
    }
}

fn scripts() -> Scripts {
    Scripts::new(Units::standard(), Vec::new())
}

fn quantity(number: f64, unit: &str) -> Value {
    Value::Quantity(Units::standard().quantity(number, unit).expect("a unit"))
}

fn evaluate_with(names: &Known, text: &str) -> Result<Value, Fault> {
    let scripts = scripts();
    let expression = scripts
        .compile(&Script::new("<test>", text))
        .map_err(|problems| Fault::Failed(problems.into_iter().next().expect("a problem").into()))?;
    scripts.evaluate(&expression, names)
}

fn evaluate(text: &str) -> Result<Value, Fault> {
    evaluate_with(&Known::default(), text)
}

/// The result as shown, or `error: ` and the message.
fn shown(text: &str) -> String {
    match evaluate(text) {
        Ok(value) => Units::standard().show_value(&value, &Style::default()),
        Err(Fault::Failed(diagnostic)) => format!("error: {}", diagnostic.message),
        Err(Fault::NotShown(names)) => format!("not shown: {}", names.join(", ")),
    }
}

#[track_caller]
fn fails(text: &str, code: Code) -> String {
    match evaluate(text) {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, code, "{text}: {}", diagnostic.message);
            diagnostic.message
        }
        other => panic!("{text} gives {other:?}"),
    }
}

#[test]
fn every_function_does_what_its_examples_say() {
    let mut wrong = Vec::new();
    for function in documented() {
        assert!(!function.examples.is_empty(), "{} has no example", function.call);
        for (text, expected) in function.examples {
            let found = shown(text);
            let found = match found.as_str() {
                "true" => "yes".to_string(),
                _ => found,
            };
            let expected = if *expected == "true" {
                "yes"
            } else if *expected == "false" {
                "no"
            } else {
                *expected
            };
            if found != expected {
                wrong.push(format!("{text}\n  expected {expected}\n  found    {found}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

// What TECH calls silent wrong answers, one by one.

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
        fails(text, Code::S003);
    }
    assert_eq!(fails("\"12\" < 5", Code::S003), "can't compare the text \"12\" with the number 5");
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
        let code = if text.contains("**") { Code::S001 } else { Code::S006 };
        fails(text, code);
    }
    fails("1e999 > 1", Code::S006);
    fails("pow(-8, 0.5)", Code::S006);
    fails("1e300.m * 1e300.m", Code::S006);
}

#[test]
fn a_misspelt_property_is_an_error() {
    let spec = Value::Record([("temperature".to_string(), quantity(130.0, "degC"))].into_iter().collect());
    let names = Known::default().with("m", [spec.clone()]).with("list", [Value::List(vec![spec])]);
    match evaluate_with(&names, "!(m.temprature > 120.degC)") {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, Code::S002);
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
    fails("#{ a: 1 }.b == 1", Code::S002);
    fails("30.degCC > 20.degC", Code::S002);
    fails("\"M6\".length", Code::S002);
    fails("[1].length", Code::S002);
    fails("true.length", Code::S002);
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
    fails("-2 ** 2", Code::S001);
    fails("-2.0 ** 2", Code::S001);
    let names = Known::default().with("x", [Value::Number(2.0)]);
    assert!(matches!(evaluate_with(&names, "-x ** 2"), Err(Fault::Failed(_))));
    assert_eq!(shown("-(2 ** 2)"), "-4");
    assert_eq!(shown("-5.degC < 0.degC"), "yes");
    // A count that came in as a number is no list of bits.
    match evaluate_with(&names, "x[0]") {
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::S003),
        other => panic!("{other:?}"),
    }
}

#[test]
fn points_of_temperature_are_not_differences() {
    assert_eq!(shown("(30.degC - 20.degC) == 10.degC_diff"), "yes");
    assert_eq!(shown("20.degC + 18.degF_diff == 30.degC"), "yes");
    fails("30.degC + 20.degC", Code::S003);
    fails("2 * 30.degC", Code::S003);
    fails("-(30.degC)", Code::S003);
    fails("1.L + 1", Code::S003);
    fails("1.N_m + 1.J", Code::S003);
    assert_eq!(shown("(1.L / 500.mL) == 2"), "yes");
    assert_eq!(shown("exp(1.L / 1.L) == exp(1)"), "yes");
}

#[test]
fn unknown_names_are_errors_or_not_shown_never_false() {
    match evaluate("tempp > 30.degC") {
        Err(Fault::NotShown(names)) => assert_eq!(names, ["tempp"]),
        other => panic!("{other:?}"),
    }
    assert_eq!(fails("sqr(4)", Code::S002), "there is no function `sqr`");
    assert_eq!(fails("sqrt(4, 2)", Code::S002), "`sqrt` takes 1 value, here it gets 2");
    assert_eq!(fails("nowhere::f(1)", Code::S002), "there is no script `nowhere`");
    assert_eq!(fails("if true { 1 } else { sqr(4) }", Code::S002), "there is no function `sqr`");
    assert_eq!(fails("[1].map(|x| sqr(x))", Code::S002), "there is no function `sqr`");
    assert_eq!(fails("if 1 > 2 { 3 }", Code::S001), "the result has no value");
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
    assert!(!missing("list[1].unheard_of() > 0").is_empty());
    // Carrying it about is no touch.
    assert_eq!(evaluate_with(&names, "list.len()").ok(), Some(Value::Number(2.0)));
    assert!(matches!(evaluate_with(&names, "spec"), Ok(Value::Record(_))));
    assert_eq!(evaluate_with(&names, "spec.low > 20.degC").ok(), Some(Value::Truth(true)));
}

#[test]
fn all_speaks_of_a_name() {
    let names =
        Known::default().with("drained", [quantity(1.5, "L"), quantity(2.0, "L")]).with("round", [Value::Number(2.0)]);
    let value = |text: &str| evaluate_with(&names, text);
    assert_eq!(value("sum(all(drained)) == 3.5.L").ok(), Some(Value::Truth(true)));
    assert_eq!(value("all( drained ).len() == round(2.2) && round == 2").ok(), Some(Value::Truth(true)));
    assert_eq!(value("all(\"drained\").len()").ok(), Some(Value::Number(2.0)));
    assert_eq!(value("all(never).len()").ok(), Some(Value::Number(0.0)));
    assert!(matches!(value("all(never).every(|x| x > 1)"), Err(Fault::Failed(_))));
    assert!(matches!(value("all(drained.volume)"), Err(Fault::Failed(_))));
    assert!(matches!(value("all()"), Err(Fault::Failed(_))));
    assert!(matches!(value("[1].all(|x| x > 1)"), Err(Fault::Failed(_))));
    let scripts = scripts();
    // A text that ends right after `all(` must not leave a trace in the next.
    let _ = scripts.compile(&Script::new("<a>", "all("));
    let next = scripts.compile(&Script::new("<b>", "drained > 1.L")).expect("sound");
    assert_eq!(next.names()[0].path, ["drained"]);
    let names: Vec<String> = scripts
        .compile(&Script::new(
            "<c>",
            "sum(all(drained), 0.L) + spec.capacity.service.low > job.a[0].b && spec.x.value(\"L\") > y",
        ))
        .expect("sound")
        .names()
        .iter()
        .map(Name::written)
        .collect();
    assert_eq!(names, ["all(drained)", "spec.capacity.service.low", "job.a", "spec.x", "y"]);
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
        fails(text, Code::S005);
    }
    assert_eq!(fails("thread > 1", Code::P008), "`thread` is a reserved word of the script language");
    fails("timestamp()", Code::S002);
    fails("sleep(1)", Code::S002);
    fails("let x = 1; x", Code::P006);
    fails("x = 1", Code::P006);
    fails("1 2", Code::P006);
    fails("", Code::P006);
    fails("(1", Code::P006);
    fails("\"a", Code::P006);
    for name in ["thread", "in", "if", "eval", "this", "Sump", "a-b", "", "1a", "is", "new", "fn", "true"] {
        assert!(!usable_name(name), "{name}");
    }
    for name in ["sump_temperature", "round", "all", "min", "kv40", "a"] {
        assert!(usable_name(name), "{name}");
    }
}

// Places and traces.

/// A file with a `|` block and the expression read from it.
fn block(text: &str) -> (std::sync::Arc<crate::source::Source>, Script) {
    #[derive(serde::Deserialize)]
    struct File {
        must: Script,
    }
    let source = crate::source::Source::new("steps.yaml", text);
    let mut problems = Vec::new();
    let file: Option<File> = crate::yaml::read(&source, &mut problems);
    (source, file.unwrap_or_else(|| panic!("{problems:?}")).must)
}

fn files(of: &[(&str, &str, &str)]) -> Vec<ScriptFile> {
    of.iter()
        .map(|(plugin, name, text)| ScriptFile {
            name: (*name).into(),
            plugin: (*plugin).into(),
            source: crate::source::Source::new(format!("{plugin}/scripts/{name}.rhai"), *text),
        })
        .collect()
}

#[test]
fn a_fault_in_a_block_stands_at_its_line_and_column_of_the_file() {
    let (_, script) = block("# steps\nmust: |\n  1 < 2 &&\n    \"12\"  < 5\n");
    let scripts = scripts();
    let expression = scripts.compile(&script).expect("sound");
    let Err(Fault::Failed(diagnostic)) = scripts.evaluate(&expression, &Known::default()) else { panic!() };
    assert_eq!(diagnostic.place.to_string(), "steps.yaml:4:11");
    assert_eq!(diagnostic.place.text(), "<");
    let (_, script) = block("must: |\n  1 < 2 &&\n  sqr(\n    4)\n");
    let problems = scripts.compile(&script).expect_err("faulty");
    assert_eq!((problems[0].place.to_string(), problems[0].place.text()), ("steps.yaml:3:3".into(), "sqr"));
    let (_, script) = block("must: 5 < (3\n");
    let problems = scripts.compile(&script).expect_err("faulty");
    assert_eq!(problems[0].code, Code::P006);
    assert_eq!(problems[0].place.line(), 1);
}

#[test]
fn nested_calls_are_shown_as_a_trace_with_the_innermost_fault_first() {
    let inner = "/// Source: none.\nfn deep(x) {\n    x.volume + 5.degC\n}\n";
    let outer = "/// Source: none.\nfn start(x) {\n    let y = 1;\n    inner::deep(x)\n}\n";
    let scripts = Scripts::new(Units::standard(), files(&[("", "inner", inner), ("", "outer", outer)]));
    assert!(scripts.check().is_empty(), "{:?}", scripts.check());
    let (_, script) = block("must: |\n  true &&\n    outer::start(#{ volume: 1.L })\n");
    let expression = scripts.compile(&script).expect("sound");
    let Err(Fault::Failed(diagnostic)) = scripts.evaluate(&expression, &Known::default()) else { panic!() };
    assert_eq!(diagnostic.code, Code::S003);
    assert_eq!(diagnostic.place.to_string(), "/scripts/inner.rhai:3:14");
    let trace: Vec<(String, String)> =
        diagnostic.also.iter().map(|one| (one.place.to_string(), one.label.clone())).collect();
    assert_eq!(
        trace,
        [
            ("/scripts/outer.rhai:4:12".to_string(), "in `deep`, called here".to_string()),
            ("steps.yaml:3:12".to_string(), "in `start`, called here".to_string()),
        ]
    );
    // The same through `call`, where no text of the user's stands around it.
    let inputs = [("volume".to_string(), quantity(1.0, "L"))].into_iter().collect();
    let Err(Fault::Failed(diagnostic)) = scripts.call("outer::start", inputs) else { panic!() };
    assert_eq!(diagnostic.place.to_string(), "/scripts/inner.rhai:3:14");
    assert_eq!(diagnostic.also.len(), 1);
}

#[test]
fn closures_and_constants_work_inside_script_files() {
    let text = "const K = 2.5;\n/// Source: none.\nfn scaled(x) {\n    let factor = global::K;\n    let total = 0.0;\n    \
                for one in x.list.map(|v| v * factor) { total += one; }\n    #{ total: total, root: solve(|t| t * factor - 5, 0, 10) }\n}\n";
    let scripts = Scripts::new(Units::standard(), files(&[("", "scale", text)]));
    assert!(scripts.check().is_empty(), "{:?}", scripts.check());
    let list = Value::List(vec![Value::Number(1.0), Value::Number(3.0)]);
    let result = scripts.call("scale::scaled", [("list".to_string(), list)].into_iter().collect()).expect("a value");
    assert_eq!(result.at(&["total"]), Some(&Value::Number(10.0)));
    assert_eq!(result.at(&["root"]), Some(&Value::Number(2.0)));
}

#[test]
fn a_script_file_is_checked_before_anything_runs() {
    let faulty = |text: &str| {
        let problems = Scripts::new(Units::standard(), files(&[("", "a", text)])).check();
        assert!(!problems.is_empty(), "{text} passes");
        problems.into_iter().next().expect("a problem")
    };
    let code = |text: &str| faulty(text).code;
    assert_eq!(code("fn f(x) { y }"), Code::S002);
    assert_eq!(code("fn f(x) { if x > 1 { 1 } else { sqr(x) } }"), Code::S002);
    assert_eq!(code("fn f(x) { g(x) }"), Code::S002);
    assert_eq!(code("fn g(x, y) { x } fn f(x) { g(x) }"), Code::S002);
    assert_eq!(code("const K = 1; fn f(x) { K }"), Code::S002);
    assert_eq!(code("fn f(x) { global::K }"), Code::S002);
    assert_eq!(code("fn f(x) { b::g(x) }"), Code::S002);
    assert_eq!(code("fn f(x) { all(x) }"), Code::S005);
    assert_eq!(code("fn all(x) { x }"), Code::P008);
    assert_eq!(code("let k = 1; fn f(x) { x }"), Code::S005);
    assert_eq!(code("f(1); fn f(x) { x }"), Code::S005);
    assert_eq!(code("import \"x\" as y;"), Code::S005);
    assert_eq!(code("fn f(x) { try { 1 } catch { 2 } }"), Code::S005);
    assert_eq!(code("fn f(x) { x |= 1; x }"), Code::S005);
    assert_eq!(code("fn f(x) { let y = 1 x }"), Code::S001);
    assert_eq!(code("fn f(x) {"), Code::S001);
    assert_eq!(code("\0"), Code::S001);
    assert_eq!(code("const K = 1 / 0;"), Code::S006);
    assert_eq!(code("fn f(x) { -2 ** 2 }"), Code::S001);
    let sound =
        "/// Doc\nfn f(x) { let y = [1]; for i in 0..3 { y += [i]; } while y.len() > 2 { y = part(y, 1, len(y)); } y }";
    assert!(Scripts::new(Units::standard(), files(&[("", "a", sound)])).check().is_empty());
    let circle = files(&[("", "a", "fn f(x) { b::g(x) }"), ("", "b", "fn g(x) { a::f(x) }")]);
    let problems = Scripts::new(Units::standard(), circle).check();
    assert!(problems[0].message.contains("in a circle"), "{problems:?}");
}

#[test]
fn a_script_is_looked_for_in_its_plugin_in_what_it_needs_and_in_the_standard_library() {
    let all = files(&[
        ("own", "a", "fn f(x) { 1 }"),
        ("needed", "b", "fn f(x) { 2 }"),
        ("other", "c", "fn f(x) { 3 }"),
        ("", "d", "fn f(x) { 4 }"),
        ("other", "a", "fn f(x) { 5 }"),
    ]);
    let needs = [("own".into(), vec!["needed".into()])].into_iter().collect();
    let scripts = Scripts::with_needs(Units::standard(), all, needs);
    let call = |plugin: &str, function: &str| scripts.call_for(plugin, function, Default::default());
    assert_eq!(call("own", "a::f").ok(), Some(Value::Number(1.0)));
    assert_eq!(call("own", "b::f").ok(), Some(Value::Number(2.0)));
    assert_eq!(call("own", "d::f").ok(), Some(Value::Number(4.0)));
    assert_eq!(call("other", "a::f").ok(), Some(Value::Number(5.0)));
    assert_eq!(call("", "c::f").ok(), Some(Value::Number(3.0)));
    match call("own", "c::f") {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.help.as_deref(), Some("plugin `other` has one: add it to `needs` in plugin.yaml"));
        }
        other => panic!("{other:?}"),
    }
    match call("", "a::f") {
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::L004),
        other => panic!("{other:?}"),
    }
    for function in ["f", "a::", "::f", "a::b::f", "A::f", "a::nothing"] {
        assert!(matches!(call("own", function), Err(Fault::Failed(_))), "{function}");
    }
}

// Guests that misbehave.

/// On a small stack, where too deep a recursion would abort the process.
fn on_a_small_stack(work: impl FnOnce() + Send + 'static) {
    std::thread::Builder::new().stack_size(1024 * 1024).spawn(work).expect("a thread").join().expect("no panic");
}

fn stopped(function_body: &str) {
    let text = format!("fn f(x) {{ {function_body} }}");
    let shown = text.clone();
    on_a_small_stack(move || {
        let scripts = Scripts::new(Units::standard(), files(&[("", "guest", &text)]));
        match scripts.call("guest::f", Default::default()) {
            Err(Fault::Failed(diagnostic)) => {
                assert_eq!(diagnostic.code, Code::S004, "{shown}: {}", diagnostic.message);
            }
            other => panic!("{shown} gives {other:?}"),
        }
        // It can go on working afterwards.
        let expression = scripts.compile(&Script::new("<t>", "1 + 1 == 2")).expect("sound");
        assert_eq!(scripts.evaluate(&expression, &Known::default()).ok(), Some(Value::Truth(true)));
    });
}

#[test]
fn a_script_that_never_ends_is_stopped() {
    stopped("loop { }");
    stopped("while true { let y = 1; }");
    stopped("for i in 0..1000000000 { }");
    stopped("let n = 0; do { n += 1; } while n >= 0; n");
    // Each call of a closure by a function of ours would start counting anew.
    stopped(
        "let list = []; for i in 0..1000 { list += [i]; } list.map(|i| { let n = 0; while n < 1000 { n += 1; } n })",
    );
    stopped("solve(|t| { loop { } }, 0, 1)");
}

#[test]
fn a_script_that_calls_itself_is_stopped() {
    stopped("f(x)");
    stopped("1 + f(#{ a: [f(x)] })");
    stopped("[1].map(|one| f(one))");
    stopped("if f(x) { 1 } else { 2 }");
}

#[test]
fn a_script_that_eats_memory_is_stopped() {
    stopped("let s = \"abcdefgh\"; loop { s += s; }");
    stopped("let s = \"abcdefgh\"; loop { s = `${s}${s}`; }");
    stopped("let a = [1]; loop { a += a; }");
    stopped("let a = [1, 2, 3, 4]; loop { a = [a, a, a]; }");
    stopped("let m = #{}; let n = 0; loop { m[`k${n}`] = \"abcdefgh\"; n += 1; }");
    stopped("let a = []; let s = \"\"; for i in 0..60000 { s += \"x\"; } loop { a += [s + \"y\"]; }");
    stopped("let a = [1]; let text = \"ab\"; loop { a += [text]; text = join(a, text); }");
}

#[test]
fn depth_is_limited_wherever_it_comes_from() {
    on_a_small_stack(|| {
        let deep = format!("{}1{}", "(".repeat(500), ")".repeat(500));
        fails(&deep, Code::S004);
        let list = format!("{}1{}", "[".repeat(40), "]".repeat(40));
        fails(&list, Code::S004);
        fails(&format!("{list} == {list}"), Code::S004);
        let sum = vec!["1"; 3000].join(" + ");
        let _ = evaluate(&sum);
    });
    // Nested far deeper than any value may be when it leaves.
    on_a_small_stack(|| {
        let text = "fn f(x) { let a = []; for i in 0..9000 { a = [a]; } a }";
        let scripts = Scripts::new(Units::standard(), files(&[("", "guest", text)]));
        match scripts.call("guest::f", Default::default()) {
            Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::S004),
            other => panic!("{other:?}"),
        }
    });
}

#[test]
fn a_stop_by_the_clock_is_an_error_and_no_verdict() {
    let scripts = Scripts::new(
        Units::standard(),
        files(&[("", "slow", "fn f(x) { let n = 0; while n < 20000 { n += 1; } n > 0 }")]),
    );
    scripts.run_state().set_timeout(std::time::Duration::ZERO);
    match scripts.call("slow::f", Default::default()) {
        Err(Fault::Failed(diagnostic)) => {
            assert_eq!(diagnostic.code, Code::S004);
            assert!(diagnostic.message.contains("says nothing about the values"), "{}", diagnostic.message);
        }
        other => panic!("{other:?}"),
    }
}
