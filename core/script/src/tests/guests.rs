//! Scripts that misbehave.

use super::*;

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
                assert_eq!(diagnostic.code, Code::ScriptLimit, "{shown}: {}", diagnostic.message);
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
        fails(&deep, Code::ScriptLimit);
        let list = format!("{}1{}", "[".repeat(40), "]".repeat(40));
        fails(&list, Code::ScriptLimit);
        fails(&format!("{list} == {list}"), Code::ScriptLimit);
        let sum = vec!["1"; 3000].join(" + ");
        let _ = evaluate(&sum);
    });
    // Nested far deeper than any value may be when it leaves.
    on_a_small_stack(|| {
        for body in ["a = [a]", "a = #{ k: a }", "a = [#{ k: a }]", "a = [[a], [1]]"] {
            for count in [900, 3900, 20000] {
                let text = format!("fn f(x) {{ let a = []; for i in 0..{count} {{ {body}; }} a }}");
                let scripts = Scripts::new(Units::standard(), files(&[("", "guest", &text)]));
                match scripts.call("guest::f", Default::default()) {
                    Err(Fault::Failed(diagnostic)) => assert_eq!(diagnostic.code, Code::ScriptLimit, "{body}"),
                    other => panic!("{other:?}"),
                }
            }
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
            assert_eq!(diagnostic.code, Code::ScriptLimit);
            assert!(diagnostic.message.contains("says nothing about the values"), "{}", diagnostic.message);
        }
        other => panic!("{other:?}"),
    }
}
