use crate::point::{Point, Verdict};

#[test]
fn the_worst_is_the_verdict_and_what_is_not_listed_is_counted() {
    let mut point = Point::new("decisions", "journal.jsonl");
    point.fails(1, "no");
    for line in 2..=25 {
        point.unshown(line, "who knows");
    }
    assert_eq!((point.verdict, point.findings.len(), point.more), (Verdict::DoesNotHold, 20, 5));
    let place = &point.findings[0].place;
    assert_eq!((place.file.as_str(), place.line), ("journal.jsonl", Some(1)));
    point.doubt();
    assert_eq!(point.verdict, Verdict::NotShown);
    assert!(point.findings.iter().all(|finding| finding.verdict == Verdict::NotShown));
    let mut sound = Point::new("decisions", "journal.jsonl");
    sound.doubt();
    assert_eq!(sound.verdict, Verdict::Holds, "nothing was found");
}
