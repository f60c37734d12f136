//! What a script may use up is the same whichever way it runs, and also where it only is looked at.

use super::*;
use crate::Way;
use standpipe_diagnostic::source::{Place, Source};

/// As large as that of the threads that audit; an overflow ends the process.
fn on_a_stack_of_the_audit(work: impl FnOnce() + Send + 'static) {
    std::thread::Builder::new().stack_size(8 << 20).spawn(work).expect("a thread").join().expect("no panic");
}

/// Eats memory, depth or steps, where `given.n` decides whether it is reached.
const HUNGRY: &[&str] = &[
    "let a = [1]; for i in 0..60 { a += a; }",
    "let a = [1]; for i in 0..60 { a = [a, a, a]; }",
    "let a = #{}; for i in 0..100000 { a = #{ a: a }; }",
    "let a = []; for i in 0..100000 { a = [a]; }",
    "let a = #{ x: 1 }; for i in 0..60 { a = #{ a: a, b: a, c: [a, a] }; }",
    "let a = #{}; for i in 0..60 { a.x = a; a.y = [a, a]; }",
    "let f = |x| x; for i in 0..100000 { let g = f; f = |x| [g, x]; }",
    "let s = \"abcdefgh\"; for i in 0..60 { s += s; }",
    "let s = \"abcdefgh\"; for i in 0..60 { s = `${s}${s}`; }",
    "let a = []; for i in 0..60 { a += [join([\"abcdefgh\", join(a, \"\")], \"\")]; }",
    "for i in 0..1000000000 { }",
    "for i in 0..1000000 { let a = i; }",
    "let a = [1, 2, 3, 4, 5, 6, 7, 8, 9]; for b in a { for c in a { for d in a { for e in a { for f in a { for g in a { \
     if given.n { a[0] = b + g; } } } } } } }",
    "let n = 0; loop { loop { loop { loop { loop { loop { n += 1; } } } } } }",
    "let a = [1]; for i in 0..60 { a = a.map(|x| a.map(|y| y)); }",
];

fn both_ways(body: &'static str, inputs: IndexMap<String, Value>) {
    on_a_stack_of_the_audit(move || {
        let mut said = Vec::new();
        for way in [Way::Interpreted, Way::Lowered] {
            let text = format!("fn f(given) {{ {body} #{{ y: 1 }} }}");
            let scripts = Scripts::new(Units::standard(), files(&[("", "guest", &text)]));
            scripts.set_way(way);
            said.push(match scripts.call("guest::f", inputs.clone()) {
                Ok(value) => format!("{value:?}"),
                Err(Fault::Failed(fault)) => format!("{}: {}", fault.code, fault.message),
                Err(fault) => panic!("{body}: {fault:?}"),
            });
        }
        assert_eq!(said[0], said[1], "{body}");
    });
}

#[test]
fn what_is_hungry_is_stopped_both_ways_and_where_it_is_only_looked_at() {
    for body in HUNGRY {
        for guard in ["", "if given.n "] {
            let text: &'static str = if guard.is_empty() { body } else { format!("{guard} {{ {body} }}").leak() };
            both_ways(text, IndexMap::from([("n".to_owned(), Value::Truth(false))]));
            let text = format!("fn f(given) {{ {text} #{{ y: 1 }} }}");
            on_a_stack_of_the_audit(move || {
                let scripts = Scripts::new(Units::standard(), files(&[("", "guest", &text)]));
                let place = Place::whole(&Source::new("<look>", ""));
                scripts.look("", "guest::f", &[("n".to_owned(), Declared::Truth, false)], &[], &place);
            });
        }
    }
}

/// At each limit: one less, as many, and one more.
#[test]
fn both_ways_draw_the_line_at_the_same_place() {
    let repeated = [
        ("let a = []; for i in 0..N { a += [i]; }", limits::LIST),
        ("let a = []; for i in 0..N { a = [a]; }", limits::LIST),
        ("let a = #{}; for i in 0..N { a = #{ a: a }; }", limits::RECORD),
        ("let a = []; for i in 0..N { a = [a]; }", limits::NESTING),
    ];
    for (body, limit) in repeated {
        for count in [limit - 1, limit, limit + 1] {
            both_ways(body.replace('N', &count.to_string()).leak(), IndexMap::new());
        }
    }
    for count in [limits::TEXT - 1, limits::TEXT, limits::TEXT + 1] {
        let body =
            format!("let a = \"{}\"; let b = a + \"{}\"; ", "x".repeat(count / 2), "x".repeat(count - count / 2));
        both_ways(body.leak(), IndexMap::new());
    }
}

#[test]
fn whole_numbers_end_at_the_same_place_both_ways() {
    for body in [
        "let a = abs(-9223372036854775807 - 1); ",
        "let a = abs(-9223372036854775807); ",
        "let a = 9007199254740993 == 9007199254740992; if a { throw \"equal\" } ",
        "let a = -(-9223372036854775807 - 1); ",
    ] {
        both_ways(body, IndexMap::new());
    }
}

/// What a script throws may be as long as a text may be; what is quoted of it is not.
#[test]
fn what_is_thrown_is_cut() {
    let text = "fn f(x) { let s = \"abcdefgh\"; for i in 0..12 { s += s; } throw s }";
    let scripts = Scripts::new(Units::standard(), files(&[("", "guest", text)]));
    match scripts.call("guest::f", IndexMap::new()) {
        Err(Fault::Failed(fault)) => assert!(fault.message.len() < 3_000, "{}", fault.message.len()),
        other => panic!("{other:?}"),
    }
}
