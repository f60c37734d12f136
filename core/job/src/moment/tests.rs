use super::*;

fn moment(text: &str) -> Moment {
    text.parse().expect(text)
}

#[test]
fn the_hour_that_comes_twice_is_two_hours() {
    let (first, second) = (moment("2026-10-25T02:30:00+02:00"), moment("2026-10-25T02:10:00+01:00"));
    assert!(first < second);
    assert_eq!(second.duration_since(first), SignedDuration::from_mins(40));
}

#[test]
fn one_moment_on_two_clocks_is_not_one_text() {
    let (here, there) = (moment("2026-11-23T08:05:00+01:00"), moment("2026-11-23T07:05:00+00:00"));
    assert_eq!(here.duration_since(there), SignedDuration::ZERO);
    assert_ne!(here, there);
}

#[test]
fn it_is_read_as_it_is_written() {
    for text in ["2026-11-23T08:05:00+01:00", "2026-11-23T08:05:00.5-03:30", "2026-11-23T08:05:00+00:00"] {
        assert_eq!(moment(text).to_string(), text);
    }
    for text in ["2026-11-23T08:05:00", "2026-11-23+01:00", "2026-11-23T08:05:00+01:00[Europe/Rome]", "soon"] {
        assert!(text.parse::<Moment>().is_err(), "{text}");
    }
}
