//! Keys, as far as asking needs them.

use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    Char(char),
    Enter,
    Escape,
    Tab,
    Backspace,
    Delete,
    Left,
    Right,
    Home,
    End,
    /// Ctrl-U: the line is emptied.
    Clear,
    /// Ctrl-C, or Ctrl-D on the way out.
    Interrupt,
    /// Anything else that was pressed.
    Other,
    /// The window changed its size.
    Resized,
}

impl Key {
    /// `None` for what is no key press: releases, the mouse, focus.
    pub fn from_event(event: &Event) -> Option<Key> {
        let key = match event {
            Event::Key(key) if key.kind != KeyEventKind::Release => key,
            Event::Resize(..) => return Some(Key::Resized),
            _ => return None,
        };
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return Some(match key.code {
                KeyCode::Char('c' | 'd') => Key::Interrupt,
                KeyCode::Char('u') => Key::Clear,
                KeyCode::Char('h') => Key::Backspace,
                KeyCode::Char('a') => Key::Home,
                KeyCode::Char('e') => Key::End,
                // A terminal may send the line feed of a paste, or of a script that types, as Ctrl-J.
                KeyCode::Char('j' | 'm') => Key::Enter,
                _ => Key::Other,
            });
        }
        Some(match key.code {
            KeyCode::Char(c) => Key::Char(c),
            KeyCode::Enter => Key::Enter,
            KeyCode::Esc => Key::Escape,
            KeyCode::Tab => Key::Tab,
            KeyCode::Backspace => Key::Backspace,
            KeyCode::Delete => Key::Delete,
            KeyCode::Left => Key::Left,
            KeyCode::Right => Key::Right,
            KeyCode::Home => Key::Home,
            KeyCode::End => Key::End,
            _ => Key::Other,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crossterm::event::KeyEvent;

    fn press(code: KeyCode, modifiers: KeyModifiers) -> Option<Key> {
        Key::from_event(&Event::Key(KeyEvent::new(code, modifiers)))
    }

    #[test]
    fn control_c_interrupts_and_a_plain_c_is_a_letter() {
        assert_eq!(press(KeyCode::Char('c'), KeyModifiers::CONTROL), Some(Key::Interrupt));
        assert_eq!(press(KeyCode::Char('c'), KeyModifiers::NONE), Some(Key::Char('c')));
        assert_eq!(Key::from_event(&Event::FocusLost), None);
    }
}
