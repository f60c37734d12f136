//! Places of faults, traces of calls, and what is found before anything runs.

use super::*;

/// A file with a `|` block and the expression read from it.
fn block(text: &str) -> (std::sync::Arc<standpipe_diagnostic::source::Source>, Script) {
    #[derive(serde::Deserialize)]
    struct File {
        must: Script,
    }
    let source = standpipe_diagnostic::source::Source::new("steps.yaml", text);
    let mut problems = Vec::new();
    let file: Option<File> = standpipe_yaml::read(&source, &mut problems);
    (source, file.unwrap_or_else(|| panic!("{problems:?}")).must)
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
    assert_eq!(problems[0].code, Code::FaultyExpression);
    assert_eq!(problems[0].place.line(), 1);
}

#[test]
fn a_value_written_as_outside_of_expressions_is_told_how_it_is_written_here() {
    for (text, instead) in [
        ("2 min", "`2.min`"),
        ("1 < 2 && x > 2.5 min", "`2.5.min`"),
        ("range(35 degC, 40.degC)", "`35.degC`"),
        ("7 lbf_ft", "`7.lbf_ft`"),
        ("1 < 2 and 3 < 4", "`&&`"),
        ("1 < 2 OR 3 < 4", "`||`"),
        ("if not true { 1 } else { 2 }", "`!(...)`"),
        ("x = 5.L", "`==`"),
        ("x < 38.°C", "`38.degC`"),
        ("#{ a: 5,3.L }", "`5.3`"),
    ] {
        let problems = scripts().compile(&Script::new("<test>", text)).expect_err(text);
        let help = problems[0].help.as_deref().unwrap_or_default();
        assert!(help.contains(instead), "{text}: {problems:?}");
    }
    let problems = scripts().compile(&Script::new("<test>", "1 < 2 3")).expect_err("faulty");
    assert!(!problems[0].help.as_deref().unwrap_or_default().contains("unit"), "{problems:?}");
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
    assert_eq!(diagnostic.code, Code::DimensionClash);
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
    assert_eq!(code("fn f(x) { y }"), Code::UnknownName);
    assert_eq!(code("fn f(x) { if x > 1 { 1 } else { sqr(x) } }"), Code::UnknownName);
    assert_eq!(code("fn f(x) { g(x) }"), Code::UnknownName);
    assert_eq!(code("fn g(x, y) { x } fn f(x) { g(x) }"), Code::UnknownName);
    assert_eq!(code("const K = 1; fn f(x) { K }"), Code::UnknownName);
    assert_eq!(code("fn f(x) { global::K }"), Code::UnknownName);
    assert_eq!(code("fn f(x) { b::g(x) }"), Code::UnknownName);
    assert_eq!(code("fn f(x) { all(x) }"), Code::ForbiddenInScript);
    assert_eq!(code("fn all(x) { x }"), Code::ReservedName);
    assert_eq!(code("let k = 1; fn f(x) { x }"), Code::ForbiddenInScript);
    assert_eq!(code("f(1); fn f(x) { x }"), Code::ForbiddenInScript);
    assert_eq!(code("import \"x\" as y;"), Code::ForbiddenInScript);
    assert_eq!(code("fn f(x) { try { 1 } catch { 2 } }"), Code::ForbiddenInScript);
    assert_eq!(code("fn f(x) { x |= 1; x }"), Code::ForbiddenInScript);
    assert_eq!(code("fn f(x) { let y = 1 x }"), Code::FaultyScript);
    assert_eq!(code("fn f(x) {"), Code::FaultyScript);
    assert_eq!(code("\0"), Code::FaultyScript);
    assert_eq!(code("const K = 1 / 0;"), Code::NonFiniteResult);
    assert_eq!(code("fn f(x) { -2 ** 2 }"), Code::FaultyScript);
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
    let scripts = Scripts::with_needs(Units::standard(), all, Vec::new(), needs);
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
        Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::DefinedTwice),
        other => panic!("{other:?}"),
    }
    for function in ["f", "a::", "::f", "a::b::f", "A::f", "a::nothing"] {
        assert!(matches!(call("own", function), Err(Fault::Failed(_))), "{function}");
    }
}
