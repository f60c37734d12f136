//! What keys mean: from a key to an answer, without any input or output.

use super::key::Key;
use super::line::Line;

/// What can be done beside answering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    Back,
    Correct,
    Note,
    Attach,
    Pause,
    Why,
    Stop,
    Leave,
    /// Takes the value from a log.
    Log,
    /// What is asked, and all that is left of its pass.
    Rest,
    /// Leaves the step out, with a reason.
    Skip,
    /// Ends the job unfinished, with a reason.
    Abandon,
}

impl Command {
    /// What is there at every step, in the order of the keys line.
    pub const STEP: &'static [Command] = &[
        Command::Back,
        Command::Correct,
        Command::Note,
        Command::Attach,
        Command::Pause,
        Command::Why,
        Command::Stop,
        Command::Leave,
    ];

    pub fn key(self) -> char {
        match self {
            Command::Back => 'b',
            Command::Correct => 'c',
            Command::Note => 'n',
            Command::Attach => 'a',
            Command::Pause => 'p',
            Command::Why => 'w',
            Command::Stop => 'x',
            Command::Leave => 'q',
            Command::Log => 'l',
            Command::Rest => 'r',
            Command::Skip => 's',
            Command::Abandon => 'e',
        }
    }

    pub fn word(self) -> &'static str {
        match self {
            Command::Back => "back",
            Command::Correct => "correct",
            Command::Note => "note",
            Command::Attach => "photo",
            Command::Pause => "pause",
            Command::Why => "why",
            Command::Stop => "stop and call",
            Command::Leave => "leave",
            Command::Log => "log",
            Command::Rest => "the rest of this pass is done",
            Command::Skip => "leave this step out",
            Command::Abandon => "end the job unfinished",
        }
    }
}

/// What kind of answer is awaited.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wants {
    /// Enter.
    Confirm,
    /// One of so many options, by its number.
    Choice(usize),
    /// A number with or without a unit: an empty line and a letter is a command.
    Figure,
    /// Words: letters are text, a command comes after Esc.
    Words,
    /// Any key to go on, unless it is a command.
    AnyKey,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    Confirmed,
    /// Index of the option.
    Picked(usize),
    Typed(String),
    Command(Command),
    /// Esc where there is nothing to command.
    Cancelled,
    Interrupted,
}

/// The answer as far as it is typed.
#[derive(Clone, Debug, Default)]
pub struct Typing {
    pub line: Line,
    /// Esc was pressed: the next letter is a command.
    pub commanding: bool,
    /// It was a whole answer before it was refused or gone back to: what is typed now stands in its place, and what moves in
    /// it mends it.
    whole: bool,
}

impl Typing {
    pub fn new(text: &str) -> Self {
        Self { line: Line::new(text), ..Self::default() }
    }

    /// A whole answer, to be typed anew or mended.
    pub fn whole(text: &str) -> Self {
        Self { whole: !text.is_empty(), ..Self::new(text) }
    }

    /// As it was before something else was done.
    pub fn kept(self) -> Self {
        Self { commanding: false, ..self }
    }

    /// Puts in what was said before; pressed again, what was said before that.
    pub fn fill(&mut self, said: &[String]) {
        let at = said.iter().position(|text| text == self.line.text()).map_or(0, |at| at + 1);
        if let Some(text) = said.get(at).or(said.first()) {
            *self = Self::new(text);
        }
    }

