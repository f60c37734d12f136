//! The list of functions in scripts/README.md is made from the program. To make it anew:
//! `STANDPIPE_REWRITE=1 cargo test --test functions`.

use standpipe_script::documented;

const HEADING: &str = "The list is made from the program; a test keeps it so.\n";

fn list() -> String {
    let mut text = String::new();
    let mut group = "";
    for function in documented() {
        if function.group != group {
            group = function.group;
            text.push_str(&format!("\n### {}{}\n\n", group[..1].to_uppercase(), &group[1..]));
        }
        text.push_str(&format!("- `{}` {}\n", function.call, function.about));
        for (expression, result) in function.examples.iter().filter(|(_, result)| !result.starts_with("error")) {
            let mark = if expression.contains('`') { ("`` ", " ``") } else { ("`", "`") };
            text.push_str(&format!("  - {}{expression}{} gives {result}\n", mark.0, mark.1));
        }
    }
    text
}

#[test]
fn the_list_of_functions_is_the_programs_own() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../scripts/README.md");
    let written = std::fs::read_to_string(path).expect("the README of the scripts");
    let (before, after) = written.split_once(HEADING).expect("the heading of the list");
    if std::env::var_os("STANDPIPE_REWRITE").is_some() {
        std::fs::write(path, format!("{before}{HEADING}{}", list())).expect("a writable README");
        return;
    }
    assert_eq!(after, list(), "make the list anew as the head of this test says");
}
