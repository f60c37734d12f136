//! Series and what can be told of times.

use std::sync::Arc;

use super::*;
use crate::Units;

fn kind() -> Kind {
    Kind::Measured(Arc::new(Units::standard().scale("temperature", "K").unwrap()))
}

fn series(points: &[(f64, f64)]) -> Series {
    let mut series = Series::new("x", kind());
    points.iter().for_each(|(at, value)| series.push(*at, *value));
    series
}

#[test]
fn equal_readings_are_kept_as_first_and_last_and_nothing_else_changes() {
    let all: Vec<(f64, f64)> = (0..1000).map(|at| (f64::from(at), if at < 900 { 5.0 } else { 6.0 })).collect();
    let series = series(&all);
    assert_eq!((series.len(), series.count), (4, 1000));
    assert_eq!(series.flat(1.0, (0.0, 999.0)), 899.0);
    assert_eq!(series.gaps(1.0, (0.0, 999.0)), []);
    assert_eq!(series.at(450.0, 1.0), Some(5.0));
    let inside: Vec<(f64, f64)> = series.within((100.0, 200.0)).collect();
    assert_eq!(inside, [(100.0, 5.0), (200.0, 5.0)]);
}

#[test]
fn a_gap_leaves_open_what_was_within() {
    let series = series(&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (9.0, 1.0), (10.0, 1.0), (11.0, 3.0)]);
    let ones = series.when(1.0, (0.0, 11.0), |value| value == 1.0);
    assert_eq!(ones.certain, [(0.0, 2.0), (9.0, 10.0)]);
    assert_eq!(ones.lasts(2.0), Some(true));
    assert_eq!(ones.lasts(5.0), None);
    assert_eq!(ones.lasts(12.0), Some(false));
    assert_eq!(ones.throughout((0.5, 1.5)), Some(true));
    assert_eq!(ones.throughout((1.0, 5.0)), None);
    assert_eq!(ones.throughout((9.0, 11.5)), Some(false));
    assert_eq!(ones.throughout((20.0, 25.0)), None);
    let fours = series.when(1.0, (0.0, 11.0), |value| value == 4.0);
    assert_eq!(fours.ever(), None, "it may have been so in the gap");
    assert_eq!(series.when(10.0, (0.0, 11.0), |value| value == 4.0).ever(), Some(false));
    assert_eq!(series.gaps(1.0, (0.0, 12.5)), [(2.0, 9.0), (11.0, 12.5)]);
}

#[test]
fn one_sample_elsewhere_breaks_it() {
    let series = series(&[(0.0, 1.0), (1.0, 1.0), (2.0, 3.0), (3.0, 1.0), (4.0, 1.0)]);
    let ones = series.when(1.0, (0.0, 4.0), |value| value == 1.0);
    assert_eq!(ones.lasts(3.0), Some(false));
    assert_eq!(ones.throughout((0.0, 4.0)), Some(false));
}

#[test]
fn both_is_where_both_are() {
    let a = series(&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (3.0, 2.0)]).when(1.0, (0.0, 3.0), |value| value == 1.0);
    let b = series(&[(0.0, 0.0), (1.0, 1.0), (2.0, 1.0), (3.0, 1.0)]).when(1.0, (0.0, 3.0), |value| value == 1.0);
    let both = a.both(&b);
    assert_eq!((both.certain.as_slice(), both.out.as_slice()), (&[(1.0, 2.0)][..], &[(0.0, 0.0), (3.0, 3.0)][..]));
}

