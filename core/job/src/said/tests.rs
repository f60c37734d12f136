use super::*;

#[test]
fn a_stretch_of_time_is_told_as_finely_as_anybody_cares() {
    for (seconds, words) in [
        (-1.0, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min"),
        (61.0, "1 min 01 s"),
        (179.0, "2 min 59 s"),
        (180.0, "3 min"),
        (200.0, "3 min"),
        (3600.0, "1 h 00 min"),
        (7500.0, "2 h 05 min"),
    ] {
        assert_eq!(span(seconds), words, "{seconds}");
    }
}
