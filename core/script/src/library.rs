//! Files of functions: which file a name means, and compiling it when it is first called.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use indexmap::IndexMap;
use rhai::{AST, EvalAltResult, FnAccess, Module, ModuleResolver, Position, Scope, Shared};

use super::fault::Texts;
use super::interpreter::Interpreter;
use super::lower::Bodies;
use super::text::Text;
use super::walk::Call;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};

/// A file of functions.
#[derive(Clone, Debug)]
pub struct ScriptFile {
    /// What it is called by: `expansion` for `expansion::volume_at`.
    pub name: Arc<str>,
    /// Id of the plugin it belongs to; empty for the standard library.
    pub plugin: Arc<str>,
    pub source: Arc<Source>,
}

/// A public function of a script file.
#[derive(Clone, Debug)]
pub(super) struct Function {
    pub parameters: usize,
    pub place: Place,
    pub doc: String,
}

pub(super) struct Compiled {
    pub module: Shared<Module>,
    pub functions: BTreeMap<String, Vec<Function>>,
    /// With the scripts it calls in reach.
    pub ast: AST,
    pub bodies: Bodies,
}

pub(super) struct Library {
    pub files: Vec<ScriptFile>,
    needs: IndexMap<Arc<str>, Vec<Arc<str>>>,
    compiled: RefCell<BTreeMap<usize, Result<Rc<Compiled>, Problems>>>,
    /// The functions that every script has, for suggestions.
    pub built_in: Vec<String>,
    /// Files being compiled right now, to find circles.
    under_way: RefCell<Vec<usize>>,
}

impl Library {
    pub fn new(files: Vec<ScriptFile>, needs: IndexMap<Arc<str>, Vec<Arc<str>>>, built_in: Vec<String>) -> Self {
        Self { files, needs, compiled: RefCell::default(), built_in, under_way: RefCell::default() }
    }

    /// The file that `name` means in a plugin: its own, or else one of a plugin it needs or of the standard library. Without
    /// a plugin it is one of the standard library, or else any. What somebody adds thus changes nothing for those that knew
    /// nothing of it. Two files of one name that are equally near are an error, never a choice.
    pub fn find(&self, plugin: &str, name: &str, place: &Place) -> Result<usize, Problems> {
        let hits: Vec<usize> = self
            .files
            .iter()
            .enumerate()
            .filter(|(_, file)| &*file.name == name && self.in_sight(plugin, &file.plugin))
            .map(|(index, _)| index)
            .collect();
        let own: Vec<usize> = hits.iter().copied().filter(|hit| &*self.files[*hit].plugin == plugin).collect();
        match if own.is_empty() { &hits } else { &own }.as_slice() {
            [one] => Ok(*one),
            [] => {
                let sight = self.files.iter().filter(|file| self.in_sight(plugin, &file.plugin));
                let mut diagnostic =
                    Diagnostic::error(Code::UnknownName, place, format!("there is no script `{name}`"));
                if let Some(hidden) = self.files.iter().find(|file| &*file.name == name) {
                    diagnostic = diagnostic
                        .help(format!("plugin `{}` has one: add it to `needs` in plugin.yaml", hidden.plugin));
                } else {
                    diagnostic = diagnostic.near(name, sight.map(|file| &*file.name));
                }
                Err(vec![diagnostic])
            }
            [first, second, ..] => {
                let (first, second) = (&self.files[*first].source, &self.files[*second].source);
                Err(vec![
                    Diagnostic::error(Code::DefinedTwice, place, format!("two scripts are called `{name}`"))
                        .also(&Place::whole(first), "one is here")
                        .also(&Place::whole(second), "the other is here")
                        .help("rename one of them"),
                ])
            }
        }
    }

    fn in_sight(&self, plugin: &str, of: &str) -> bool {
        plugin.is_empty()
            || of.is_empty()
            || plugin == of
            || self.needs.get(plugin).is_some_and(|needs| needs.iter().any(|need| &**need == of))
    }

