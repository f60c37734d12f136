//! A page laid out for the room there is. Pure: from what is to be said to lines of text.

use super::line::Line;
use super::paint::{Paint, paint};
use super::question::Command;
use crate::offer::{Offered, words};
use crate::setting::{Choice, Header};
use standpipe_diagnostic::columns::{clean, fit, flow, hang, pad, spread, width, wrap};

/// What the screen has room for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    pub columns: usize,
    /// More than these, and something is cut.
    pub lines: usize,
}

#[derive(Clone, Debug, Default)]
pub struct Page {
    pub header: Header,
    /// Round and number of the step.
    pub round: Option<(u32, u32)>,
    pub position: Option<(usize, usize)>,
    /// The one imperative.
    pub title: String,
    /// Which item, and what to do in more words.
    pub doing: Vec<String>,
    pub cautions: Vec<String>,
    pub facts: Vec<String>,
    /// Lines that are laid out already.
    pub laid_out: Vec<String>,
    pub stake: Option<String>,
    /// What was answered at this step already.
    pub given: Vec<String>,
    /// How a reader that is followed stands, and whether that must not be overlooked.
    pub live: Vec<String>,
    pub alarm: bool,
    /// Why the last answer was not taken.
    pub refusal: Vec<String>,
    pub ask: String,
    /// The line under way, where one is typed.
    pub line: Option<Line>,
    pub choices: Vec<Choice>,
    /// What was said before, the newest first: Tab puts it in.
    pub said: Vec<String>,
    /// What Enter alone takes.
    pub offered: Vec<Offered>,
    pub commands: Vec<Command>,
    /// Commands come after Esc; `Some(true)` when it was pressed.
    pub escape: Option<bool>,
}

/// What to put on the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawn {
    pub lines: Vec<String>,
    /// Line and column of the cursor, from 0.
    pub cursor: Option<(usize, usize)>,
}

/// A stretch of the page and how far it may shrink.
struct Part {
    lines: Vec<String>,
    paint: Paint,
}

// Places of the parts that may shrink.
const DOING: usize = 2;
const FACTS: usize = 3;
const STAKE: usize = 4;
const GIVEN: usize = 5;

impl Page {
    pub fn draw(&self, room: Room, colour: bool) -> Drawn {
        let columns = room.columns;
        let header = self.header_lines(columns, colour);
        let mut parts = self.parts(columns);
        let (asked, cursor) = self.ask_lines(columns);
        let mut choices = self.explained(columns);
        let mut keys = self.keys(columns, false);
        let total = |parts: &[Part], choices: &[String], keys: &[String]| {
            header.len()
                + parts.iter().map(|part| part.lines.len()).sum::<usize>()
                + asked.len()
                + choices.len()
                + keys.len()
        };
        let mut cut = false;
        if total(&parts, &choices, &keys) > room.lines {
            choices = self.named(columns);
            cut = self.choices.iter().any(|choice| choice.meaning.is_some());
        }
        // Cautions, a reader, a refusal, what Enter takes, the question and its options are never cut.
        for (part, least) in [(GIVEN, 2), (DOING, 2), (FACTS, 3), (STAKE, 1), (DOING, 1), (FACTS, 1), (GIVEN, 1)] {
            let over = total(&parts, &choices, &keys).saturating_sub(room.lines);
            cut |= over > 0 && shrink(&mut parts[part].lines, over, least, part == GIVEN, columns);
        }
        if cut {
            keys = self.keys(columns, true);
        }

        // Room to breathe, where there is room.
        let spare = room.lines.saturating_sub(total(&parts, &choices, &keys));
        let gap = |wanted: bool| wanted.then(String::new);
        let mut lines = header;
        for part in &parts {
            lines.extend(part.lines.iter().map(|line| paint(line, part.paint, colour)));
        }
        lines.extend(gap(spare >= 2));
        let cursor = cursor.map(|(line, column)| (lines.len() + line, column));
        lines.extend(asked);
        lines.extend(choices);
        lines.extend(gap(spare >= 1 && !keys.is_empty()));
        lines.extend(keys.iter().map(|line| paint(line, Paint::Faint, colour)));
        Drawn { lines, cursor }
    }

    /// Everything there is to read on it, without asking: for `w why`.
    pub fn in_full(&self, columns: usize) -> Vec<String> {
        let mut lines: Vec<String> = self.parts(columns).into_iter().flat_map(|part| part.lines).collect();
        lines.extend(self.explained(columns));
        lines
    }

