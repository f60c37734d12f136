use std::fs;
use std::path::Path;

use jiff::ToSpan;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_job::plan::Kept;
use standpipe_job::{Entry, Given, Hold, Moment, OpenJob, What};
use tempfile::TempDir;

use super::bench::plan;
use super::point;
use crate::point::Verdict::{self, DoesNotHold, Holds, NotShown};
use crate::{Asked, Audited, audit};

fn at(minutes: i64) -> Moment {
    let start: Moment = "2026-11-23T08:00:00+01:00".parse().unwrap();
    start.saturating_add(minutes.minutes())
}

/// A job of so many of its three steps, with a photo.
fn job(steps: usize) -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let photo = dir.path().join("photo.jpg");
    fs::write(&photo, b"a photo").unwrap();
    let plan = plan("steps:\n  - { id: s0, do: A. }\n  - { id: s1, do: B. }\n  - { id: s2, do: C. }\n", &[]).unwrap();
    let mut job = OpenJob::open(&dir.path().join("job"), Hold::Begin(Box::new(plan))).unwrap();
    job.give(Given::typed("ann", What::Open), at(0)).unwrap();
    let kept = job.keep(&photo, &Place::whole(&Source::new("the test", ""))).unwrap();
    job.give(Given::typed("ann", What::Attach(kept)), at(1)).unwrap();
    for (step, minutes) in (0..steps).zip(10..) {
        let what = What::Enter(Entry { step: format!("s{step}"), ..Entry::default() });
        job.give(Given::typed("ann", what), at(10 * minutes)).unwrap();
    }
    dir
}

fn audited(dir: &TempDir, seal: Option<&str>) -> Audited {
    let asked = Asked { seal: seal.map(str::to_owned), ..Asked::default() };
    audit(&dir.path().join("job"), &asked, &mut Kept::default())
}

fn verdict(audited: &Audited, name: &str) -> Verdict {
    point(&audited.points, name).verdict
}

#[test]
fn a_job_that_is_closed_and_as_it_was_written_holds() {
    let dir = job(3);
    let sound = audited(&dir, None);
    let found: Vec<_> = sound.points.iter().flat_map(|point| &point.findings).collect();
    assert_eq!((sound.verdict, sound.closed, sound.state), (Holds, true, "finished"), "{found:?}");
    assert_eq!((sound.job.as_str(), sound.events, sound.at), ("T-1", 6, Some(at(120))));
    assert_eq!(sound.seal.as_deref(), Some(sound.hash.as_str()));
    for name in ["chain of hashes", "plan", "version", "decisions", "order of events", "time", "evidence", "closed"] {
        assert!(point(&sound.points, name).looked_at > 0, "{name} looked at nothing");
    }
    assert_eq!(verdict(&audited(&dir, sound.seal.as_deref()), "seal"), Holds);
    assert_eq!(verdict(&audited(&dir, Some(&"0".repeat(64))), "seal"), DoesNotHold);
}

#[test]
fn a_job_that_is_under_way_is_not_shown_to_its_end_and_has_no_seal() {
    let dir = job(2);
    let open = audited(&dir, None);
    assert_eq!((open.verdict, open.closed, open.seal.as_deref()), (NotShown, false, None));
    assert_eq!(verdict(&open, "closed"), NotShown);
    let sealed = audited(&dir, Some(&open.hash));
    assert_eq!(verdict(&sealed, "seal"), DoesNotHold, "none was printed");
}

#[test]
fn what_was_cut_off_changed_or_taken_away_does_not_hold() {
    let damaged = |name: &str, change: &dyn Fn(&Path)| {
        let dir = job(3);
        let seal = audited(&dir, None).seal;
        change(&dir.path().join("job"));
        let found = audited(&dir, seal.as_deref());
        assert_eq!(found.verdict, DoesNotHold, "{name}");
        assert_eq!(verdict(&found, name), DoesNotHold, "{name}");
        assert_eq!(verdict(&found, "seal"), if name == "evidence" { Holds } else { DoesNotHold }, "{name}");
    };
    let text = |path: &Path| fs::read_to_string(path).unwrap();
    damaged("chain of hashes", &|job| {
        let lines = job.join("journal.jsonl");
        fs::write(&lines, text(&lines).replacen("\"s1\"", "\"s2\"", 1)).unwrap();
    });
    // What is unfinished at the end of a closed journal was put there.
    damaged("chain of hashes", &|job| {
        let lines = job.join("journal.jsonl");
        fs::write(&lines, text(&lines) + "{\"prev\":\"").unwrap();
    });
    damaged("evidence", &|job| {
        let photo = fs::read_dir(job.join("evidence")).unwrap().next().unwrap().unwrap().path();
        fs::write(photo, b"another").unwrap();
    });
    damaged("chain of hashes", &|job| {
        fs::remove_file(job.join("journal.jsonl")).unwrap();
    });
}

