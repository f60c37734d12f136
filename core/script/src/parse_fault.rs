//! Errors found while compiling, in our words.

use rhai::{LexError, ParseError, ParseErrorType};

use super::text::Text;
use super::words;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Mend, nearest};
use standpipe_quantity::Units;

/// `code` is faulty-expression for an expression in a procedure, faulty-script for a script file.
pub(super) fn diagnostic(text: &Text, error: &ParseError, code: Code) -> Diagnostic {
    let place = text.place(error.position());
    let plain = |message: String| {
        let mut found = Diagnostic::error(code, &place, message);
        if let Some(habit) = habit(&place) {
            found.help = Some(habit.help);
            found.mend = habit.mend;
        }
        found
    };
    match error.err_type() {
        ParseErrorType::Reserved(word) => words::refused(word, &place),
        ParseErrorType::BadInput(LexError::ImproperSymbol(symbol, _)) if !symbol.is_empty() => {
            words::refused(symbol, &place)
        }
        ParseErrorType::BadInput(error) => lexical(error, plain),
        ParseErrorType::UnexpectedEOF => plain("the script ends in the middle of something".into())
            .help("look for a bracket or a quote that is not closed, or an operator without a right side"),
        ParseErrorType::UnknownOperator(operator) => words::refused(operator, &place),
        ParseErrorType::MissingToken(token, _) if token == ";" => {
            let found = plain("something stands here that does not follow from what comes before".into());
            match (&found.help, statement_before(&place)) {
                (Some(_), _) => found,
                (None, Some(before)) => Diagnostic::error(code, &before, "a `;` is missing at the end of this line")
                    .also(&place, "here the next statement begins")
                    .help("end the statement with `;`"),
                (None, None) => found.help("a statement ends with `;`: is it missing at the end of the one before?"),
            }
        }
        ParseErrorType::MissingToken(token, _) => {
            let found = plain(format!("`{token}` is missing here"));
            let closed = place.source().text[place.range().start..].starts_with(['}', ']', ';']);
            match found.help {
                None if closed && token == "," => found.help("or a `)` is missing before it"),
                _ => found,
            }
        }
        ParseErrorType::MissingSymbol(_) => plain("a symbol is missing here".into()),
        ParseErrorType::MalformedIndexExpr(_) => plain("this can't be used as an index".into()),
        ParseErrorType::MalformedCapture(_) => {
            Diagnostic::error(Code::ForbiddenInScript, &place, "`!` after a function's name is not allowed")
        }
        ParseErrorType::DuplicatedProperty(name) => plain(format!("`{name}` appears twice in one record")),
        ParseErrorType::DuplicatedVariable(name) => plain(format!("the name `{name}` appears twice")),
        ParseErrorType::PropertyExpected => plain("the name of a property is expected here".into()),
        ParseErrorType::VariableExpected | ParseErrorType::ForbiddenVariable(_) => {
            plain("a name is expected here".into())
        }
        ParseErrorType::MismatchedType(..) => plain("a value of another kind is expected here".into()),
        ParseErrorType::ExprExpected(_) => plain("a value is expected here".into()),
        ParseErrorType::WrongDocComment => match other_word_for_fn(&place) {
            Some(word) => Diagnostic::error(code, &word, format!("`{}` does not begin a function here", word.text()))
                .help("a function begins with `fn`: `fn name(input) { ... }`"),
            None => plain("a `///` comment belongs above a function".into()),
        },
        ParseErrorType::WrongFnDefinition => plain("a function can't be defined here".into())
            .help("define functions at the outermost level of a script file"),
        ParseErrorType::FnDuplicatedDefinition(name, _) => plain(format!("the function `{name}` is defined twice")),
        ParseErrorType::FnMissingName => plain("the function has no name".into()),
        ParseErrorType::FnMissingParams(name) => plain(format!("the function `{name}` has no list of parameters")),
        ParseErrorType::FnDuplicatedParam(name, parameter) => {
            plain(format!("the function `{name}` has two parameters `{parameter}`"))
        }
        ParseErrorType::FnMissingBody(name) => plain(format!("the function `{name}` has no body")),
        ParseErrorType::AssignmentToConstant(name) => plain(format!("`{name}` is a constant and can't be changed")),
        ParseErrorType::AssignmentToInvalidLHS(_) => {
            plain("nothing can be assigned to this".into()).help("to compare, write `==`")
        }
        ParseErrorType::VariableExists(name) => plain(format!("the name `{name}` is taken")),
        ParseErrorType::VariableUndefined(name) => {
            let found = Diagnostic::error(Code::UnknownName, &place, format!("there is no value `{name}` here"));
            match meant(name, &place) {
                Some(help) => found.help(help),
                None => found,
            }
        }
        ParseErrorType::ModuleUndefined(name) => {
            Diagnostic::error(Code::UnknownName, &place, format!("there is no script `{name}`"))
        }
        ParseErrorType::ExprTooDeep => {
            Diagnostic::error(Code::ScriptLimit, &place, "the expression is nested too deeply")
                .help("break it up into functions")
        }
        ParseErrorType::TooManyFunctions => {
            Diagnostic::error(Code::ScriptLimit, &place, "too many functions in one script")
        }
        ParseErrorType::LiteralTooLarge(..) => {
            Diagnostic::error(Code::ScriptLimit, &place, "a text, list or record grows too large")
        }
        ParseErrorType::LoopBreak => plain("`break` and `continue` belong in a loop".into()),
        _ => plain("this is not valid here".into()),
    }
}