    /// `None` while there is no answer yet.
    pub fn key(&mut self, key: Key, wants: Wants, commands: &[Command]) -> Option<Answer> {
        if key == Key::Interrupt {
            return Some(Answer::Interrupted);
        }
        if wants == Wants::AnyKey {
            let answer = command(key, commands).map_or(Answer::Confirmed, Answer::Command);
            return (key != Key::Resized).then_some(answer);
        }
        if self.commanding {
            if key == Key::Resized {
                return None;
            }
            self.commanding = false;
            return command(key, commands).map(Answer::Command);
        }
        if !self.astray(wants).is_empty() {
            self.mend(key);
            return None;
        }
        if key == Key::Escape {
            // A menu, which lists the way back last, is left by it too.
            if commands.is_empty() || commands.last() == Some(&Command::Back) {
                return Some(Answer::Cancelled);
            }
            self.commanding = true;
            return None;
        }
        let at_once = wants != Wants::Words && (self.line.is_empty() || self.whole);
        if at_once && let Some(command) = command(key, commands) {
            return Some(Answer::Command(command));
        }
        match wants {
            Wants::Confirm if key == Key::Enter => Some(Answer::Confirmed),
            Wants::Confirm => {
                self.stray(key);
                None
            }
            Wants::Choice(options) => self.choice(key, options),
            Wants::Figure | Wants::Words => {
                if key == Key::Enter {
                    return Some(Answer::Typed(self.line.text().trim().to_owned()));
                }
                if self.whole && matches!(key, Key::Char(_)) {
                    self.line = Line::default();
                }
                // A key that means nothing to a line changes nothing of that.
                self.whole &= !self.line.key(key);
                None
            }
            Wants::AnyKey => None,
        }
    }

    /// What was typed where one key answers: it was meant for another page, and must not become an answer to this one.
    pub fn astray(&self, wants: Wants) -> &str {
        match wants {
            Wants::Confirm | Wants::Choice(0..=9) => self.line.text(),
            _ => "",
        }
    }

    fn stray(&mut self, key: Key) {
        if matches!(key, Key::Char(c) if !c.is_whitespace()) {
            self.line.key(key);
        }
    }

    /// All of it goes at once, or a letter at a time.
    fn mend(&mut self, key: Key) {
        match key {
            Key::Enter | Key::Escape => self.line = Line::default(),
            key => {
                self.line.key(key);
            }
        }
    }

    /// Up to nine options one key answers; beyond that, the number and Enter.
    fn choice(&mut self, key: Key, options: usize) -> Option<Answer> {
        let picked = |number: usize| (1..=options).contains(&number).then(|| Answer::Picked(number - 1));
        match key {
            Key::Char(c) if options <= 9 && c.is_ascii_digit() => picked(c.to_digit(10)? as usize),
            Key::Char(_) if options <= 9 => {
                self.stray(key);
                None
            }
            Key::Char(c) if !c.is_ascii_digit() => None,
            Key::Enter => {
                let number = self.line.text().parse().ok()?;
                self.line = Line::default();
                picked(number)
            }
            key => {
                self.line.key(key);
                None
            }
        }
    }
}

