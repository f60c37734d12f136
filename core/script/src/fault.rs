//! Errors of a running script, in our words and at their place in the file.

use rhai::{Dynamic, EvalAltResult};

use super::guest::Complaint;
use super::names::Fault;
use super::run::{Run, TOO_LONG};
use super::text::Text;
use standpipe_diagnostic::{Code, Diagnostic, nearest};

/// Finds the text that the interpreter knows under this key.
pub(super) trait Texts {
    fn text(&self, key: &str) -> Option<Text>;
    fn function_names(&self) -> &[String];
}

/// Whatever the error was: if an unknown value was touched, the answer is that nothing was shown.
pub(super) fn fault(run: &Run, texts: &dyn Texts, outer: &Text, error: EvalAltResult) -> Fault {
    let mut unknown = run.touched();
    let (text, error, trace) = innermost(texts, outer, error);
    // The interpreter refuses an unknown value by the name of its type where we are not asked.
    if unknown.is_empty() && named_unknown(&error) {
        unknown.push("a value used here".into());
    }
    if !unknown.is_empty() {
        return Fault::NotShown(unknown);
    }
    let position = error.position();
    let complaint = complaint(texts, error);
    let mut diagnostic = Diagnostic::error(complaint.code, &text.place(position), complaint.message);
    diagnostic.help = complaint.help;
    for (place, label) in trace.into_iter().rev() {
        diagnostic = diagnostic.also(&place, label);
    }
    Fault::Failed(Box::new(diagnostic))
}

type Trace = Vec<(standpipe_diagnostic::source::Place, String)>;

/// Peels the calls off, outermost first, so that the message stands where the fault is.
fn innermost(texts: &dyn Texts, outer: &Text, mut error: EvalAltResult) -> (Text, EvalAltResult, Trace) {
    let mut text = outer.clone();
    let mut trace = Trace::new();
    loop {
        match error {
            EvalAltResult::ErrorInFunctionCall(name, source, inner, position) => {
                if !matches!(text, Text::Made(_)) {
                    let label = if name.starts_with("anon$") {
                        "in the function applied here".to_string()
                    } else {
                        format!("in `{name}`, called here")
                    };
                    trace.push((text.place(position), label));
                }
                text = texts.text(&source).unwrap_or(text);
                error = *inner;
            }
            EvalAltResult::ErrorInModule(_, inner, _) => error = *inner,
            other => return (text, other, trace),
        }
    }
}

fn named_unknown(error: &EvalAltResult) -> bool {
    let kind = "unknown value";
    match error {
        EvalAltResult::ErrorMismatchDataType(_, found, _) | EvalAltResult::ErrorMismatchOutputType(_, found, _) => {
            found == kind || found == std::any::type_name::<super::guest::Absent>()
        }
        EvalAltResult::ErrorFunctionNotFound(signature, _) => signature.contains(kind),
        EvalAltResult::ErrorIndexingType(text, _) | EvalAltResult::ErrorDotExpr(text, _) => text.contains(kind),
        _ => false,
    }
}