    /// Compiles a file with `compile`, once.
    pub fn compiled(
        &self,
        file: usize,
        place: &Place,
        compile: impl FnOnce(usize) -> Result<Compiled, Problems>,
    ) -> Result<Rc<Compiled>, Problems> {
        if let Some(known) = self.compiled.borrow().get(&file) {
            return known.clone();
        }
        if let Some(start) = self.under_way.borrow().iter().position(|one| *one == file) {
            let circle: Vec<String> =
                self.under_way.borrow()[start..].iter().map(|one| self.files[*one].name.to_string()).collect();
            let message = format!("scripts call each other in a circle: {} -> {}", circle.join(" -> "), circle[0]);
            return Err(vec![
                Diagnostic::error(Code::FaultyScript, place, message)
                    .help("move what both need into a script of its own"),
            ]);
        }
        self.under_way.borrow_mut().push(file);
        let result = compile(file).map(Rc::new);
        self.under_way.borrow_mut().pop();
        self.compiled.borrow_mut().insert(file, result.clone());
        result
    }

    /// The functions of a call that is about to be compiled must exist.
    pub fn check_call(&self, call: &Call, compiled: &Compiled) -> Option<Diagnostic> {
        let Some(functions) = compiled.functions.get(&call.function) else {
            let message = format!("`{}` has no function `{}`", call.script, call.function);
            let problem = Diagnostic::error(Code::UnknownName, &call.place, message);
            return Some(problem.near(&call.function, compiled.functions.keys().map(String::as_str)));
        };
        if functions.iter().any(|function| function.parameters == call.arguments) {
            return None;
        }
        let takes: Vec<String> = functions.iter().map(|function| function.parameters.to_string()).collect();
        let message = format!(
            "`{}::{}` takes {} value(s), here it gets {}",
            call.script,
            call.function,
            takes.join(" or "),
            call.arguments
        );
        Some(Diagnostic::error(Code::UnknownName, &call.place, message).also(&functions[0].place, "defined here"))
    }
}

impl Texts for Library {
    fn text(&self, key: &str) -> Option<Text> {
        let index: usize = key.strip_prefix("file ")?.parse().ok()?;
        self.files.get(index).map(|file| Text::File(file.source.clone()))
    }

    fn function_names(&self) -> &[String] {
        &self.built_in
    }
}

/// The key by which the interpreter knows a file.
pub(super) fn key(file: usize) -> String {
    format!("file {file}")
}

/// `ast` with the scripts it calls in reach, each under its name. The language's own way to reach another script is an
/// `import` statement, which scripts of ours may not write; so the statements are compiled apart and put in front, where
/// they disturb no position.
pub(super) fn with_scripts(ast: AST, key: &str, calls: &[(String, usize)]) -> AST {
    let lines: Vec<String> = calls.iter().map(|(name, file)| format!("import \"{file}\" as {name};")).collect();
    let mut merged = match Interpreter::new_raw().compile(lines.join("\n")) {
        Ok(imports) if !calls.is_empty() => imports.merge(&ast),
        _ => ast,
    };
    if !key.is_empty() {
        merged.set_source(key);
    }
    merged
}

/// Turns a compiled file into a module, with the functions that others may call.
pub(super) fn module(scripts: &Interpreter, ast: &AST, text: &Text) -> Result<Compiled, Box<EvalAltResult>> {
    let module = Module::eval_ast_as_new(Scope::new(), ast, scripts)?;
    let mut functions: BTreeMap<String, Vec<Function>> = BTreeMap::new();
    for function in ast.iter_fn_def().filter(|function| function.access == FnAccess::Public) {
        let doc = function.comments.iter().map(|line| line.trim_start_matches('/').trim()).collect::<Vec<_>>();
        functions.entry(function.name.to_string()).or_default().push(Function {
            parameters: function.params.len(),
            place: text.place(function.body.start_position()),
            doc: doc.join("\n"),
        });
    }
    Ok(Compiled { module: module.into(), functions, ast: ast.clone(), bodies: Bodies::default() })
}

/// Hands the interpreter the modules of files that were compiled before.
pub(super) struct Resolver(pub Rc<Library>);

impl ModuleResolver for Resolver {
    fn resolve(
        &self,
        _: &Interpreter,
        _: Option<&str>,
        path: &str,
        position: Position,
    ) -> Result<Shared<Module>, Box<EvalAltResult>> {
        let known = path.parse().ok().and_then(|file: usize| match self.0.compiled.borrow().get(&file) {
            Some(Ok(compiled)) => Some(compiled.module.clone()),
            _ => None,
        });
        known.ok_or_else(|| EvalAltResult::ErrorModuleNotFound(path.to_string(), position).into())
    }
}