fn command(key: Key, commands: &[Command]) -> Option<Command> {
    let Key::Char(letter) = key else { return None };
    commands.iter().copied().find(|command| command.key() == letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer(wants: Wants, keys: &[Key]) -> Option<Answer> {
        let mut typing = Typing::default();
        let mut answer = None;
        for key in keys {
            assert_eq!(answer, None, "answered before the last key");
            answer = typing.key(*key, wants, Command::STEP);
        }
        answer
    }

    fn chars(text: &str) -> Vec<Key> {
        text.chars().map(|c| if c == '\n' { Key::Enter } else { Key::Char(c) }).collect()
    }

    #[test]
    fn every_key_stands_in_the_pages_for_the_technician() {
        let page = include_str!("../../../../plugins/TECHNICIAN.md");
        let others = [Command::Log, Command::Rest, Command::Skip, Command::Abandon];
        for command in Command::STEP.iter().chain(&others) {
            let key = format!("`{}`", command.key());
            let line = page.lines().find(|line| line.starts_with('|') && line.contains(&key)).unwrap_or_default();
            let word = command.word().split(' ').find(|word| *word != "the").unwrap_or_default();
            assert!(line.contains(word), "{key} {}: {line}", command.word());
        }
    }

    #[test]
    fn one_key_answers_a_choice_and_many_options_take_a_number_and_enter() {
        assert_eq!(answer(Wants::Choice(4), &chars("3")), Some(Answer::Picked(2)));
        assert_eq!(answer(Wants::Choice(4), &chars("5")), None);
        assert_eq!(answer(Wants::Choice(4), &chars("0")), None);
        assert_eq!(answer(Wants::Choice(12), &chars("11\n")), Some(Answer::Picked(10)));
        assert_eq!(answer(Wants::Choice(12), &chars("13\n")), None);
    }

    #[test]
    fn letters_are_commands_before_a_figure_and_text_among_words() {
        assert_eq!(answer(Wants::Figure, &chars("p")), Some(Answer::Command(Command::Pause)));
        assert_eq!(answer(Wants::Figure, &chars("38 p\n")), Some(Answer::Typed("38 p".to_owned())));
        assert_eq!(answer(Wants::Words, &chars("park\n")), Some(Answer::Typed("park".to_owned())));
        let mut keys = chars("pa");
        keys.extend([Key::Escape, Key::Char('w')]);
        assert_eq!(answer(Wants::Words, &keys), Some(Answer::Command(Command::Why)));
    }

    #[test]
    fn a_whole_answer_is_replaced_by_what_is_typed_and_mended_by_what_moves_in_it() {
        let typed = |keys: &[Key]| {
            let mut typing = Typing::whole("6");
            keys.iter().find_map(|key| typing.key(*key, Wants::Figure, Command::STEP))
        };
        assert_eq!(typed(&chars("8.2\n")), Some(Answer::Typed("8.2".to_owned())), "never 68.2");
        assert_eq!(typed(&chars("\n")), Some(Answer::Typed("6".to_owned())));
        assert_eq!(typed(&[&[Key::End][..], &chars("0\n")].concat()), Some(Answer::Typed("60".to_owned())));
        assert_eq!(typed(&chars("p")), Some(Answer::Command(Command::Pause)));
        assert_eq!(typed(&[&[Key::Tab][..], &chars("8.2\n")].concat()), Some(Answer::Typed("8.2".to_owned())));
    }

    #[test]
    fn tab_goes_through_what_was_said_before_and_enters_nothing() {
        let said = ["b".to_owned(), "a".to_owned()];
        let mut typing = Typing::default();
        for text in ["b", "a", "b"] {
            typing.fill(&said);
            assert_eq!(typing.line.text(), text);
        }
        typing.fill(&[]);
        assert_eq!(typing.key(Key::Enter, Wants::Words, &[]), Some(Answer::Typed("b".to_owned())));
    }

    #[test]
    fn escape_leaves_where_there_is_nothing_to_command() {
        let mut typing = Typing::default();
        assert_eq!(typing.key(Key::Escape, Wants::Words, &[]), Some(Answer::Cancelled));
        assert_eq!(typing.key(Key::Interrupt, Wants::Words, &[]), Some(Answer::Interrupted));
    }

    #[test]
    fn only_enter_confirms() {
        assert_eq!(answer(Wants::Confirm, &chars("y")), None);
        assert_eq!(answer(Wants::Confirm, &chars(" ")), None);
        assert_eq!(answer(Wants::Confirm, &[Key::Enter]), Some(Answer::Confirmed));
    }

    #[test]
    fn what_was_meant_for_another_page_answers_nothing() {
        for (wants, after, taken) in [
            (Wants::Confirm, "\n", Answer::Confirmed),
            (Wants::Choice(4), "2", Answer::Picked(1)),
            (Wants::Choice(4), "p", Answer::Command(Command::Pause)),
        ] {
            for astray in ["km 2 p", "it drips", "\u{e9}"] {
                let typed = format!("{astray}\n{after}");
                assert_eq!(answer(wants, &chars(&typed)), Some(taken.clone()), "{typed:?}");
            }
            let mut keys = chars("k2");
            keys.extend([Key::Backspace, Key::Backspace]);
            keys.extend(chars(after));
            assert_eq!(answer(wants, &keys), Some(taken.clone()));
            let keys = [&chars("k2p")[..], &[Key::Escape], &chars(after)].concat();
            assert_eq!(answer(wants, &keys), Some(taken.clone()));
        }
        assert_eq!(answer(Wants::Confirm, &chars("148230 km\n")), None);
        assert_eq!(answer(Wants::Choice(12), &chars("k11\n")), Some(Answer::Picked(10)), "a line is typed there");
    }

    #[test]
    fn every_command_has_a_key_of_its_own() {
        let keys: std::collections::HashSet<char> = Command::STEP.iter().map(|command| command.key()).collect();
        assert_eq!(keys.len(), Command::STEP.len());
    }
}
