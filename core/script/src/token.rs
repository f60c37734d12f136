//! `all(name)` speaks of a name, not of its value.
//!
//! The name between the brackets is turned into a text while the script is read, with a memory of two tokens. A custom
//! syntax would take the word `all` from every script.

use std::cell::Cell;
use std::rc::Rc;

use rhai::Token;

use super::interpreter::Interpreter;

#[derive(Clone, Copy, Default)]
enum Seen {
    #[default]
    Other,
    /// A dot or `fn`: what follows is no call of ours.
    Before,
    All,
    AllOpen,
}

/// Forgets what was read last; to be called before each compilation, which an error may have ended anywhere.
#[derive(Clone, Default)]
pub(super) struct Memory(Rc<Cell<Seen>>);

impl Memory {
    pub fn clear(&self) {
        self.0.set(Seen::Other);
    }
}

pub(super) fn register(scripts: &mut Interpreter, memory: &Memory) {
    let memory = memory.clone();
    // "Deprecated" marks it as volatile; the version of the language is pinned exactly.
    #[allow(deprecated)]
    scripts.on_parse_token(move |token, _, _| {
        let (next, token) = match (memory.0.get(), token) {
            (Seen::AllOpen, Token::Identifier(name)) => (Seen::Other, Token::StringConstant(name)),
            (Seen::All, Token::LeftParen) => (Seen::AllOpen, Token::LeftParen),
            (Seen::Before, token) => (Seen::Other, token),
            (_, token @ (Token::Period | Token::Fn)) => (Seen::Before, token),
            (_, Token::Identifier(name)) if *name == "all" => (Seen::All, Token::Identifier(name)),
            (_, token) => (Seen::Other, token),
        };
        memory.0.set(next);
        token
    });
}