/// What is written so elsewhere, and how it is written here.
struct Habit {
    help: String,
    mend: Option<Mend>,
}

impl From<String> for Habit {
    fn from(help: String) -> Self {
        Self { help, mend: None }
    }
}

impl Habit {
    /// What is certain to be meant by so many bytes from a place on.
    fn mend(self, place: &Place, length: usize, write: impl Into<String>) -> Self {
        let start = place.range().start;
        let place = Place::new(place.source(), start..start + length);
        Self { mend: Some(Mend { place, write: write.into() }), ..self }
    }
}

/// What was likely meant by something that is written so elsewhere: in values, in other languages, on paper.
fn habit(place: &Place) -> Option<Habit> {
    let text = &place.source().text;
    let (before, after) = text.split_at(place.range().start);
    let is_digit = |c: char| c.is_ascii_digit();
    let word: String = after.chars().take_while(|c| c.is_alphanumeric()).collect();
    match word.to_ascii_lowercase().as_str() {
        "and" => {
            let all = Habit::from("several conditions that must all hold are joined with `&&`".to_owned());
            return Some(all.mend(place, word.len(), "&&"));
        }
        "or" => {
            let one = Habit::from("conditions of which one is enough are joined with `||`".to_owned());
            return Some(one.mend(place, word.len(), "||"));
        }
        _ => {}
    }
    // A name to the compiler, so that what follows is what it stumbles over.
    if before.trim_end().rsplit(|c: char| !c.is_alphanumeric()).next() == Some("not") {
        return Some("the opposite of a condition is written `!(...)`".to_owned().into());
    }
    if let Some(number) = value_with_unit(place) {
        let written = &after[..after.find([' ', ')', '&', '|', ',', '}', ']', ';', '\n']).unwrap_or(after.len())];
        let units = Units::standard();
        let known = units.script_name(written);
        let unit = known.unwrap_or(place.text());
        if let Some((low, high)) = number.split_once("..") {
            return Some(format!("a range in an expression is `range({low}.{unit}, {high}.{unit})`").into());
        }
        let habit = Habit::from(format!("in an expression a unit follows its number after a point: `{number}.{unit}`"));
        if known.is_none() {
            return Some(habit);
        }
        let start = before.trim_end_matches(' ').len();
        let gap = Place::new(place.source(), start..start);
        return Some(habit.mend(&gap, before.len() - start + written.len(), format!(".{unit}")));
    }
    if after.starts_with('°') {
        return Some("degrees are written `degC` and `degF`, angles `deg`: `38.degC`".to_owned().into());
    }
    for (written, meant) in SIGNS {
        if after.starts_with(written) {
            let habit = Habit::from(format!("this is written `{meant}`"));
            return Some(if meant.contains("...") { habit } else { habit.mend(place, written.len(), *meant) });
        }
    }
    if after.starts_with(['“', '”', '„', '‘', '’']) {
        return Some("texts stand between straight double quotes: `\"...\"`".to_owned().into());
    }
    if word == "x" && after[1..].starts_with(' ') {
        return Some("a product is written `a * b`".to_owned().into());
    }
    if after.starts_with(": ") && before.trim_end().ends_with(|c: char| c.is_alphanumeric() || c == '_') {
        return Some("a record begins with `#{`: `#{ name: value }`".to_owned().into());
    }
    let (before, after) = match after.strip_prefix(',') {
        Some(after) => (&text[..=place.range().start], after),
        None => (before, after),
    };
    // The comma itself was taken for what parts two values.
    let whole = before.strip_suffix(',').filter(|before| before.ends_with(is_digit) && after.starts_with(is_digit))?;
    let whole = &whole[whole.trim_end_matches(is_digit).len()..];
    let part = &after[..after.len() - after.trim_start_matches(is_digit).len()];
    Some(format!("a decimal mark is a point in a script: `{whole}.{part}`").into())
}

/// Signs of paper and of other languages.
const SIGNS: &[(&str, &str)] = &[
    ("=<", "<="),
    ("=>", ">="),
    ("≤", "<="),
    ("≥", ">="),
    ("≠", "!="),
    ("×", "*"),
    ("·", "*"),
    ("÷", "/"),
    ("then", "{ ... }"),
];

