//! Words and symbols that scripts may not use, and why.

use rhai::{FnPtr, is_valid_identifier};

use super::interpreter::Interpreter;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic};

const GUEST: &str = "scripts can reach nothing but their inputs";
const STATIC: &str = "what a script calls must be readable from its text";
const STRICT: &str = "errors and missing values must not be hidden";

/// Symbol, why it is refused, what to do instead.
const REFUSED: [(&str, &str, &str); 19] = [
    ("eval", STATIC, "write the calculation itself"),
    ("import", STATIC, "call a function of another script as `script::function(...)`; nothing need be imported"),
    ("export", STATIC, "other scripts can call every function that is not `private`"),
    ("Fn", STATIC, "write the function in place: `|x| x + 1`"),
    ("is_def_fn", STATIC, "call the function"),
    ("is_def_var", STRICT, "leave that check to the program: a missing value is \"not shown\""),
    ("is_shared", STATIC, "leave it out"),
    ("type_of", STATIC, "leave it out"),
    ("this", STATIC, "pass the value to the function"),
    ("print", GUEST, "return the value"),
    ("debug", GUEST, "return the value"),
    ("try", STRICT, "make sure beforehand that the calculation can be done"),
    ("catch", STRICT, "make sure beforehand that the calculation can be done"),
    ("switch", "it matches 5 but silently not 5.0", "write `if ... else if ...`"),
    ("??", STRICT, "use `get(record, \"name\", otherwise)` for what may be left out"),
    ("?.", STRICT, "use `get(record, \"name\", otherwise)` for what may be left out"),
    ("?[", STRICT, "use `len(list)` first"),
    ("===", "there is one way to compare", "write `==`"),
    ("!==", "there is one way to compare", "write `!=`"),
];

/// Operators on bits; they can't all be disabled as symbols, `|` also stands around parameters.
pub(super) const ON_BITS: [&str; 10] = ["&", "|", "^", "<<", ">>", "&=", "|=", "^=", "<<=", ">>="];

pub(super) fn disable(scripts: &mut Interpreter) {
    for (symbol, ..) in REFUSED {
        scripts.disable_symbol(symbol);
    }
}

pub(super) fn refused(word: &str, place: &Place) -> Diagnostic {
    if let Some((_, why, instead)) = REFUSED.iter().find(|(symbol, ..)| *symbol == word) {
        return Diagnostic::error(Code::ForbiddenInScript, place, format!("`{word}` is not allowed in scripts: {why}"))
            .help(*instead);
    }
    if is_valid_identifier(word) {
        return Diagnostic::error(
            Code::ReservedName,
            place,
            format!("`{word}` is a reserved word of the script language"),
        )
        .help("choose another name");
    }
    let found =
        Diagnostic::error(Code::FaultyScript, place, format!("`{word}` is not an operator of the script language"));
    match word {
        "=" if place.text() == "=" => found.help("to compare, write `==`").mend("=="),
        "=" => found.help("to compare, write `==`"),
        "#" => found.help("a comment begins with `//`"),
        "^" => found.help("a power is written `**`"),
        _ => found,
    }
}

/// Whether scripts can use this as the name of a value.
pub fn usable_name(name: &str) -> bool {
    let mut letters = name.chars();
    letters.next().is_some_and(|first| first.is_ascii_lowercase())
        && letters.all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_')
        && !reserved(name)
}

/// Asks the interpreter itself, so that the list is the one of its version: it makes no pointer to a function of a reserved
/// name. Every field of a form is asked, so this must cost less than compiling the name.
fn reserved(name: &str) -> bool {
    REFUSED.iter().any(|(symbol, ..)| *symbol == name) || FnPtr::new(name).is_err()
}
