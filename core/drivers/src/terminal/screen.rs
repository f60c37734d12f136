//! The page of one step: from what the job asks to what is on the screen.

use super::page::{Page, Room};
use super::question::Command;
use crate::setting::{Choice, Header};
use standpipe_diagnostic::columns::capital;
use standpipe_job::{AnswerKind, Prompt, PromptField};

/// The step as lines of text, as it is first asked.
pub fn screen(prompt: &Prompt, header: &Header, room: Room, colour: bool) -> Vec<String> {
    let mut page = step_page(prompt, header);
    if let Some(field) = prompt.fields.first() {
        if prompt.fields.len() > 1 || !is_said_by_the_title(field) {
            page.ask = ask(field, field.unit.as_deref());
        }
        page.choices = choices(field);
    }
    page.draw(room, colour).lines
}

/// What the page of a step says before anything is asked.
pub fn step_page(prompt: &Prompt, header: &Header) -> Page {
    let mut doing = Vec::new();
    if let Some(label) = &prompt.label {
        doing.push(match prompt.count {
            Some((number, all)) if label.ends_with(&format!(" {number}")) => format!("{label} of {all}"),
            Some((number, all)) => format!("{label}  ({number} of {all})"),
            None => label.clone(),
        });
    }
    if let Some(text) = prompt.text.as_ref().filter(|text| **text != prompt.title) {
        doing.push(text.clone());
    }
    let mut facts = prompt.turned.clone();
    if let Some(by) = &prompt.again {
        facts.push(format!("Asked again: the last answer was ended by {by}."));
    } else if prompt.attempts > 0 {
        facts.push(match &prompt.last {
            Some(last) => format!("Asked again: {last} did not count."),
            None => format!("Asked again: {} so far without success.", times(prompt.attempts)),
        });
    }
    let mut commands = Command::STEP.to_vec();
    if prompt.spared {
        facts.push("As things stand now this is not needed: s leaves it out.".to_owned());
        commands.push(Command::Skip);
    }
    facts.extend(prompt.show.iter().cloned());
    if let Some(within) = &prompt.within {
        facts.push(format!("Wait until it is within {within}."));
    }
    facts.extend(prompt.limits.iter().cloned());
    Page {
        header: header.clone(),
        round: prompt.round,
        position: Some(prompt.position),
        title: prompt.title.clone(),
        doing,
        cautions: prompt.cautions.clone(),
        facts,
        stake: prompt.at_stake.clone(),
        commands,
        ..Page::default()
    }
}

/// The question for one value; `unit` is that of a bare number.
pub fn ask(field: &PromptField, unit: Option<&str>) -> String {
    let question = field.ask.trim();
    let question = question.strip_suffix(':').unwrap_or(question);
    let stop = if question.ends_with(['?', '.', '!']) { "" } else { ":" };
    let leave_out = if field.optional { "  (Enter alone leaves it out)" } else { "" };
    match field.kind {
        AnswerKind::Done => "Enter when it is done.".to_owned(),
        AnswerKind::Choice | AnswerKind::Person | AnswerKind::Signature | AnswerKind::Sign
            if !field.options.is_empty() =>
        {
            capital(question)
        }
        AnswerKind::Quantity | AnswerKind::Held => match unit {
            Some(unit) => format!("{} [{unit}]{stop}{leave_out}", capital(question)),
            None => format!("{} [with its unit]{stop}{leave_out}", capital(question)),
        },
        AnswerKind::Date => format!("{} [year-month-day, or +days]{stop}{leave_out}", capital(question)),
        _ => format!("{}{stop}{leave_out}", capital(question)),
    }
}

/// A choice without a question of its own: the imperative of the step says what is to be chosen.
pub fn is_said_by_the_title(field: &PromptField) -> bool {
    field.kind == AnswerKind::Choice && field.ask == field.name.replace('_', " ")
}

pub fn choices(field: &PromptField) -> Vec<Choice> {
    let people = field.kind.is_of_people();
    field
        .options
        .iter()
        .map(|(id, meaning)| match meaning {
            Some(name) if people => Choice { name: name.clone(), meaning: None },
            meaning => Choice { name: id.clone(), meaning: meaning.clone() },
        })
        .collect()
}

