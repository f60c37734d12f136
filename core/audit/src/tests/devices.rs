use standpipe_job::journal::Contents;
use standpipe_job::{Entry, Given, Hold, Journal, OpenJob, Origin, Via, What};
use tempfile::TempDir;

use super::bench::plan;
use crate::devices::point;
use crate::point::Verdict::{DoesNotHold, Holds, NotShown};

/// A job of four steps that pages answered: the first by a device of Ann's own if `own`, the rest by one of several people's.
fn answered(own: &[bool]) -> (TempDir, Contents) {
    let dir = tempfile::tempdir().unwrap();
    let list: String = (0..own.len()).map(|step| format!("  - {{ id: s{step}, do: Do it. }}\n")).collect();
    let plan = plan(&format!("steps:\n{list}  - {{ id: end, do: End. }}\n"), &[]).unwrap();
    let now = "2026-11-23T08:00:00+01:00".parse().unwrap();
    let mut job = OpenJob::open(&dir.path().join("job"), Hold::Begin(Box::new(plan))).unwrap();
    job.give(Given::typed("ann", What::Open), now).unwrap();
    for (step, own) in own.iter().enumerate() {
        let what = What::Enter(Entry { step: format!("s{step}"), ..Entry::default() });
        let via = Via { device: if *own { "hers" } else { "tablet" }.to_owned(), own: *own, witness: None };
        let given = Given { via: Some(via), origin: Origin::Page, ..Given::typed("ann", what) };
        job.give(given, now).unwrap();
    }
    drop(job);
    let contents = Journal::read(&dir.path().join("job")).unwrap();
    (dir, contents)
}

#[test]
fn a_name_is_shown_by_a_device_of_ones_own_and_only_said_by_one_that_several_use() {
    let (_dir, contents) = answered(&[true, true]);
    let sound = point(&contents, "journal.jsonl").unwrap();
    assert_eq!((sound.verdict, sound.looked_at, sound.of_work), (Holds, 2, true));
    for (own, inputs) in [(&[true, false][..], "1 input of ann"), (&[false, true, false], "2 inputs of ann")] {
        let (_dir, contents) = answered(own);
        let said = point(&contents, "journal.jsonl").unwrap();
        assert_eq!((said.verdict, said.looked_at as usize, said.of_work), (NotShown, own.len(), true));
        assert!(said.findings[0].message.starts_with(inputs), "{:?}", said.findings);
        assert!(said.findings[0].message.contains("from tablet, which several use"), "{:?}", said.findings);
    }
}

#[test]
fn what_came_from_a_page_names_its_device_and_nothing_else_does() {
    let (_dir, mut contents) = answered(&[true, true]);
    contents.vias.remove(0);
    let unnamed = point(&contents, "journal.jsonl").unwrap();
    assert_eq!((unnamed.verdict, unnamed.of_work), (DoesNotHold, false));
    assert!(unnamed.findings[0].message.contains("no device is named"), "{:?}", unnamed.findings);

    let (_dir, mut contents) = answered(&[true, true]);
    let entered = contents.vias[0].1;
    contents.records.iter_mut().find(|record| record.seq == entered).unwrap().origin = Origin::Typed;
    let typed = point(&contents, "journal.jsonl").unwrap();
    assert_eq!((typed.verdict, typed.looked_at, typed.of_work), (DoesNotHold, 1, false));
    assert!(typed.findings[0].message.contains("names the device hers"), "{:?}", typed.findings);

    // An entry that took the reading of a reader was made at a page; what else a reader does was not.
    contents.records.iter_mut().find(|record| record.seq == entered).unwrap().origin = Origin::Log;
    assert_eq!(point(&contents, "journal.jsonl").unwrap().verdict, Holds);

    let (_dir, mut contents) = answered(&[]);
    assert!(point(&contents, "journal.jsonl").is_none(), "nothing came from a page");
    contents.records[0].origin = Origin::Page;
    assert_eq!(point(&contents, "journal.jsonl").unwrap().verdict, DoesNotHold);
}