    fn header_lines(&self, columns: usize, colour: bool) -> Vec<String> {
        let banner = match (self.header.simulated, self.header.invented) {
            (true, _) => "SIMULATED",
            (false, true) => "INVENTED DATA",
            (false, false) => "",
        };
        let (of, gap) = if columns < 72 { ("/", "  ") } else { (" of ", "   ") };
        let round = self.round.map(|(round, most)| format!("round {round}{of}{most}{gap}"));
        // A procedure that was called stands beside the count of steps.
        let step = self.position.filter(|(step, _)| *step > 0).map(|(step, all)| format!("step {step}{of}{all}"));
        let beside = self.header.beside.as_ref().map(|title| fit(&clean(title), columns / 3));
        let right = format!("{}{}", round.unwrap_or_default(), step.or(beside).unwrap_or_default());
        // On a narrow screen the job and where it stands take a line each.
        let apart = columns < 60;
        let right_of_it = if apart { 0 } else { width(&right) };
        let room = columns.saturating_sub(right_of_it + width(banner) + 4);
        let whose = fit(&format!("{}  {}", clean(&self.header.job), clean(&self.header.subject)), room);
        let left = if banner.is_empty() { whose } else { format!("{}  {banner}", whose.trim_end()) };
        let lines = if apart { vec![left, right] } else { vec![spread(&left, &right, columns)] };
        let painted = |line: String| match banner.is_empty() {
            true => line,
            false => line.replacen(banner, &paint(banner, Paint::Banner, colour), 1),
        };
        lines.into_iter().filter(|line| !line.is_empty()).map(painted).collect()
    }

    fn parts(&self, columns: usize) -> Vec<Part> {
        let wrapped = |texts: &[String]| -> Vec<String> { texts.iter().flat_map(|text| wrap(text, columns)).collect() };
        let stake = self.stake.iter().flat_map(|text| hang("At stake: ", text, columns)).collect();
        let cautions = self.cautions.iter().flat_map(|text| hang("! ", text, columns)).collect();
        let refusal = self
            .refusal
            .iter()
            .enumerate()
            .flat_map(|(index, text)| hang(if index == 0 { "Not taken: " } else { "  " }, text, columns))
            .collect();
        // In the order of the page; the constants above count on it.
        vec![
            Part { lines: wrap(&imperative(&self.title), columns), paint: Paint::Strong },
            // Before the hand moves.
            Part { lines: cautions, paint: Paint::Warn },
            Part { lines: wrapped(&self.doing), paint: Paint::Plain },
            Part { lines: [wrapped(&self.facts), self.laid_out.clone()].concat(), paint: Paint::Plain },
            Part { lines: stake, paint: Paint::Plain },
            Part { lines: [wrapped(&self.given), self.said_lines(columns)].concat(), paint: Paint::Plain },
            Part { lines: wrapped(&self.live), paint: if self.alarm { Paint::Warn } else { Paint::Plain } },
            Part { lines: refusal, paint: Paint::Warn },
            Part { lines: self.offered_lines(columns), paint: Paint::Plain },
        ]
    }

    fn said_lines(&self, columns: usize) -> Vec<String> {
        if self.said.is_empty() { Vec::new() } else { hang("Tab: ", &self.said.join(" | "), columns) }
    }

    fn offered_lines(&self, columns: usize) -> Vec<String> {
        if self.offered.is_empty() { Vec::new() } else { hang("Enter: ", &words(&self.offered), columns) }
    }

    /// The question, and the line under way beside or below it.
    fn ask_lines(&self, columns: usize) -> (Vec<String>, Option<(usize, usize)>) {
        let ask = clean(&self.ask);
        let Some(line) = &self.line else { return (wrap(&ask, columns), None) };
        let room_beside = columns.saturating_sub(width(&ask) + 2);
        let (mut lines, label) = match room_beside >= 16.max(width(line.text()) + 1) {
            true => (Vec::new(), if ask.is_empty() { "> ".to_owned() } else { format!("{ask} ") }),
            false => (wrap(&ask, columns), "> ".to_owned()),
        };
        let room = columns.saturating_sub(width(&label) + 1);
        let (shown, column) = window(line, room);
        let cursor = (lines.len(), width(&label) + column);
        lines.push(format!("{label}{shown}"));
        (lines, Some(cursor))
    }

