//! Whole sittings: keys go in, a page is what was last drawn, and the records are what the job keeps.

mod from_log;
mod keystrokes;
mod reader;

use std::collections::VecDeque;
use std::io;
use std::path::Path;
use std::time::Duration;

use super::console::Console;
use super::key::Key;
use super::page::{Drawn, Room};
use super::session::Session;
use super::{Ended, Outcome};
use crate::live_reader::LiveReader;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Look, human};
use standpipe_job::plan::{Inputs, build, kept};
use standpipe_job::{Event, Hold, Journal, Machine, OpenJob, Record, State};
use standpipe_library::{File, Files, Layer};
use standpipe_quantity::value::Value;

const FORM: &str = "\
form: kettle
title: Kettle
fields:
  settle: { is: time }
job:
  kettle.plate: { is: text }
subject: [kettle.plate]
";

const FAMILY: &str = "\
family: grebe
form: kettle
title: Grebe
invented: true
settle: unknown
sources: [{ covers: all, from: invented for the tests }]
";

const SHOP: &str = "\
shop: bench
people:
  ann: { name: Ann A., roles: [hand] }
  bob: { name: Bob B., roles: [head, checker] }
instruments:
  probe: { kind: reader, unit: degC }
  dial: { kind: reader, unit: degF }
  gauge-1: { kind: gauge, unit: degC }
  short-rod: { title: Short rod, kind: rod, range: 2..25 mm, unit: mm }
  long-rod: { kind: rod, range: 8..75 cm, unit: cm }
  old-rod: { kind: rod, unit: mm }
";

/// A sheet that looks ahead by a rule that is easily worked out by hand: thirty seconds for each degree that is left.
const SOON: &str = "\
sheet: soon
title: Soon
script: soon::soon
sources: [invented for the tests]
inputs:
  readings: { is: list of record, fields: { time: time, warmth: temperature } }
  low: { is: temperature }
  high: { is: temperature }
outputs:
  closes: { is: record, fields: { earliest: time } }
";

const SOON_SCRIPT: &str = "\
/// Thirty seconds for each degree.
fn soon(given) {
    #{ closes: #{ earliest: (given.high - given.readings.last().warmth) / 1.degC_diff * 30.s } }
}
";

fn machine(steps: &str) -> Machine {
    let mut files = Files::built_in();
    files.list.retain(|file| file.plugin == "units");
    let plugin = "plugin: test\nversion: \"1.0.0\"\nlicence: MIT\nauthor: tests\nplugins: [units]\n";
    let procedure = format!("procedure: main\ntitle: Main\nreachable: [help]\n{steps}");
    let help = "procedure: help\ntitle: Help\nsteps: [{ id: helped, title: Help, do: Help. }]\n";
    for (path, text) in [
        ("plugin.yaml", plugin),
        ("sheets/soon.yaml", SOON),
        ("scripts/soon.rhai", SOON_SCRIPT),
        ("forms/kettle.yaml", FORM),
        ("families/grebe.yaml", FAMILY),
        ("procedures/main.yaml", &procedure),
        ("procedures/help.yaml", help),
    ] {
        files.list.push(File::new(Layer::Given(1), "test", path, text));
    }
    let job = Source::new("job.yaml", "job: T-1\nfamily: grebe\nprocedure: main\nkettle: { plate: AB 1 }\n");
    let mut problems = Vec::new();
    let plan = build(Inputs::new(job, Some(Source::new("shop.yaml", SHOP)), files), &mut problems);
    Machine::new(
        plan.unwrap_or_else(|| panic!("{}", human(&problems, Look { color: false, width: 100, folded: false }))),
    )
}

/// Every key comes a second after the one before, or so many milliseconds; `Wait` lets ten seconds pass without one.
enum Press {
    Key(Key),
    Quick(Key, u64),
    Wait,
}

struct Script {
    keys: VecDeque<Press>,
    now: Duration,
    drawn: Vec<String>,
    bells: usize,
}

impl Console for Script {
    fn room(&self) -> Room {
        Room { columns: 80, lines: 12 }
    }