/// A journal that was being written when the power went is unfinished, and nobody's fault.
#[test]
fn what_is_unfinished_at_the_end_of_an_open_journal_is_not_shown() {
    let dir = job(2);
    let lines = dir.path().join("job/journal.jsonl");
    let text = fs::read_to_string(&lines).unwrap();
    let last = text.lines().last().unwrap();
    fs::write(&lines, &text[..text.len() - last.len() / 2]).unwrap();
    let found = audited(&dir, None);
    assert_eq!((found.verdict, verdict(&found, "chain of hashes")), (NotShown, NotShown));
}

/// What the power cut off lies beside the journal, as the journal says, or nobody can tell what it was.
#[test]
fn bytes_that_were_moved_aside_lie_there_as_the_journal_says() {
    let dir = job(2);
    let folder = dir.path().join("job");
    let lines = folder.join("journal.jsonl");
    let text = fs::read_to_string(&lines).unwrap();
    let last = text.lines().last().unwrap();
    fs::write(&lines, &text[..text.len() - last.len() / 2]).unwrap();
    drop(OpenJob::open(&folder, Hold::Write).unwrap());
    let sound = audited(&dir, None);
    assert_eq!(
        (verdict(&sound, "interrupted writes"), point(&sound.points, "interrupted writes").looked_at),
        (Holds, 1)
    );
    let torn = folder.join("torn-1");
    let bytes = fs::read(&torn).unwrap();
    fs::write(&torn, &bytes[1..]).unwrap();
    assert_eq!(verdict(&audited(&dir, None), "interrupted writes"), DoesNotHold);
    fs::remove_file(&torn).unwrap();
    assert_eq!(verdict(&audited(&dir, None), "interrupted writes"), DoesNotHold);
}

#[test]
fn a_plan_that_is_not_the_one_of_the_beginning_does_not_hold() {
    let dir = job(3);
    let plan = dir.path().join("job/plan.json");
    fs::write(&plan, fs::read_to_string(&plan).unwrap().replacen("T-1", "T-2", 1)).unwrap();
    let found = audited(&dir, None);
    assert_eq!((found.verdict, verdict(&found, "plan")), (DoesNotHold, DoesNotHold));
}

/// The plan is known by what the first line says of it, whatever else was done to that line.
#[test]
fn a_first_line_that_was_changed_still_says_which_plan_it_was() {
    let changed = |from: &str, to: &str| {
        let dir = job(3);
        let lines = dir.path().join("job/journal.jsonl");
        let text = fs::read_to_string(&lines).unwrap();
        assert!(text.lines().next().unwrap().contains(from));
        fs::write(&lines, text.replacen(from, to, 1)).unwrap();
        let found = audited(&dir, None);
        assert_eq!(verdict(&found, "chain of hashes"), DoesNotHold);
        verdict(&found, "plan")
    };
    assert_eq!(changed("\"by\":\"ann\"", "\"by\":\"bob\""), Holds);
    assert_eq!(changed("\"plan\":\"", "\"plan\":\"0"), DoesNotHold);
    assert_eq!(changed("\"plan\":", "\"plane\":"), NotShown);
}

#[test]
fn what_could_not_be_judged_again_is_not_said_to_hold() {
    let settled = |not_judged: &[&str], of_work: Verdict| {
        let mut audited = Audited::new(Path::new("job"));
        let mut one = crate::Point::new("decisions", "journal.jsonl");
        if of_work != Holds {
            one.find(of_work, None, "so");
        }
        audited.points = vec![one, crate::Point::new("closed", "journal.jsonl")];
        let not_judged = not_judged.iter().map(|why| (*why).to_owned()).collect();
        audited.recheck = Some(crate::Recheck { missed: Vec::new(), not_judged });
        audited.settle().verdict
    };
    assert_eq!(settled(&[], Holds), Holds);
    assert_eq!(settled(&["its values are others"], Holds), NotShown);
    assert_eq!(settled(&[], NotShown), NotShown);
    assert_eq!(settled(&["its values are others"], DoesNotHold), DoesNotHold);
}