fn complaint(texts: &dyn Texts, error: EvalAltResult) -> Complaint {
    let plain = |code: Code, message: String| Complaint { code, message, help: None };
    match error {
        EvalAltResult::ErrorRuntime(token, _) => of_token(token),
        EvalAltResult::ErrorVariableNotFound(name, _) => {
            plain(Code::UnknownName, format!("there is no value `{name}` here"))
        }
        EvalAltResult::ErrorPropertyNotFound(name, _) => {
            plain(Code::UnknownName, format!("the record has nothing called `{name}`"))
        }
        EvalAltResult::ErrorIndexNotFound(..) => plain(Code::UnknownName, "there is nothing under this index".into()),
        EvalAltResult::ErrorFunctionNotFound(signature, _) => no_function(texts, &signature),
        EvalAltResult::ErrorModuleNotFound(name, _) => plain(Code::UnknownName, format!("there is no script `{name}`")),
        EvalAltResult::ErrorUnboundThis(_) => plain(Code::ForbiddenInScript, "`this` means nothing here".into()),
        EvalAltResult::ErrorMismatchDataType(wanted, found, _)
        | EvalAltResult::ErrorMismatchOutputType(wanted, found, _) => {
            plain(Code::DimensionClash, format!("expected {}, found {}", kind(&wanted), kind(&found)))
        }
        EvalAltResult::ErrorIndexingType(..) => {
            plain(Code::DimensionClash, "only lists are indexed with numbers, and only records with names".into())
        }
        EvalAltResult::ErrorArrayBounds(length, index, _) => plain(
            Code::FaultyScript,
            format!("the list has {length} entries, counted from 0; there is no entry {index}"),
        ),
        EvalAltResult::ErrorStringBounds(length, index, _) => plain(
            Code::FaultyScript,
            format!("the text has {length} characters, counted from 0; there is no character {index}"),
        ),
        EvalAltResult::ErrorBitFieldBounds(..) => plain(Code::DimensionClash, "a number is not a list".into()),
        EvalAltResult::ErrorFor(_) => Complaint {
            code: Code::DimensionClash,
            message: "`for` goes over a list or a counting range, and this is neither".into(),
            help: Some("write e.g. `for x in [1, 2]` or `for i in 0..5`".into()),
        },
        EvalAltResult::ErrorAssignmentToConstant(name, _) => {
            plain(Code::FaultyScript, format!("`{name}` is a constant and can't be changed"))
        }
        EvalAltResult::ErrorNonPureMethodCallOnConstant(..) => {
            plain(Code::FaultyScript, "a constant can't be changed".into())
        }
        EvalAltResult::ErrorDotExpr(..) => plain(Code::UnknownName, "there is no such property here".into()),
        EvalAltResult::ErrorArithmetic(..) => plain(Code::NonFiniteResult, "the result is not a finite number".into()),
        EvalAltResult::ErrorVariableExists(name, _) | EvalAltResult::ErrorForbiddenVariable(name, _) => {
            plain(Code::FaultyScript, format!("`{name}` can't be used as a name here"))
        }
        EvalAltResult::ErrorTooManyOperations(_) => {
            limit("it takes too many operations", Some("does a loop never end?"))
        }
        EvalAltResult::ErrorTerminated(token, _) if token.as_int() == Ok(TOO_LONG) => {
            limit("it takes too long; this says nothing about the values", None)
        }
        EvalAltResult::ErrorTerminated(..) => limit("it takes too many operations", Some("does a loop never end?")),
        EvalAltResult::ErrorTooManyVariables(_) => limit("it has too many variables", None),
        EvalAltResult::ErrorTooManyModules(_) => limit("it uses too many scripts", None),
        EvalAltResult::ErrorStackOverflow(_) => {
            limit("its functions call each other too deeply", Some("does a function call itself without end?"))
        }
        EvalAltResult::ErrorDataTooLarge(..) => limit("a text, list or record grows too large", None),
        EvalAltResult::LoopBreak(..) => plain(Code::FaultyScript, "`break` and `continue` belong in a loop".into()),
        EvalAltResult::ErrorParsing(..) => plain(Code::FaultyScript, "not a valid script".into()),
        EvalAltResult::ErrorDataRace(..) => Complaint {
            code: Code::FaultyScript,
            message: "a function in place uses the value that it is applied to".into(),
            help: Some("write `map(x.list, |one| ...)` instead of `x.list.map(|one| ...)`".into()),
        },
        _ => plain(Code::FaultyScript, "the script can't go on".into()),
    }
}

fn limit(what: &str, help: Option<&str>) -> Complaint {
    Complaint {
        code: Code::ScriptLimit,
        message: format!("the script was stopped: {what}"),
        help: help.map(str::to_string),
    }
}

/// Ours, or what a script threw itself.
fn of_token(token: Dynamic) -> Complaint {
    if let Some(complaint) = token.clone().try_cast::<Complaint>() {
        return complaint;
    }
    let message = match token.into_immutable_string() {
        Ok(text) if !text.is_empty() => text.to_string(),
        _ => "the script refused to go on and gave no reason".into(),
    };
    Complaint { code: Code::FaultyScript, message, help: None }
}

/// The signature is `name (type, type)`; the types are the interpreter's and stay out of the message.
fn no_function(texts: &dyn Texts, signature: &str) -> Complaint {
    let (path, types) = signature.split_once(" (").unwrap_or((signature, ")"));
    let given = types.trim_end_matches(')').split(", ").filter(|one| !one.is_empty()).count();
    let name = path.rsplit("::").next().unwrap_or(path);
    let names = texts.function_names();
    if names.iter().any(|known| known == name) {
        let values = if given == 1 { "1 value".to_string() } else { format!("{given} values") };
        return Complaint {
            code: Code::UnknownName,
            message: format!("`{name}` can't be called with {values}"),
            help: None,
        };
    }
    Complaint {
        code: Code::UnknownName,
        message: format!("there is no function `{path}`"),
        help: nearest(name, names.iter().map(String::as_str)).map(|known| format!("did you mean `{known}`?")),
    }
}

/// Names of types as the interpreter gives them.
fn kind(name: &str) -> &'static str {
    let name = name.rsplit("::").next().unwrap_or(name).trim_end_matches('>');
    match name {
        "bool" => "true or false",
        "i64" => "a whole number",
        "f64" => "a number",
        "string" | "String" | "ImmutableString" | "str" => "a text",
        "char" => "a character",
        "array" | "Array" | "Dynamic" => "a list",
        "map" | "Map" => "a record",
        "()" => "nothing",
        "Fn" | "FnPtr" => "a function",
        "quantity" | "Quantity" => "a quantity",
        "range" | "Span" => "a range",
        "date" | "Day" => "a date",
        _ => "something else",
    }
}