#[test]
fn thinning_keeps_every_excursion_and_never_gives_more_than_there_was() {
    let points: Vec<(f64, f64)> = (0..4000u32)
        .map(|at| {
            let noise = f64::from(at.wrapping_mul(2_654_435_761) >> 20) / 4096.0;
            (f64::from(at) + if at > 3000 { 50.0 } else { 0.0 }, if at == 1717 { 9.0 } else { noise })
        })
        .collect();
    let full = series(&points);
    let mut thin = Series { most: 500, ..Series::new("x", kind()) };
    points.iter().for_each(|(at, value)| thin.push(*at, *value));
    assert!(thin.len() <= 500 && thin.coarse > 0.0 && thin.count == 4000);
    assert!(thin.values.contains(&9.0));
    assert_eq!(thin.longest_gap(), full.longest_gap());
    for limit in [0.5, 0.9, 0.999, 2.0] {
        let window = (0.0, 4049.0);
        let (sure, all) = (thin.when(1.0, window, |v| v < limit), full.when(1.0, window, |v| v < limit));
        for (from, to) in &sure.certain {
            assert!(all.throughout((*from, *to)) == Some(true), "{limit}: {from} to {to}");
        }
        assert!(sure.longest() <= all.longest());
    }
    assert_eq!(thin.when(1.0, (5.0, 2900.0), |value| value > 10.0).ever(), Some(false));
}

fn each(interval: f64, value: impl Fn(f64) -> f64) -> Series {
    let points: Vec<(f64, f64)> = (0..200u32).map(|at| f64::from(at) * interval).map(|at| (at, value(at))).collect();
    series(&points)
}

#[test]
fn a_pace_is_what_nearly_all_samples_keep() {
    assert_eq!(each(5.0, |at| at).pace(), Some(5.0));
    // Equal readings are kept as first and last only, and count all the same.
    assert_eq!(each(5.0, |_| 20.0).pace(), Some(5.0));
    assert_eq!(series(&[(0.0, 1.0), (5.0, 2.0), (10.0, 3.0)]).pace(), None);
    // Rows of a second, of which many are lost: no pace, only gaps.
    let lost: Vec<(f64, f64)> = (0..400u32).filter(|at| at % 7 < 3).map(|at| (f64::from(at), f64::from(at))).collect();
    assert_eq!(series(&lost).pace(), None);
    // One stop of minutes does not change how it writes.
    let stopped: Vec<(f64, f64)> =
        (0..200u32).map(|at| f64::from(at) * 4.0 + if at > 90 { 300.0 } else { 0.0 }).map(|at| (at, at)).collect();
    assert_eq!(series(&stopped).pace(), Some(4.0));
}

#[test]
fn a_rise_is_seen_and_never_guessed_in_a_gap() {
    let sudden = series(&[(0.0, 0.0), (1.0, 0.0), (2.0, 700.0), (3.0, 0.0), (9.0, 700.0)]);
    assert_eq!(sudden.rose(300.0, 1.0, (0.0, 9.0)), Some(2.0));
    assert_eq!(sudden.rose(300.0, 1.0, (3.0, 9.0)), None);
    assert_eq!(sudden.rose(700.0, 1.0, (0.0, 9.0)), None);
    let slow = series(&[(0.0, 20.0), (10.0, 24.0), (20.0, 22.0), (30.0, 27.0)]);
    assert_eq!([10.0, 20.0, 30.0].map(|long| slow.rise(long, (0.0, 30.0))), [Some(5.0), Some(5.0), Some(7.0)]);
    assert_eq!(slow.rise(10.0, (40.0, 50.0)), None);
}

#[test]
fn a_copy_is_known_at_any_delay_and_chance_is_no_copy() {
    // A course with a tooth in it, so that not any delay would do.
    let course = |at: f64| 20.0 + at * 0.03 + (at / 7.0).floor() % 3.0 * 0.25;
    let own = each(1.0, course);
    for late in [0.0, 1.0, -2.0, 4.3] {
        let copy = each(1.0, |at| course(at - late));
        assert_eq!(own.repeats(&copy, 5.0, (0.0, 199.0)), Some(true), "{late}");
        assert_eq!(copy.repeats(&own, 5.0, (0.0, 199.0)), Some(true), "{late}");
    }
    assert_eq!(own.repeats(&each(1.0, |at| course(at) * 1.1), 5.0, (0.0, 199.0)), Some(false));
    assert_eq!(own.repeats(&each(1.0, |at| course(at - 60.0)), 5.0, (0.0, 199.0)), Some(false));
    assert_eq!(each(1.0, |_| 18.0).repeats(&each(1.0, |_| 18.0), 5.0, (0.0, 199.0)), None);
}