    /// One option a line with its meaning, if any has one; else side by side.
    fn explained(&self, columns: usize) -> Vec<String> {
        if self.choices.iter().all(|choice| choice.meaning.is_none()) {
            return self.named(columns);
        }
        let numbered = self.numbered();
        let widest = numbered.iter().map(|name| width(name)).max().unwrap_or(0).min(columns / 2);
        self.choices
            .iter()
            .zip(&numbered)
            .flat_map(|(choice, name)| match &choice.meaning {
                Some(meaning) => hang(&format!("{}  ", pad(name, widest)), meaning, columns),
                None => wrap(name, columns),
            })
            .collect()
    }

    fn named(&self, columns: usize) -> Vec<String> {
        flow(&self.numbered(), 3, columns)
    }

    fn numbered(&self) -> Vec<String> {
        self.choices
            .iter()
            .enumerate()
            .map(|(index, choice)| format!("{} {}", index + 1, clean(&choice.name)))
            .collect()
    }

    fn keys(&self, columns: usize, more: bool) -> Vec<String> {
        let mut keys: Vec<String> = self
            .commands
            .iter()
            .map(|command| match command {
                Command::Why if more => format!("{} more", command.key()),
                // One word less, where the line begins with what to press first.
                Command::Stop if self.escape.is_some() => format!("{} stop", command.key()),
                command => format!("{} {}", command.key(), command.word()),
            })
            .collect();
        match self.escape {
            _ if keys.is_empty() => {}
            Some(true) => keys.insert(0, "Now a key:".to_owned()),
            Some(false) => keys.insert(0, "Esc, then:".to_owned()),
            None => {}
        }
        flow(&keys, 2, columns)
    }
}

/// Takes away up to `over` lines, from the end or from the start, but leaves `least`.
fn shrink(lines: &mut Vec<String>, over: usize, least: usize, from_start: bool, columns: usize) -> bool {
    let away = over.min(lines.len().saturating_sub(least));
    if away == 0 {
        return false;
    }
    if from_start {
        *lines = lines.split_off(away);
    } else {
        lines.truncate(lines.len() - away);
        if let Some(last) = lines.last_mut() {
            *last = format!("{} …", fit(last, columns.saturating_sub(2)));
        }
    }
    true
}

/// The stretch of a line around its cursor that fits, and the cursor's column in it.
fn window(line: &Line, room: usize) -> (String, usize) {
    let column = line.column();
    if column <= room && width(line.text()) <= room {
        return (line.text().to_owned(), column);
    }
    let start = column.saturating_sub(room);
    let (mut passed, mut shown) = (0, String::new());
    for c in line.text().chars() {
        let next = passed + width(c.encode_utf8(&mut [0; 4]));
        if passed >= start && next - start <= room {
            shown.push(c);
        }
        passed = next;
    }
    (shown, column - start)
}