fn times(attempts: u32) -> String {
    if attempts == 1 { "once".to_owned() } else { format!("{attempts} times") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::columns::width;
    use standpipe_job::Address;

    fn field(kind: AnswerKind) -> PromptField {
        PromptField {
            name: "dripping".to_owned(),
            ask: "dripping".to_owned(),
            kind,
            quantity: None,
            unit: None,
            options: Vec::new(),
            with: None,
            instruments: Vec::new(),
            end_of: None,
            ends: Default::default(),
            optional: false,
            expected: String::new(),
        }
    }

    fn prompt(field: PromptField) -> Prompt {
        Prompt {
            address: Address::step("look", &[2]),
            asks: "look[2]".to_owned(),
            title: "Look at the opening".to_owned(),
            text: None,
            kind: "pick".to_owned(),
            item: None,
            label: None,
            count: None,
            fields: vec![field],
            cautions: vec!["The exhaust is hot. Goggles, sleeves, stand aside.".to_owned()],
            why: Some("Because.".to_owned()),
            show: vec!["Water 53.6 °C, window 51..58 °C.".to_owned()],
            round: Some((2, 3)),
            position: (27, 38),
            hold: None,
            within: None,
            limits: Vec::new(),
            evidence: None,
            witness: None,
            at_stake: Some("Too early a drip leaves it short.".to_owned()),
            attempts: 0,
            last: None,
            again: Some("water shut off".to_owned()),
            spared: false,
            turned: Vec::new(),
        }
    }

    fn header() -> Header {
        Header {
            job: "2026-1101".to_owned(),
            subject: "FL 417".to_owned(),
            invented: true,
            simulated: false,
            beside: None,
        }
    }

    #[test]
    fn a_step_shows_one_imperative_and_one_key_for_each_option() {
        let mut pick = field(AnswerKind::Choice);
        pick.options = vec![
            ("nothing".to_owned(), Some("It is short.".to_owned())),
            ("thin drip".to_owned(), Some("Drop after drop, barely a thread.".to_owned())),
        ];
        assert_eq!(
            screen(&prompt(pick), &header(), Room { columns: 80, lines: 12 }, false),
            [
                "2026-1101  FL 417  INVENTED DATA                    round 2 of 3   step 27 of 38",
                "LOOK AT THE OPENING",
                "! The exhaust is hot. Goggles, sleeves, stand aside.",
                "Asked again: the last answer was ended by water shut off.",
                "Water 53.6 °C, window 51..58 °C.",
                "At stake: Too early a drip leaves it short.",
                "",
                "1 nothing    It is short.",
                "2 thin drip  Drop after drop, barely a thread.",
                "",
                "b back  c correct  n note  a photo  p pause  w why  x stop and call  q leave",
            ]
        );
    }

    #[test]
    fn a_figure_says_which_unit_a_bare_number_has() {
        let mut quantity = field(AnswerKind::Quantity);
        quantity.ask = "How warm is it?".to_owned();
        assert_eq!(ask(&quantity, Some("°C")), "How warm is it? [°C]");
        assert_eq!(ask(&quantity, None), "How warm is it? [with its unit]");
        quantity.ask = "tare".to_owned();
        quantity.optional = true;
        assert_eq!(ask(&quantity, Some("kg")), "Tare [kg]:  (Enter alone leaves it out)");
    }

    #[test]
    fn people_are_shown_by_name_and_nothing_is_wider_than_the_terminal() {
        let mut person = field(AnswerKind::Person);
        person.options = (0..12).map(|n| (format!("id{n}"), Some(format!("Person Number {n}")))).collect();
        for columns in [40, 60, 80] {
            let lines = screen(&prompt(person.clone()), &header(), Room { columns, lines: 12 }, false);
            assert!(lines.iter().all(|line| width(line) <= columns), "{lines:#?}");
            assert!(lines.join("\n").contains("12 Person Number 11"));
        }
    }
}
