//! `all(name)` speaks of a name, not of its value.
//!
//! The name between the brackets is turned into a text while the script is read, with a memory of two tokens. A custom
//! syntax would take the word `all` from every script.

use std::cell::Cell;
use std::rc::Rc;

use rhai::{Engine, Token};

#[derive(Clone, Copy, Default)]
enum Seen {
    #[default]
    Other,
    Dot,
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

pub(super) fn register(scripts: &mut Engine, memory: &Memory) {
    let memory = memory.clone();
    // "Deprecated" marks it as volatile; the version of the language is pinned exactly.
    #[allow(deprecated)]
    scripts.on_parse_token(move |token, _, _| {
        let (next, token) = match (memory.0.get(), token) {
            (Seen::AllOpen, Token::Identifier(name)) => (Seen::Other, Token::StringConstant(name)),
            (Seen::All, Token::LeftParen) => (Seen::AllOpen, Token::LeftParen),
            // `list.all(...)` would be a method, and there is none.
            (Seen::Dot, token) => (Seen::Other, token),
            (_, Token::Period) => (Seen::Dot, Token::Period),
            (_, Token::Identifier(name)) if *name == "all" => (Seen::All, Token::Identifier(name)),
            (_, token) => (Seen::Other, token),
        };
        memory.0.set(next);
        token
    });
}
