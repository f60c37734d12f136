//! An open job: what is given to it counts when it is on the disk, and once; who writes, and who only looks.

use std::cell::RefCell;
use std::fs;
use std::path::Path;
use std::rc::Rc;

use jiff::ToSpan;
use standpipe_diagnostic::Code;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_job::journal::files;
use standpipe_job::{
    AnswerKind, Asked, Entry, Event, Given, Hold, Input, InputId, Journal, Kept, Moment, NotKept, On, OpenJob, Origin,
    Pending, Phase, Refusal, Unfit, What, When,
};
use tempfile::TempDir;

use super::bench::plan;

const STEPS: &str = "
steps:
  - { id: warm, read: { heat: { is: temperature, unit: degC } }, gate: { must: heat < 50.degC, otherwise: wait } }
  - { id: wipe, do: Wipe. }
  - { id: rinse, do: Rinse. }
  - { id: look, pick: { drip: [nothing, thin drip] } }
";

fn now() -> Moment {
    "2026-11-23T08:00:00+01:00".parse().unwrap()
}

fn begun(steps: &str) -> (TempDir, OpenJob) {
    let dir = tempfile::tempdir().unwrap();
    let plan = plan(steps, &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let mut job = OpenJob::open(&dir.path().join("job"), Hold::Begin(Box::new(plan))).unwrap();
    job.give(Given::typed("ann", What::Open), now()).unwrap();
    (dir, job)
}

fn entry(step: &str, typed: &[(&str, &str)]) -> What {
    let typed = typed.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    What::Enter(Entry { step: step.to_owned(), typed, ..Entry::default() })
}

/// With an id and what it was made on, as a page gives it.
fn on(id: u128, asked: &Asked, by: &str, what: What) -> Given {
    Given { id: Some(InputId(id)), on: asked.on.clone(), ..Given::typed(by, what) }
}

fn refusal(end: Result<Kept, NotKept>) -> Refusal {
    match end {
        Err(NotKept::Refused(refusal)) => *refusal,
        other => panic!("{other:?}"),
    }
}

fn on_disk(job: &OpenJob) -> usize {
    Journal::read(job.dir()).unwrap().records.len()
}

fn look(dir: &Path) -> OpenJob {
    OpenJob::open(dir, Hold::Look).unwrap()
}

#[test]
fn an_input_that_comes_twice_is_kept_once_and_known_after_the_job_was_closed() {
    let (_dir, mut job) = begun(STEPS);
    let warm = on(7, &job.asked(), "ann", entry("warm", &[("heat", "40")]));
    assert!(!job.has_kept(InputId(7), "ann", None));
    let Ok(Kept::Now(events)) = job.give(warm.clone(), now()) else { panic!() };
    assert!(!events.is_empty());
    assert!(job.has_kept(InputId(7), "ann", None) && job.has_kept(InputId(7), "ann", Some("warm")));
    assert!(!job.has_kept(InputId(7), "ann", Some("wipe")) && !job.has_kept(InputId(7), "bob", None));
    let count = on_disk(&job);
    // The answer got lost, and it is sent again: the same words, much later.
    assert_eq!(job.give(warm.clone(), now().saturating_add(5.minutes())).unwrap(), Kept::Before(events.clone()));
    let folder = job.dir().to_owned();
    drop(job);
    let mut again = OpenJob::open(&folder, Hold::Write).unwrap();
    assert_eq!(again.give(warm.clone(), now()).unwrap(), Kept::Before(events.clone()));
    // Who only looks can say so too.
    assert_eq!(look(&folder).give(warm, now()).unwrap(), Kept::Before(events));
    assert_eq!(on_disk(&again), count);
}

#[test]
fn another_input_under_a_known_id_is_never_called_kept() {
    let (_dir, mut job) = begun(STEPS);
    job.give(on(7, &job.asked(), "ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let count = on_disk(&job);
    let other = on(7, &job.asked(), "ann", entry("wipe", &[]));
    assert!(refusal(job.give(other, now())).message.contains("another input"));
    let other = on(7, &job.asked(), "ann", What::Note("still damp".to_owned()));
    assert!(refusal(job.give(other, now())).message.contains("another input"));
    let by_another = Given { by: "bob".to_owned(), ..on(7, &job.asked(), "ann", entry("warm", &[("heat", "40")])) };
    assert!(refusal(job.give(by_another, now())).message.contains("another input"));
    assert_eq!(on_disk(&job), count);
}

#[test]
fn an_id_of_an_entry_that_was_not_taken_may_be_used_again() {
    let (_dir, mut job) = begun(STEPS);
    let wrong = on(7, &job.asked(), "ann", entry("warm", &[("heat", "mild")]));
    let refused = refusal(job.give(wrong, now()));
    assert_eq!((refused.unfit, refused.field.as_deref()), (Unfit::Value, Some("heat")));
    let right = on(7, &job.asked(), "ann", entry("warm", &[("heat", "40")]));
    assert!(matches!(job.give(right, now()), Ok(Kept::Now(_))));
}

#[test]
fn an_input_made_on_something_older_is_late_and_told_what_happened() {
    let (_dir, mut job) = begun(STEPS);
    let seen = job.asked();
    job.give(on(1, &seen, "ann", entry("warm", &[("heat", "61.5")])), now()).unwrap();
    // The gate asks the same once more: an answer to the first time is none to the second.
    assert_eq!(job.asked().on.map(|on| on.asks), seen.on.as_ref().map(|on| on.asks.clone()));
    let count = on_disk(&job);
    let Err(NotKept::Late { meanwhile, now: asked }) =
        job.give(on(2, &seen, "ann", entry("warm", &[("heat", "40")])), now())
    else {
        panic!()
    };
    assert_eq!(meanwhile, seen.on.as_ref().unwrap().since + 1..job.state().seq + 1);
    let came = &job.records()[meanwhile.start as usize - 1..];
    assert!(came.iter().any(|record| matches!(record.event, Event::Entered { .. })));
    assert_eq!((*asked, on_disk(&job)), (job.asked(), count));
    // Made on what is asked now, it counts.
    assert!(matches!(job.give(on(2, &job.asked(), "ann", entry("warm", &[("heat", "40")])), now()), Ok(Kept::Now(_))));
    // And what was made on a step that is done is late, whatever is asked.
    let end = job.give(on(3, &seen, "ann", entry("wipe", &[])), now());
    assert!(matches!(end, Err(NotKept::Late { .. })), "{end:?}");
}

#[test]
fn a_note_or_a_photo_beside_makes_nothing_late_and_a_correction_does() {
    let (_dir, mut job) = begun(STEPS);
    job.give(on(1, &job.asked(), "ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let seen = job.asked();
    job.give(Given::typed("bob", What::Note("the lid is off".to_owned())), now()).unwrap();
    job.give(on(2, &seen, "ann", entry("wipe", &[])), now()).unwrap();
    let seen = job.asked();
    let values = [("heat".to_owned(), "41".to_owned())].into_iter().collect();
    let correct = What::Correct { entry: None, values, because: "misread".to_owned() };
    job.give(Given::typed("bob", correct), now()).unwrap();
    let end = job.give(on(3, &seen, "ann", entry("rinse", &[])), now());
    assert!(matches!(end, Err(NotKept::Late { .. })), "{end:?}");
}

#[test]
fn who_works_ahead_is_not_late_for_their_own_entries() {
    let (_dir, mut job) = begun(STEPS);
    job.give(on(1, &job.asked(), "ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let ahead = job.ahead(5);
    let asks: Vec<&str> = ahead.iter().filter_map(|asked| asked.on.as_ref()).map(|on| on.asks.as_str()).collect();
    // Wipe is confirmed, rinse is confirmed; what is seen has to be looked at.
    assert_eq!(asks, ["rinse", "look"]);
    let Pending::Entry(last) = &ahead[1].pending else { panic!() };
    assert_eq!(last.fields[0].kind, AnswerKind::Choice);
    let (wipe, rinse) = (on(2, &job.asked(), "ann", entry("wipe", &[])), on(3, &ahead[0], "ann", entry("rinse", &[])));
    assert_eq!(job.state().seq, look(job.dir()).state().seq, "nothing was recorded");
    job.give(wipe, now()).unwrap();
    assert!(matches!(job.give(rinse, now()), Ok(Kept::Now(_))));
    // Something that never was asked in this job is not what is asked.
    let on = Some(On { asks: "look".to_owned(), since: 10_000 });
    let end = job.give(Given { on, ..Given::typed("ann", entry("look", &[("drip", "nothing")])) }, now());
    assert!(matches!(end, Err(NotKept::Late { .. })), "{end:?}");
}

#[test]
fn nobody_works_ahead_over_what_wants_more_than_a_confirmation() {
    for (more, asked) in [
        ("", &["x", "after"][..]),
        (", evidence: photo-optional", &["x", "after"]),
        (", evidence: photo", &["x"]),
        (", witness: Faces clean", &["x"]),
        (", gate: { must: spec.ring.count == 4, otherwise: stop }", &["x"]),
        (", keep: true", &["x"]),
    ] {
        let (_dir, job) = begun(&format!(
            "steps:\n  - {{ id: a, do: A. }}\n  - {{ id: x, do: X.{more} }}\n  - {{ id: after, read: {{ n: {{ is: count }} }} }}\n"
        ));
        let ahead = job.ahead(5);
        let asks: Vec<&str> = ahead.iter().filter_map(|asked| asked.on.as_ref()).map(|on| on.asks.as_str()).collect();
        assert_eq!(asks, asked, "{more}");
    }
    let (_dir, job) = begun("steps:\n  - { id: a, do: A. }\n  - { id: b, do: B. }\n  - { id: c, do: C. }\n");
    assert_eq!(job.ahead(1).len(), 1, "no more than was asked for");
}

#[test]
fn who_is_late_is_told_which_events_came_and_what_is_asked_now() {
    let (_dir, job) = begun(STEPS);
    let place = Place::whole(&Source::new("the answer", ""));
    let told = |meanwhile: std::ops::Range<u64>| {
        let told = NotKept::Late { meanwhile, now: Box::new(job.asked()) }.at(&place);
        (told.message, told.expected.unwrap())
    };
    for (meanwhile, came) in [(2..2, "nothing came"), (2..3, "event 2 came"), (2..5, "events 2 to 4 came")] {
        let (message, expected) = told(meanwhile);
        assert!(message.contains(&format!(": {came} meanwhile")), "{message}");
        assert_eq!(expected, "an answer to `warm`");
    }
}

#[test]
fn a_look_takes_no_lock_writes_nothing_and_sees_what_comes() {
    let (_dir, mut job) = begun(STEPS);
    let mut looking = look(job.dir());
    assert_eq!(looking.asked(), job.asked());
    assert!(job.is_held() && !looking.is_held());
    let end = looking.give(Given::typed("bob", What::Note("from outside".to_owned())), now());
    assert!(matches!(end, Err(NotKept::Looking)), "{end:?}");
    assert!(!looking.look_again().unwrap());
    // Whoever looks hinders nobody.
    job.give(on(1, &job.asked(), "ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    assert!(looking.look_again().unwrap());
    assert_eq!((looking.asked(), looking.seal()), (job.asked(), job.seal()));
    let folder = job.dir().to_owned();
    drop(job);
    let files = |dir: &Path| fs::read_dir(dir).unwrap().count();
    fs::remove_file(folder.join("lock")).unwrap();
    let before = files(&folder);
    drop(look(&folder));
    assert_eq!(files(&folder), before, "no lock was made");
}

#[test]
fn a_second_writer_is_told_who_has_the_job_and_takes_it_when_it_is_free() {
    let (_dir, job) = begun(STEPS);
    let folder = job.dir().to_owned();
    let Err(problems) = OpenJob::open(&folder, Hold::Write) else { panic!("two write") };
    assert_eq!(problems[0].code, Code::JournalInUse);
    assert!(problems[0].message.contains(&format!("process {}", std::process::id())), "{}", problems[0].message);
    let mut looking = look(&folder);
    assert_eq!(looking.take().unwrap_err()[0].code, Code::JournalInUse);
    drop(job);
    looking.take().unwrap();
    assert!(looking.give(Given::typed("bob", What::Note("here now".to_owned())), now()).is_ok());
}

#[test]
fn who_goes_on_with_a_job_that_was_left_resumes_it_first() {
    let (_dir, job) = begun(STEPS);
    assert!(!job.is_to_be_resumed_by("ann") && job.is_to_be_resumed_by("bob"));
    let folder = job.dir().to_owned();
    drop(job);
    let mut job = OpenJob::open(&folder, Hold::Write).unwrap();
    assert!(job.is_to_be_resumed_by("ann"), "nobody knows what was touched");
    let refused = refusal(job.give(Given::typed("ann", entry("warm", &[("heat", "40")])), now()));
    assert!(refused.message.contains("under way by hand"), "{}", refused.message);
    job.give(Given::typed("ann", What::Note("looked".to_owned())), now()).unwrap();
    let told = When::Told { at: now(), entered_at: None };
    let answer = Given { origin: Origin::Answers, when: told, ..Given::typed("ann", entry("warm", &[("heat", "40")])) };
    refusal(job.give(answer.clone(), now()));
    job.give(Given::typed("ann", What::Resume), now()).unwrap();
    assert!(!job.is_to_be_resumed_by("ann"));
    job.give(answer, now()).unwrap();
    drop(job);
    // Answers go on after answers; a hand does not.
    let mut job = OpenJob::open(&folder, Hold::Write).unwrap();
    for origin in [Origin::Typed, Origin::Page] {
        refusal(job.give(Given { origin, ..Given::typed("ann", entry("wipe", &[])) }, now()));
    }
    let answer = Given { origin: Origin::Answers, when: told, ..Given::typed("ann", entry("wipe", &[])) };
    job.give(answer, now()).unwrap();
}

#[test]
fn entries_of_another_than_who_has_the_work_in_hand_are_refused_and_both_times_of_a_late_one_are_kept() {
    let (_dir, mut job) = begun(STEPS);
    let refused = refusal(job.give(Given::typed("bob", entry("warm", &[("heat", "40")])), now()));
    assert!(refused.message.contains("in the hands of ann"), "{}", refused.message);
    let later = now().saturating_add(3.minutes());
    let late = Given {
        when: When::Done(now().saturating_add(1.minute())),
        ..Given::typed("ann", entry("warm", &[("heat", "40")]))
    };
    job.give(late, later).unwrap();
    let record = job.records().iter().find(|record| matches!(record.event, Event::Entered { .. })).unwrap();
    assert_eq!((record.at, record.entered_at), (now().saturating_add(1.minute()), Some(later)));
}

#[test]
fn what_can_not_be_written_does_not_count_and_the_same_input_does_once_it_can() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("job");
    let plan = plan(STEPS, &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let mut job = OpenJob::open(&folder, Hold::Begin(Box::new(plan))).unwrap();
    let open = Given { id: Some(InputId(1)), ..Given::typed("ann", What::Open) };
    // An entry into a file without a name would be lost.
    fs::remove_file(folder.join("journal.jsonl")).unwrap();
    let Err(NotKept::Disk(problem)) = job.give(open.clone(), now()) else { panic!("it was kept nowhere") };
    assert_eq!(problem.code, Code::BrokenJournal);
    // What is not on the disk does not count, and its id is not known.
    assert_eq!((job.state().seq, job.state().phase.clone(), job.records().len()), (0, Phase::New, 0));
    assert!(matches!(job.give(open.clone(), now()), Err(NotKept::Disk(_))));
    drop(job);
    fs::write(folder.join("journal.jsonl"), "").unwrap();
    let mut job = OpenJob::open(&folder, Hold::Write).unwrap();
    assert!(matches!(job.give(open.clone(), now()), Ok(Kept::Now(_))));
    assert!(matches!(job.give(open, now()), Ok(Kept::Before(_))));
    assert_eq!(on_disk(&job), job.records().len());
}

#[test]
fn inputs_and_views_go_to_other_threads_and_read_back_as_they_were() {
    fn sent<T: Send + serde::Serialize + serde::de::DeserializeOwned + PartialEq + std::fmt::Debug>(value: &T) {
        let text = serde_json::to_string(value).unwrap();
        assert_eq!(serde_json::from_str::<T>(&text).unwrap(), *value, "{text}");
    }
    let (_dir, mut job) = begun(STEPS);
    sent(&job.asked());
    let warm = on(u128::MAX - 1, &job.asked(), "ann", entry("warm", &[("heat", "61.5")]));
    sent(&warm);
    assert!(serde_json::to_string(&warm).unwrap().contains("\"fffffffffffffffffffffffffffffffe\""));
    sent(&job.give(warm, now()).unwrap());
    sent(&job.asked());
    for what in [What::Open, What::Pause, What::Note("so".to_owned()), What::Skip { because: "no".to_owned() }] {
        sent(&Input { at: now(), entered_at: Some(now()), by: "ann".to_owned(), origin: Origin::Typed, what });
    }
    assert!("FF".parse::<InputId>().is_err() && "+0000000000000000000000000000001".parse::<InputId>().is_err());
}

/// A network folder on which neither machine sees the lock of the other: each has a file of that name of its own.
#[test]
fn two_machines_without_a_lock_between_them_lose_nothing() {
    let (_dir, mut one) = begun(STEPS);
    let folder = one.dir().to_owned();
    fs::remove_file(folder.join("lock")).unwrap();
    let mut two = OpenJob::open(&folder, Hold::Write).unwrap();
    one.give(Given::typed("ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let before = fs::read(folder.join("journal.jsonl")).unwrap();
    // The other one learns it before anything of it is written, and takes nothing more.
    for _ in 0..2 {
        let Err(NotKept::Disk(fault)) = two.give(Given::typed("ann", What::Resume), now()) else { panic!() };
        assert!(fault.message.contains("something else wrote to it"), "{}", fault.message);
    }
    assert_eq!(fs::read(folder.join("journal.jsonl")).unwrap(), before);
    one.give(Given::typed("ann", entry("wipe", &[])), now()).unwrap();
    drop((one, two));
    let again = look(&folder);
    assert!(again.problems().is_empty(), "{:?}", again.problems());
    assert_eq!(again.records().iter().filter(|record| matches!(record.event, Event::Entered { .. })).count(), 2);
}

#[test]
fn a_clock_that_was_set_back_enters_nothing_until_it_is_right_again() {
    let (_dir, mut job) = begun(STEPS);
    job.give(Given::typed("ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let count = on_disk(&job);
    let earlier = now().checked_add(-(3.hours())).unwrap();
    let refused = refusal(job.give(Given::typed("ann", entry("wipe", &[])), earlier));
    assert_eq!((refused.code, refused.unfit), (Code::TimeReversed, Unfit::Time));
    assert_eq!(on_disk(&job), count);
    // Summer time ends: the clock on the wall goes back an hour, and time does not.
    let later = now().saturating_add(20.minutes()).to_string().replace("+01:00", "+00:00").replace("T08:", "T07:");
    assert_eq!(later, "2026-11-23T07:20:00+00:00");
    job.give(Given::typed("ann", entry("wipe", &[])), later.parse().unwrap()).unwrap();
    assert!(on_disk(&job) > count);
}

#[test]
fn who_wants_to_know_is_told_of_every_input_once_it_is_on_the_disk() {
    let (_dir, mut job) = begun(STEPS);
    let told = Rc::new(RefCell::new(Vec::new()));
    let list = told.clone();
    job.tell(Box::new(move |job, first| list.borrow_mut().push((first, on_disk(job)))));
    let before = on_disk(&job);
    job.give(Given::typed("ann", entry("warm", &[("heat", "40")])), now()).unwrap();
    let warm = on_disk(&job);
    refusal(job.give(Given::typed("ann", entry("look", &[])), now()));
    job.give(Given::typed("ann", entry("wipe", &[])), now()).unwrap();
    assert_eq!(*told.borrow(), [(before as u64 + 1, warm), (warm as u64 + 1, on_disk(&job))]);
}

/// Whoever is given these can look at the job elsewhere; what else lies there is no part of it.
#[test]
fn a_journal_names_every_file_of_its_job_but_the_lock() {
    let (dir, job) = begun(STEPS);
    let folder = job.dir().to_owned();
    drop(job);
    fs::write(dir.path().join("job/notes.txt"), "not of the job").unwrap();
    let named: Vec<String> = files(&Journal::read(&folder).unwrap()).into_keys().collect();
    let mut there: Vec<String> =
        fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    there.retain(|name| name != "lock" && name != "notes.txt");
    there.sort();
    assert_eq!(named, there);
    assert_eq!(there.len(), 4, "lines, plan, texts, and those of people: {there:?}");
}
