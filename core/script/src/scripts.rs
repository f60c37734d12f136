//! The interpreter with its library: compile, evaluate, call.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use indexmap::IndexMap;
use rhai::{AST, Dynamic, EvalAltResult, Scope};

use super::convert::{from_script, into_script};
use super::expression::Expression;
use super::fault::fault;
use super::guest::View;
use super::interpreter::Interpreter;
use super::library::{Compiled, Library, Resolver, ScriptFile, key, module, with_scripts};
use super::lower::Cache;
use super::names::{Fault, Name, Names};
use super::run::{Known, Run};
use super::tables::{TableFile, Tables};
use super::text::Text;
use super::token::Memory;
use super::walk::{Call, Findings, Surroundings, walk};
use super::{api, interpreter, limits, parse_fault};
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_yaml::Script;

/// Compiles and runs scripts. It belongs to one thread; every thread that runs scripts has its own.
pub struct Scripts {
    pub(super) interpreter: Interpreter,
    pub(super) run: Rc<Run>,
    pub(super) memory: Memory,
    pub(super) library: Rc<Library>,
    functions: BTreeMap<&'static str, Vec<usize>>,
    unit_names: HashSet<String>,
    /// Calls of sheets' functions, by plugin and function.
    calls: RefCell<HashMap<(String, String), Rc<Expression>>>,
    pub(super) lowered: Cache,
}

/// The variable that holds a sheet's inputs while its function is called.
const INPUTS: &str = "inputs";

impl Scripts {
    /// With the functions of these files; every script sees every other one.
    pub fn new(units: Arc<Units>, files: Vec<ScriptFile>) -> Self {
        Self::with_needs(units, files, Vec::new(), IndexMap::new())
    }

    /// `needs` says which plugins each plugin needs: whose scripts it may call and whose tables it may look into
    /// besides its own and the standard ones.
    pub fn with_needs(
        units: Arc<Units>,
        files: Vec<ScriptFile>,
        tables: Vec<TableFile>,
        needs: IndexMap<Arc<str>, Vec<Arc<str>>>,
    ) -> Self {
        let run = Run::new(units, Tables::new(tables, needs.clone()));
        let memory = Memory::default();
        let functions = api::arities();
        let built_in = functions.keys().map(|name| name.to_string()).collect();
        let library = Rc::new(Library::new(files, needs, built_in));
        let mut interpreter = interpreter::build(&run, &memory);
        interpreter.set_module_resolver(Resolver(library.clone()));
        let unit_names = run.units.script_units().map(|(name, ..)| name.to_string()).collect();
        Self {
            interpreter,
            run,
            memory,
            library,
            functions,
            unit_names,
            calls: RefCell::default(),
            lowered: Cache::default(),
        }
    }

    /// The units that scripts name.
    pub fn units(&self) -> &Arc<Units> {
        &self.run.units
    }

    /// Compiles an expression that may call the functions of every script file.
    pub fn compile(&self, script: &Script) -> Result<Expression, Problems> {
        self.compile_for("", script)
    }

    /// Compiles an expression of a plugin, from where only some script files are in sight.
    pub fn compile_for(&self, plugin: &str, script: &Script) -> Result<Expression, Problems> {
        self.compile_text(plugin, &script.text, Text::Expression(script.clone()))
    }