    fn colour(&self) -> bool {
        false
    }

    fn draw(&mut self, drawn: &Drawn) -> io::Result<()> {
        self.drawn.push(drawn.lines.join("\n"));
        Ok(())
    }

    fn key(&mut self, wait: Option<Duration>) -> io::Result<Option<Key>> {
        Ok(match (self.keys.pop_front(), wait) {
            (Some(Press::Key(key)), _) => {
                self.now += Duration::from_secs(1);
                Some(key)
            }
            (Some(Press::Quick(key, milliseconds)), _) => {
                self.now += Duration::from_millis(milliseconds);
                Some(key)
            }
            (Some(Press::Wait), _) => {
                self.now += Duration::from_secs(10);
                None
            }
            (None, _) => Some(Key::Interrupt),
        })
    }

    fn elapsed(&self) -> Duration {
        self.now
    }

    fn bell(&mut self) -> io::Result<()> {
        self.bells += 1;
        Ok(())
    }

    fn rest(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// `\n` is Enter, `\t` Tab, `\x1b` Esc, Ctrl-U empties the line, `~` a wait; `\x0b` is Enter 119 ms after the key before it, `\x0c`
/// Enter after 120 ms.
fn presses(text: &str) -> VecDeque<Press> {
    let press = |c| match c {
        '\n' => Press::Key(Key::Enter),
        '\u{1b}' => Press::Key(Key::Escape),
        '~' => Press::Wait,
        '\u{0b}' => Press::Quick(Key::Enter, 119),
        '\u{0c}' => Press::Quick(Key::Enter, 120),
        '\u{15}' => Press::Key(Key::Clear),
        '\t' => Press::Key(Key::Tab),
        c => Press::Key(Key::Char(c)),
    };
    text.chars().map(press).collect()
}

struct Sitting {
    ended: Ended,
    state: State,
    /// Of this sitting.
    records: Vec<Record>,
    drawn: Vec<String>,
    bells: usize,
}

impl Sitting {
    fn saw(&self, text: &str) -> bool {
        self.drawn.iter().any(|page| page.contains(text))
    }

    fn events(&self) -> impl Iterator<Item = &Event> {
        self.records.iter().map(|record| &record.event)
    }

    fn typed(&self, name: &str) -> Vec<&str> {
        let typed = self.events().filter_map(|event| match event {
            Event::Entered { typed, .. } => typed.get(name),
            _ => None,
        });
        typed.map(String::as_str).collect()
    }
}

fn sit(machine: &Machine, who: &str, keys: &str) -> Sitting {
    sit_with(machine, who, keys, None)
}

fn sit_with(machine: &Machine, who: &str, keys: &str, reader: Option<LiveReader>) -> Sitting {
    let folder = tempfile::tempdir().unwrap();
    sit_in(folder.path(), machine, who, keys, reader)
}

/// In a folder, where the job begins or goes on; `@` in the keys stands for it.
fn sit_in(folder: &Path, machine: &Machine, who: &str, keys: &str, reader: Option<LiveReader>) -> Sitting {
    let dir = folder.join("job");
    let hold = match Journal::is_in(&dir) {
        true => Hold::Write,
        false => Hold::Begin(Box::new(kept(&machine.plan.snapshot.kept(), "plan.json").unwrap())),
    };
    let mut job = OpenJob::open(&dir, hold).unwrap();
    let before = job.records().len();
    let keys = presses(&keys.replace('@', &folder.display().to_string()));
    let mut console = Script { keys, now: Duration::from_secs(1), drawn: Vec::new(), bells: 0 };
    let clock = || "2026-11-23T08:00:00+00:00".parse().unwrap();
    let ended = Session::new(&mut job, &clock, &mut console, who.to_owned(), reader).run().unwrap();
    let records = job.records()[before..].to_vec();
    // What counts is what is on the disk.
    assert_eq!(Journal::read(&dir).unwrap().records, job.records());
    Sitting { ended, state: job.state().clone(), records, drawn: console.drawn, bells: console.bells }
}

#[test]
fn a_value_is_asked_with_its_instrument_and_a_bare_number_has_its_unit() {
    let machine =
        machine("steps:\n  - { id: warm, title: Read it, read: { warm: { is: temperature, instrument: reader } } }\n");
    let sitting = sit(&machine, "ann", "298.6\n");
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:?}", sitting.ended.outcome);
    assert!(sitting.saw("With which reader?\n1 probe   2 dial") && sitting.saw("Warm [°F]:"));
    let Some(reading) = sitting.state.latest("warm") else { panic!("nothing was read") };
    let Value::Quantity(warm) = &reading.value else { panic!("{:?}", reading.value) };
    assert!((warm.si - 310.15).abs() < 1e-9, "98.6 degF is 37 degC; {}", warm.si);
    assert_eq!(reading.with.as_deref(), Some("dial"));
}

#[test]
fn a_key_that_bounces_answers_no_second_question() {
    let machine = machine(
        "steps:\n  - { id: a, title: A, do: A. }\n  - { id: b, title: B, do: B. }\n  - { id: c, title: C, do: C. }\n",
    );
    let done = |keys: &str| {
        let sitting = sit(&machine, "ann", keys);
        sitting.events().filter(|event| matches!(event, Event::Entered { .. })).count()
    };
    assert_eq!(done("\n\x0b"), 1, "a second Enter right after the first");
    assert_eq!(done("\n\x0b\n"), 2, "a key of its own counts again");
    assert_eq!(done("\n\x0c"), 2, "long enough after the first");
}

#[test]
fn what_was_typed_for_another_page_ticks_nothing_off() {
    let machine = machine("steps:\n  - { id: a, title: A, do: A. }\n  - { id: b, title: B, do: B. }\n");
    let done = |keys: &str| {
        let sitting = sit(&machine, "ann", keys);
        assert!(sitting.saw("Nothing is typed here. Enter clears: 148230 km"), "{:#?}", sitting.drawn);
        sitting.events().filter(|event| matches!(event, Event::Entered { .. })).count()
    };
    assert_eq!(done("148230 km\n"), 0);
    assert_eq!(done("148230 km\n\x0b"), 0, "an Enter that bounces");
    assert_eq!(done("148230 km\n\n"), 1, "a second Enter");
}

#[test]
fn what_a_correction_spares_is_left_out_by_a_key_and_a_reason() {
    let machine = machine(
        "steps:\n  - { id: n, read: { feet: { is: count, ask: How many feet? } } }\n  \
         - { id: more, when: feet < 4, do: Find the fourth. }\n  - { id: z, do: Z. }\n",
    );
    let sitting = sit(&machine, "ann", "3\nc14\nmiscounted\ns");
    assert!(sitting.saw("this is not needed: s leaves it out.") && sitting.saw("s leave this step out"));
    let sitting = sit(&machine, "ann", "3\nc14\nmiscounted\nsall there\n\n");
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    assert!(sitting.events().any(|event| matches!(event, Event::Skipped { because, .. } if because == "all there")));
    assert!(!sit(&machine, "ann", "3\n").saw("s leave this step out"), "where it is called for");
}

#[test]
fn what_is_gone_back_to_is_replaced_by_what_is_typed() {
    let machine = machine(
        "steps:\n  - { id: n, read: { head: { is: length, unit: mm }, hose: { is: length, unit: mm } } }\n  \
         - { id: z, do: Z. }\n",
    );
    let head =
        |keys: &str| -> Vec<String> { sit(&machine, "ann", keys).typed("head").into_iter().map(Into::into).collect() };
    assert_eq!(head("2\nb600\n1500\n"), ["600"], "never 2600");
    assert_eq!(head("2\nb\n1500\n"), ["2"], "Enter alone leaves it");
    // A note between does not make it less of a whole answer.
    assert_eq!(head("2\nbnit leans\n600\n1500\n"), ["600"]);
}

#[test]
fn a_refused_answer_is_asked_again_in_place_and_is_still_there() {
    let machine =
        machine("steps:\n  - { id: n, title: Count them, read: { feet: { is: count, ask: How many feet? } } }\n");
    let sitting = sit(&machine, "ann", "4x\n");
    assert!(sitting.saw("Not taken: found `4x`\n  Expected: a whole number"), "{:#?}", sitting.drawn.last());
    assert!(sitting.drawn.last().unwrap().contains("How many feet? 4x"));
    assert!(matches!(sitting.ended.outcome, Outcome::Interrupted));
    assert_eq!(sitting.typed("feet").len(), 0);
}

#[test]
fn what_is_typed_after_a_refusal_stands_in_its_place() {
    let machine =
        machine("steps:\n  - { id: n, title: Count them, read: { feet: { is: count, ask: How many feet? } } }\n");
    assert_eq!(sit(&machine, "ann", "4x\n3\n").typed("feet"), ["3"]);
}

#[test]
fn a_day_is_today_unless_another_is_typed() {
    let machine = machine("steps:\n  - { id: d, title: Say when, read: { done_on: { is: date } } }\n");
    let today = sit(&machine, "ann", "\n");
    let shown = today.typed("done_on");
    assert!(today.saw(&format!("Enter takes today, {}.", shown[0])) && shown[0].starts_with("2026-"), "{shown:?}");
    assert_eq!(sit(&machine, "ann", "2026-01-09\n").typed("done_on"), ["2026-01-09"]);
    let later = sit(&machine, "ann", "+x\n+99999\n+14\n");
    assert!(later.saw("Not taken: found `+x`") && later.saw("Not taken: found `+99999`"), "{:#?}", later.drawn);
    // The clock of these sittings stands at 23 November.
    assert_eq!(later.typed("done_on"), ["2026-12-07"]);
}

#[test]
fn a_countdown_starts_after_clear_and_never_answers_by_itself() {
    let machine = machine("steps:\n  - { id: h, title: Hold it, hold: { for: 5.s } }\n");
    let waiting = sit(&machine, "ann", "~~");
    assert!(!waiting.saw("to go"), "it counts only after Enter");
    let over = sit(&machine, "ann", "\n~");
    assert!(over.saw("5 s are over. Enter to go on.") && over.typed("held").is_empty());
    let whole = sit(&machine, "ann", "\n~\n");
    assert_eq!(whole.typed("held"), ["5 s"]);
    assert!(matches!(whole.ended.outcome, Outcome::Finished));
}

#[test]
fn a_countdown_that_is_broken_off_is_kept_as_far_as_it_went_and_asked_again() {
    let machine = machine("steps:\n  - { id: h, title: Hold it, hold: { for: 5.s } }\n");
    let sitting = sit(&machine, "ann", "\n \n~\n");
    assert_eq!(sitting.typed("held"), ["1 s", "5 s"]);
    assert!(sitting.saw("Asked again: once so far without success."));
}

#[test]
fn a_countdown_of_minutes_is_broken_off_on_purpose_only() {
    let machine = machine("steps:\n  - { id: h, title: Let it run out, hold: { for: 2.min } }\n");
    let touched = sit(&machine, "ann", "\n x\n~");
    assert!(touched.saw("to go. Esc stops it.") && touched.typed("held").is_empty(), "{:#?}", touched.drawn);
    let stopped = sit(&machine, "ann", "\n \x1b");
    assert!(stopped.saw("Asked again: once so far without success."), "{:#?}", stopped.drawn.last());
}

#[test]
fn a_second_person_looks_and_a_photo_is_kept() {
    let machine = machine("steps:\n  - { id: m, title: Mark it, do: Mark it., witness: The marks, evidence: photo }\n");
    let sitting = sit(&machine, "ann", "\n1nothing.jpg\n");
    assert!(sitting.saw("A second person looks now: The marks. Who?\n1 Bob B."), "{:#?}", sitting.drawn);
    assert!(sitting.saw("Not taken: `nothing.jpg` can't be kept as evidence"));
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("marks.jpg"), b"marks").unwrap();
    let sitting = sit_in(folder.path(), &machine, "ann", "\n1@/marks.jpg\n", None);
    let entered = sitting.events().any(|event| {
        matches!(event, Event::Entered { witness: Some(standpipe_job::Witness::By(by)), evidence, .. }
            if by == "bob" && evidence.len() == 1)
    });
    assert!(entered, "{:#?}", sitting.records);
}