/// Capitals for what is to be done; units and what stands after a number keep theirs, N·m is not N·M.
pub fn imperative(title: &str) -> String {
    let mut after_number = false;
    let words: Vec<String> = title
        .split_whitespace()
        .map(|word| {
            let bare = word.trim_end_matches([',', '.', ':', ';', '!', '?']);
            let letters = bare.chars().all(|c| c.is_alphabetic() || matches!(c, '-' | '\'' | '’'));
            let keep = after_number || !letters;
            after_number = bare.ends_with(|c: char| c.is_numeric());
            if keep { word.to_owned() } else { word.to_uppercase() }
        })
        .collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A window of half a screen's height.
    fn narrow(columns: usize) -> Room {
        Room { columns, lines: 12 }
    }

    fn page() -> Page {
        Page {
            header: Header {
                job: "2026-1101".to_owned(),
                subject: "FL 417, parcel van".to_owned(),
                invented: true,
                simulated: false,
                beside: None,
            },
            round: Some((1, 3)),
            position: Some((27, 38)),
            title: "Look at the opening".to_owned(),
            cautions: vec!["Jo in the seat. Only Rita beneath.".to_owned()],
            facts: vec!["Water 53.6 °C, window 51..58 °C.".to_owned()],
            choices: ["nothing", "thin drip", "stream", "stream for over 4 min"]
                .map(|name| Choice { name: name.to_owned(), meaning: None })
                .to_vec(),
            commands: Command::STEP.to_vec(),
            ..Page::default()
        }
    }

    #[test]
    fn a_page_reads_from_top_to_bottom() {
        let drawn = page().draw(narrow(80), false);
        assert_eq!(
            drawn.lines,
            [
                "2026-1101  FL 417, parcel van  INVENTED DATA        round 1 of 3   step 27 of 38",
                "LOOK AT THE OPENING",
                "! Jo in the seat. Only Rita beneath.",
                "Water 53.6 °C, window 51..58 °C.",
                "",
                "1 nothing   2 thin drip   3 stream   4 stream for over 4 min",
                "",
                "b back  c correct  n note  a photo  p pause  w why  x stop and call  q leave",
            ]
        );
        assert_eq!(drawn.cursor, None);
    }

    #[test]
    fn it_fits_sixty_columns_and_never_loses_the_banner_or_the_step() {
        let mut page = page();
        page.header.subject = "a thing with quite a long description".to_owned();
        let drawn = page.draw(narrow(60), false);
        assert!(drawn.lines.iter().all(|line| width(line) <= 60), "{:#?}", drawn.lines);
        assert!(drawn.lines[0].contains("INVENTED DATA") && drawn.lines[0].ends_with("round 1/3  step 27/38"));
    }

    #[test]
    fn a_full_page_shrinks_to_a_dozen_lines_but_keeps_every_caution() {
        let long = "many words that go on and on until they fill more than one line of eighty columns, surely";
        let mut page = page();
        page.doing = vec![long.to_owned(); 3];
        page.facts = vec![long.to_owned(); 3];
        page.given = (1..=6).map(|n| format!("value {n}: 1")).collect();
        page.stake = Some(long.repeat(2));
        page.cautions = vec!["one".to_owned(), "two".to_owned(), "three".to_owned()];
        for choice in &mut page.choices {
            choice.meaning = Some("what it means".to_owned());
        }
        let drawn = page.draw(narrow(80), false);
        assert!(drawn.lines.len() <= 12, "{:#?}", drawn.lines);
        let text = drawn.lines.join("\n");
        for kept in ["! one", "! two", "! three", "At stake", "value 6", "4 stream for over 4 min", "w more"] {
            assert!(text.contains(kept), "{kept} is missing:\n{text}");
        }
        // Where the screen has the lines, nothing is cut.
        let tall = page.draw(Room { columns: 80, lines: 40 }, false).lines.join("\n");
        assert!(tall.contains("value 1: 1") && tall.contains("what it means") && !tall.contains('…'), "{tall}");
        let full = page.in_full(80).join("\n");
        assert!(full.contains("value 1: 1") && full.contains("what it means"));
    }

    #[test]
    fn the_cursor_stands_where_the_next_letter_goes() {
        let mut page = page();
        page.choices.clear();
        page.ask = "Water, in °C:".to_owned();
        page.line = Some(Line::new("38.2"));
        let drawn = page.draw(narrow(80), false);
        assert_eq!(drawn.lines[5], "Water, in °C: 38.2");
        assert_eq!(drawn.cursor, Some((5, 18)));
        page.line = Some(Line::new(&"x".repeat(200)));
        let drawn = page.draw(narrow(60), false);
        assert!(drawn.lines.iter().all(|line| width(line) <= 60));
        let (row, column) = drawn.cursor.unwrap();
        assert_eq!(column, width(&drawn.lines[row]));
    }

    #[test]
    fn capitals_spare_units_and_codes() {
        assert_eq!(imperative("Set it to 8.5 N·m, then wait"), "SET IT TO 8.5 N·m, THEN WAIT");
        assert_eq!(imperative("Pour 3 L in"), "POUR 3 L IN");
    }

    #[test]
    fn without_colour_nothing_is_painted_and_with_it_the_text_is_the_same() {
        let plain = page().draw(narrow(80), false).lines.join("\n");
        let painted = page().draw(narrow(80), true).lines.join("\n");
        assert!(!plain.contains('\u{1b}') && painted.contains("\u{1b}[7mINVENTED DATA\u{1b}[0m"));
        let mut stripped = String::new();
        let mut rest = painted.as_str();
        while let Some(start) = rest.find('\u{1b}') {
            stripped.push_str(&rest[..start]);
            let end = rest[start..].find('m').unwrap();
            rest = &rest[start + end + 1..];
        }
        stripped.push_str(rest);
        assert_eq!(stripped, plain);
    }
}