    fn compile_text(&self, plugin: &str, source: &str, text: Text) -> Result<Expression, Problems> {
        if source.trim().is_empty() {
            return Err(vec![
                Diagnostic::error(Code::FaultyExpression, &text.whole(), "the expression is empty")
                    .help("write a value or a condition"),
            ]);
        }
        too_large(source, &text)?;
        self.memory.clear();
        let ast = self
            .interpreter
            .compile_expression(source)
            .map_err(|error| vec![parse_fault::diagnostic(&text, &error, Code::FaultyExpression)])?;
        let Findings { names, compared, calls, tables, mut problems } = self.walk(&ast, &text, true);
        problems.extend(tables.iter().filter_map(|table| self.run.tables.check(plugin, table)));
        let (reached, problems) = self.reach(plugin, &calls, problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        Ok(Expression { ast: with_scripts(ast, "", &reached), text, names, compared })
    }

    fn walk(&self, ast: &AST, text: &Text, expression: bool) -> Findings {
        let code = if expression { Code::FaultyExpression } else { Code::FaultyScript };
        let around = Surroundings { text, code, functions: &self.functions, units: &self.unit_names, expression };
        walk(ast, &around)
    }

    /// Compiles the scripts that are called, and checks that what is called exists.
    fn reach(&self, plugin: &str, calls: &[Call], mut problems: Problems) -> (Vec<(String, usize)>, Problems) {
        let mut reached: BTreeMap<String, usize> = BTreeMap::new();
        for call in calls {
            match self.library.find(plugin, &call.script, &call.place).and_then(|file| {
                let compiled = self.file(file, &call.place)?;
                Ok((file, self.library.check_call(call, &compiled)))
            }) {
                Ok((file, problem)) => {
                    reached.insert(call.script.clone(), file);
                    problems.extend(problem);
                }
                Err(more) => add_new(&mut problems, more),
            }
        }
        (reached.into_iter().collect(), problems)
    }

    pub(super) fn file(&self, file: usize, place: &Place) -> Result<Rc<Compiled>, Problems> {
        self.library.compiled(file, place, |file| self.compile_file(file))
    }

    fn compile_file(&self, index: usize) -> Result<Compiled, Problems> {
        let file = &self.library.files[index];
        let text = Text::File(file.source.clone());
        too_large(&file.source.text, &text)?;
        self.memory.clear();
        let ast = self
            .interpreter
            .compile(&file.source.text)
            .map_err(|error| vec![parse_fault::diagnostic(&text, &error, Code::FaultyScript)])?;
        let Findings { calls, tables, mut problems, .. } = self.walk(&ast, &text, false);
        problems.extend(tables.iter().filter_map(|table| self.run.tables.check(&file.plugin, table)));
        let (reached, problems) = self.reach(&file.plugin, &calls, problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        let ast = with_scripts(ast, &key(index), &reached);
        self.run.start(Known::default());
        module(&self.interpreter, &ast, &text).map_err(|error| match self.faulty(&text, *error) {
            Fault::Failed(diagnostic) => vec![*diagnostic],
            Fault::NotShown(_) => vec![Diagnostic::error(Code::FaultyScript, &text.whole(), "a constant has no value")],
        })
    }

    /// Compiles every script file and reports all that is wrong with them.
    pub fn check(&self) -> Problems {
        let mut problems = Problems::new();
        for (index, file) in self.library.files.iter().enumerate() {
            if let Err(more) = self.file(index, &Place::whole(&file.source)) {
                add_new(&mut problems, more);
            }
        }
        problems
    }

    /// Looks up everything the expression mentions, then evaluates it.
    ///
    /// Errors: [`Fault::NotShown`] with every name that stands for nothing known, else [`Fault::Failed`].
    pub fn evaluate(&self, expression: &Expression, names: &dyn Names) -> Result<Value, Fault> {
        let mut missing = Vec::new();
        let mut known = Known::default();
        for name in &expression.names {
            if name.all {
                look_up_all(name, names, &mut known, &mut missing);
            } else {
                look_up(name, names, &mut known, &mut missing)?;
            }
        }
        if !missing.is_empty() {
            return Err(Fault::NotShown(missing));
        }
        self.evaluate_with("", expression, known)
    }

    fn evaluate_with(&self, plugin: &str, expression: &Expression, known: Known) -> Result<Value, Fault> {
        let what = "the result";
        self.run.start(known);
        self.run.tables.called_by(plugin);
        let result = self.interpreter.eval_ast_with_scope::<Dynamic>(&mut Scope::new(), &expression.ast);
        let result = result.and_then(|value| from_script(&self.run, &value, what));
        match result {
            Err(error) => Err(self.faulty(&expression.text, *error)),
            Ok(Value::Unknown) => Err(Fault::NotShown(vec![what.to_string()])),
            Ok(_) if !self.run.touched().is_empty() => Err(Fault::NotShown(self.run.touched())),
            Ok(value) => Ok(value),
        }
    }

    pub(super) fn faulty(&self, text: &Text, error: EvalAltResult) -> Fault {
        fault(&self.run, &*self.library, text, error)
    }

    /// Calls `script::function` with one record of inputs. Of all script files, one must have that name.
    pub fn call(&self, function: &str, inputs: IndexMap<String, Value>) -> Result<Value, Fault> {
        self.call_for("", function, inputs)
    }

    /// Calls a function as a plugin sees it.
    pub fn call_for(&self, plugin: &str, function: &str, inputs: IndexMap<String, Value>) -> Result<Value, Fault> {
        match self.call_lowered(plugin, function, &inputs) {
            Some(value) => Ok(value),
            None => self.interpret(plugin, function, inputs),
        }
    }

    pub(super) fn interpret(
        &self,
        plugin: &str,
        function: &str,
        inputs: IndexMap<String, Value>,
    ) -> Result<Value, Fault> {
        let known = self.calls.borrow().get(&(plugin.to_string(), function.to_string())).cloned();
        let call = match known {
            Some(call) => call,
            None => {
                let nowhere = Script::new("<call>", function).place;
                let call = Rc::new(self.compile_call(plugin, function, &nowhere).map_err(first)?);
                self.calls.borrow_mut().insert((plugin.to_string(), function.to_string()), call.clone());
                call
            }
        };
        let record: rhai::Map = inputs.iter().map(|(name, value)| (name.into(), into_script(value, name))).collect();
        let mut known = Known::default();
        known.latest.insert(INPUTS.to_owned(), Dynamic::from_map(record));
        self.evaluate_with(plugin, &call, known)
    }

    /// Whether a plugin can call this function with one record; the problems stand at `place`, where it is named.
    /// Gives the place of the function and the text of its `///` comments.
    pub fn check_function(&self, plugin: &str, function: &str, place: &Place) -> Result<(Place, String), Problems> {
        self.compile_call(plugin, function, place)?;
        let (script, name) = split(function, place)?;
        let file = self.library.find(plugin, script, place)?;
        let compiled = self.file(file, place)?;
        let found = compiled.functions.get(name).and_then(|all| all.iter().find(|one| one.parameters == 1));
        found.map(|one| (one.place.clone(), one.doc.clone())).ok_or_else(Problems::new)
    }

    fn compile_call(&self, plugin: &str, function: &str, place: &Place) -> Result<Expression, Problems> {
        let (script, name) = split(function, place)?;
        let call = Call { script: script.into(), function: name.into(), arguments: 1, place: place.clone() };
        let (_, problems) = self.reach(plugin, &[call], Problems::new());
        if !problems.is_empty() {
            return Err(problems);
        }
        let file = self.library.find(plugin, script, place)?;
        let compiled = self.file(file, place)?;
        let defined = compiled.functions[name][0].place.clone();
        self.compile_text(plugin, &format!("{function}({INPUTS})"), Text::Made(defined))
    }

    #[cfg(test)]
    pub(super) fn run_state(&self) -> &Run {
        &self.run
    }
}

pub(super) fn split<'a>(function: &'a str, place: &Place) -> Result<(&'a str, &'a str), Problems> {
    match function.split_once("::") {
        Some((script, name)) if super::usable_name(script) && super::usable_name(name) => Ok((script, name)),
        _ => Err(vec![
            Diagnostic::error(Code::UnknownName, place, format!("`{function}` does not name a function"))
                .expected("the name of a script and of a function in it, as `script::function`"),
        ]),
    }
}

fn too_large(source: &str, text: &Text) -> Result<(), Problems> {
    if source.len() > limits::SCRIPT_BYTES
        || source.lines().count() > limits::SCRIPT_LINES
        || source.lines().any(|line| line.len() > limits::SCRIPT_LINES)
    {
        return Err(vec![Diagnostic::error(Code::ScriptLimit, &text.whole(), "the script is too large")]);
    }
    Ok(())
}

fn look_up_all(name: &Name, names: &dyn Names, known: &mut Known, missing: &mut Vec<String>) {
    let bare = &name.path[0];
    if known.every.contains_key(bare) {
        return;
    }
    let values = names.all(bare);
    if values.iter().any(Value::is_unknown) {
        add_missing(missing, name.written());
    }
    known.every.insert(bare.clone(), into_script(&Value::List(values), bare));
}

fn look_up(name: &Name, names: &dyn Names, known: &mut Known, missing: &mut Vec<String>) -> Result<(), Fault> {
    if let Some(series) = names.series(&name.path[0]) {
        known.latest.insert(name.path[0].clone(), Dynamic::from(View::of(series)));
        return Ok(());
    }
    let Some(value) = names.latest(&name.path[0]) else {
        add_missing(missing, name.path[0].clone());
        return Ok(());
    };
    let (mut part, mut depth) = (&*value, 0);
    for key in &name.path[1..] {
        // Properties of other values (units, ends of ranges) are the interpreter's business.
        let Value::Record(fields) = part else { break };
        let Some(next) = fields.get(key) else {
            let whole = name.path[..=depth].join(".");
            let mut diagnostic =
                Diagnostic::error(Code::UnknownName, &name.place, format!("`{whole}` has nothing called `{key}`"));
            if let Some(near) = nearest(key, fields.keys().map(String::as_str)) {
                diagnostic = diagnostic.help(format!("did you mean `{near}`?"));
            }
            return Err(Fault::Failed(diagnostic.into()));
        };
        part = next;
        depth += 1;
        if part.is_unknown() {
            add_missing(missing, name.path[..=depth].join("."));
            return Ok(());
        }
    }
    if part.is_unknown() {
        add_missing(missing, name.path[0].clone());
    } else {
        known.put(&name.path[..=depth], part);
    }
    Ok(())
}

pub(super) fn first(mut problems: Problems) -> Fault {
    if problems.is_empty() { Fault::NotShown(Vec::new()) } else { Fault::Failed(problems.swap_remove(0).into()) }
}

fn add_missing(missing: &mut Vec<String>, name: String) {
    if !missing.contains(&name) {
        missing.push(name);
    }
}

/// A fault in a file that several others call is reported once.
fn add_new(problems: &mut Problems, more: Problems) {
    for problem in more {
        if !problems.iter().any(|known| known.place == problem.place && known.message == problem.message) {
            problems.push(problem);
        }
    }
}