/// The line above that lacks its `;`, where a fault stands at the beginning of a line.
fn statement_before(place: &Place) -> Option<Place> {
    let text = &place.source().text;
    let start = text[..place.range().start].rfind('\n')?;
    if !text[start..place.range().start].trim().is_empty() {
        return None;
    }
    let code = text[..start].trim_end();
    let from = code.rfind('\n').map_or(0, |newline| newline + 1);
    let indent = code[from..].len() - code[from..].trim_start().len();
    let line = &code[from + indent..];
    (!line.is_empty() && !line.contains("//")).then(|| Place::new(place.source(), from + indent..code.len()))
}

/// The word with which functions begin in other languages, below a comment.
fn other_word_for_fn(place: &Place) -> Option<Place> {
    let mut start = place.range().start;
    for line in place.source().text[start..].split_inclusive('\n') {
        let word = line.split_whitespace().next().unwrap_or_default();
        if ["function", "func", "def", "fun"].contains(&word) {
            let at = start + line.find(word)?;
            return Some(Place::new(place.source(), at..at + word.len()));
        }
        if !word.starts_with("//") && !word.is_empty() {
            return None;
        }
        start += line.len();
    }
    None
}

/// What was likely meant by a name that stands for nothing: one that is near, an input, a function, a value of its own.
pub(super) fn meant(name: &str, place: &Place) -> Option<String> {
    let text = &place.source().text;
    let after = text[place.range().end..].trim_start();
    if after.starts_with('=') && !after.starts_with("==") {
        return Some(format!("write `let {name} = ...` where a value gets its name"));
    }
    if name == "pi" {
        return Some("a function is called with brackets: `pi()`".to_owned());
    }
    let is_name = |c: char| c.is_alphanumeric() || c == '_';
    // An input is a property of the record that the function gets.
    let property = format!(".{name}");
    let of_input = text.match_indices(&property).find_map(|(at, found)| {
        let owner = &text[text[..at].rfind(|c: char| !is_name(c)).map_or(0, |before| before + 1)..at];
        let whole = !text[at + found.len()..].starts_with(is_name);
        (whole && owner.starts_with(|c: char| c.is_ascii_lowercase())).then_some(owner)
    });
    if let Some(owner) = of_input {
        return Some(format!("an input belongs to the record of the function: `{owner}.{name}`"));
    }
    let declared = text.match_indices("let ").map(|(at, word)| {
        let rest = &text[at + word.len()..];
        &rest[..rest.find(|c: char| !is_name(c)).unwrap_or(rest.len())]
    });
    nearest(name, declared.filter(|known| *known != name)).map(|near| format!("did you mean `{near}`?"))
}

/// The number before a name that only a space parts from it: `2 min`, as values are written outside of expressions.
fn value_with_unit(place: &Place) -> Option<&str> {
    let (before, gap) = {
        let before = &place.source().text[..place.range().start];
        let trimmed = before.trim_end_matches(' ');
        (trimmed, before.len() - trimmed.len())
    };
    let number = &before[before.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.').len()..];
    let named = place.text().starts_with(char::is_alphabetic);
    (gap > 0 && named && number.starts_with(|c: char| c.is_ascii_digit())).then_some(number)
}

fn lexical(error: &LexError, plain: impl Fn(String) -> Diagnostic) -> Diagnostic {
    match error {
        LexError::UnexpectedInput(text) => {
            let found = plain(format!("`{text}` is not expected here"));
            match found.help {
                Some(_) => found,
                None => found.help("a comparison is written `==`; several conditions are joined with `&&` or `||`"),
            }
        }
        LexError::UnterminatedString => plain("a text has no closing quote".into()),
        LexError::StringTooLong(_) => plain("a text is too long".into()),
        LexError::MalformedEscapeSequence(text) => plain(format!("`{text}` means nothing in a text")),
        LexError::MalformedNumber(text) => plain(format!("`{text}` is not a number")),
        LexError::MalformedChar(text) => {
            let mut found = plain(format!("`'{text}'` is not one character"))
                .help(format!("put texts between double quotes: `\"{text}\"`"));
            let (source, start) = (found.place.source().clone(), found.place.range().start);
            let single = format!("'{text}'");
            if source.text[start..].starts_with(&single) && !text.contains('"') {
                let place = Place::new(&source, start..start + single.len());
                found.mend = Some(Mend { place, write: format!("\"{text}\"") });
            }
            found
        }
        LexError::MalformedIdentifier(text) => plain(format!("`{text}` is not a name")),
        LexError::ImproperSymbol(symbol, _) => plain(format!("`{symbol}` means nothing here")),
        _ => plain("this is not valid here".into()),
    }
}