#[test]
fn a_photo_is_chosen_from_a_folder_that_is_remembered() {
    let step = |id| format!("  - {{ id: {id}, title: Look, pick: {{ {id}: [dry, wet] }}, evidence: photo }}\n");
    let machine = machine(&format!("steps:\n{}{}", step("one"), step("two")));
    let folder = tempfile::tempdir().unwrap();
    let photos = folder.path().join("photos");
    std::fs::create_dir_all(photos.join("of.jpg")).unwrap();
    for name in ["old.JPG", "new.png", "list.txt"] {
        std::fs::write(photos.join(name), name).unwrap();
        let file = std::fs::File::options().write(true).open(photos.join(name)).unwrap();
        let age = Duration::from_secs(if name == "old.JPG" { 600 } else { 60 });
        file.set_modified(std::time::SystemTime::now() - age).unwrap();
    }
    std::fs::write(folder.path().join("other.jpg"), b"other").unwrap();
    // The older of the folder; then another file by its path.
    let keys = "1@/nowhere\n\u{15}@/photos/of.jpg\n\u{15}@/photos\n213@/other.jpg\n";
    let sitting = sit_in(folder.path(), &machine, "ann", keys, None);
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    assert!(sitting.saw("there is no photo in that folder"));
    assert!(sitting.saw("1 new.png"), "{:#?}", sitting.drawn);
    assert!(sitting.saw("3 another file or folder") && !sitting.saw("list.txt") && !sitting.saw("4 "));
    let names: Vec<&str> = sitting
        .events()
        .filter_map(|event| match event {
            Event::Entered { evidence, .. } => Some(evidence.iter().map(|photo| photo.name.as_str())),
            _ => None,
        })
        .flatten()
        .collect();
    assert_eq!(names, ["old.JPG", "other.jpg"]);
}

#[test]
fn the_rest_of_a_pass_takes_one_key_and_its_last_item_offers_none() {
    let machine = machine(
        "steps:\n  - id: parts\n    each:\n      of: |\n        [\"nut\", \"ring\", \"seal\"]\n      do: Lay it out.\n",
    );
    let sitting = sit(&machine, "ann", "\nr");
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    assert!(sitting.saw("r the rest of this pass is done"));
    // Where it is not offered it is a letter that goes nowhere.
    let alone = sit(&machine, "ann", "\n\nr\n\n");
    assert!(matches!(alone.ended.outcome, Outcome::Finished));
    assert!(!alone.drawn.last().unwrap().contains("the rest of this pass"), "{:#?}", alone.drawn.last());
    // Each is done for itself, however many keys it took.
    let items = |sitting: &Sitting| sitting.events().filter(|event| matches!(event, Event::Entered { .. })).count();
    assert_eq!((items(&sitting), items(&alone)), (3, 3));
}

#[test]
fn tab_puts_in_what_was_said_before_under_that_name() {
    let label = "read: { batch: { is: text }, colour: { is: text } }";
    let machine =
        machine(&format!("steps:\n  - {{ id: one, title: One, {label} }}\n  - {{ id: two, title: Two, {label} }}\n"));
    let sitting = sit(&machine, "ann", "B-26-14\nred\n\t\nblue\n");
    assert!(matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    assert_eq!((sitting.typed("batch"), sitting.typed("colour")), (vec!["B-26-14"; 2], vec!["red", "blue"]));
    assert!(sitting.saw("Tab: B-26-14") && sitting.saw("Tab: red"));
    assert!(!sitting.drawn.first().unwrap().contains("Tab:"));
}

const RODS: &str = "steps:
  - id: r
    title: Read the rod
    read:
      low: { is: length, lowest_of: rod, ask: Lowest mark? }
      high: { is: length, highest_of: rod, ask: Highest mark? }
      colour: { is: text }
";

#[test]
fn the_ends_of_a_scale_that_the_shop_knows_are_shown_and_taken_with_one_key() {
    let machine = machine(RODS);
    let with = |sitting: &Sitting| {
        let found = sitting.events().find_map(|event| match event {
            Event::Entered { with, .. } => Some(with.clone()),
            _ => None,
        });
        found.unwrap().into_iter().map(|(name, id)| format!("{name} {id}")).collect::<Vec<_>>()
    };
    let sitting = sit(&machine, "ann", "1\nred\n");
    assert!(sitting.saw("Which rod?\n1 Short rod  2..25 mm") && sitting.saw("3 another"), "{:#?}", sitting.drawn);
    assert!(sitting.saw("Enter: low 2 mm, high 25 mm\n"), "both, before they are taken: {:#?}", sitting.drawn);
    assert_eq!((sitting.typed("low"), sitting.typed("high")), (vec!["2 mm"], vec!["25 mm"]));
    assert_eq!(with(&sitting), ["low short-rod", "high short-rod"]);
    // What is typed was read, whatever the shop file says, and nobody's name is put to it.
    let read = sit(&machine, "ann", "23 mm\n\nred\n");
    assert!(read.saw("Enter: high 75 cm\n"), "{:#?}", read.drawn);
    assert_eq!((read.typed("low"), read.typed("high")), (vec!["3 mm"], vec!["75 cm"]));
    assert_eq!(with(&read), ["high long-rod"]);
    // Taken, gone back to, and typed after all.
    let typed = sit(&machine, "ann", "1\n\x1bb\x154 mm\n\nred\n");
    assert_eq!((typed.typed("high"), with(&typed)), (vec!["4 mm"], vec!["low short-rod".to_owned()]));
}

#[test]
fn of_a_rod_that_the_shop_does_not_know_both_ends_are_asked() {
    let sitting = sit(&machine(RODS), "ann", "3\n4 mm\n9 mm\nred\n");
    assert!(!sitting.saw("Enter:") && sitting.saw("Expected: length with its unit"), "{:#?}", sitting.drawn);
    assert_eq!((sitting.typed("low"), sitting.typed("high")), (vec!["4 mm"], vec!["9 mm"]));
    assert!(matches!(sitting.ended.outcome, Outcome::Finished));
    // Nor is anything taken by an Enter that is still the key before it.
    let bounced = sit(&machine(RODS), "ann", "1\x0b");
    assert!(bounced.drawn.last().unwrap().contains("Enter: low 2 mm"), "{:#?}", bounced.drawn.last());
}

#[test]
fn back_takes_back_what_was_just_pressed_and_lists_the_entries_where_that_is_no_value() {
    let steps = "steps:\n  - { id: p, title: Look, pick: { seen: [dry, wet] } }\n  - { id: d, title: Do it, do: Do it. }\n  - { id: e, title: Then, do: Then. }\n";
    let sitting = sit(&machine(steps), "ann", "1b2\n\n\n");
    assert!(sitting.saw("CORRECT SEEN") && !sitting.saw("Correct which?"), "{:#?}", sitting.drawn);
    let corrected = sitting.events().any(|event| {
        matches!(event, Event::Corrected { typed, because, .. } if typed["seen"] == "wet" && because == "pressed by mistake")
    });
    assert!(corrected && matches!(sitting.ended.outcome, Outcome::Finished), "{:#?}", sitting.drawn.last());
    let later = sit(&machine(steps), "ann", "1\nb");
    assert!(later.saw("Correct which?") && !later.saw("CORRECT SEEN"), "an older value was not just pressed");
}

#[test]
fn the_entries_are_listed_and_a_correction_keeps_the_old_value() {
    let machine = machine(
        "steps:\n  - { id: n, title: Count them, read: { feet: { is: count, ask: How many feet? } } }\n  - { id: d, title: Do it, do: Do it. }\n",
    );
    let sitting = sit(&machine, "ann", "3\nc14\nmiscounted\n\n");
    assert!(sitting.saw("1 feet 3"));
    let corrected = sitting.events().any(|event| {
        matches!(event, Event::Corrected { typed, because, .. } if typed["feet"] == "4" && because == "miscounted")
    });
    assert!(corrected && sitting.typed("feet") == ["3"]);
    assert!(matches!(sitting.ended.outcome, Outcome::Finished));
}

#[test]
fn an_unknown_fact_is_supplied_with_its_source() {
    let machine = machine("steps:\n  - { id: h, title: Let it settle, hold: { for: spec.settle } }\n");
    let sitting = sit(&machine, "ann", "12 kg\nthe book\n");
    assert!(
        sitting.saw("Expected: a time with its unit.\n\nsettle?") && sitting.saw("Not taken:"),
        "{:#?}",
        sitting.drawn.last()
    );
    let sitting = sit(&machine, "ann", "2 s\nthe book\n\n~\n");
    let supplied =
        sitting.events().any(|event| matches!(event, Event::Supplied { source, .. } if source == "the book"));
    assert!(supplied && matches!(sitting.ended.outcome, Outcome::Finished));
}

#[test]
fn only_who_may_accepts_and_gives_a_reason() {
    let machine = machine(
        "steps:\n  - { id: p, title: Look, pick: { seen: [dry, wet] }, gate: { must: seen == \"dry\", otherwise: { ask: [head] }, at_stake: It leaks. } }\n",
    );
    let sitting = sit(&machine, "ann", "21looked at twice\n");
    assert!(sitting.saw("To be accepted, with a reason, by head:\n1 Bob B."));
    let accepted = sitting.records.iter().find(|record| matches!(record.event, Event::Accepted { .. }));
    assert_eq!(accepted.map(|record| record.by.as_str()), Some("bob"));
    assert!(matches!(sitting.ended.outcome, Outcome::Finished));
}

#[test]
fn leaving_a_job_and_taking_it_over_says_what_happened() {
    let machine = machine("steps:\n  - { id: d, title: Do it, do: Do it. }\n");
    let folder = tempfile::tempdir().unwrap();
    let left = sit_in(folder.path(), &machine, "ann", "qq", None);
    assert!(matches!(left.ended.outcome, Outcome::Left));
    let taken = sit_in(folder.path(), &machine, "bob", "\n\n", None);
    assert!(taken.saw("It was left without a pause.") && taken.saw("Bob B. has looked and takes it over from Ann A."));
    assert!(taken.events().any(|event| matches!(event, Event::TookOver { from } if from == "ann")));
    assert!(matches!(taken.ended.outcome, Outcome::Finished));
}

#[test]
fn a_pause_ends_the_sitting_and_a_call_is_one_key_away() {
    let machine = machine("steps:\n  - { id: d, title: Do it, do: Do it. }\n");
    let paused = sit(&machine, "", "1x1p");
    assert_eq!(paused.ended.who, "ann");
    assert!(paused.events().any(|event| matches!(event, Event::Called { procedure, .. } if procedure == "help")));
    assert!(matches!(paused.ended.outcome, Outcome::Paused { .. }));
}

#[test]
fn an_unknown_person_is_refused_before_anything_is_recorded() {
    let machine = machine("steps:\n  - { id: d, title: Do it, do: Do it. }\n");
    let sitting = sit(&machine, "zoe", "");
    assert!(matches!(sitting.ended.outcome, Outcome::Refused(_)) && sitting.records.is_empty());
}

#[test]
fn a_job_is_ended_only_by_a_second_key() {
    let machine = machine("steps:\n  - { id: d, title: Do it, do: Do it. }\n");
    let kept = sit(&machine, "ann", "xedesk sheet\n1");
    assert!(kept.saw("It can't be resumed afterwards."), "{:#?}", kept.drawn);
    assert!(matches!(kept.ended.outcome, Outcome::Interrupted), "{:?}", kept.ended.outcome);
    let ended = sit(&machine, "ann", "xesold\n2");
    assert!(matches!(ended.ended.outcome, Outcome::Abandoned), "{:?}", ended.ended.outcome);
}
