//! Times of the day on paper. Where nothing happened for hours, such as overnight, the axis is broken: what was done would
//! else be pressed together at both ends.

use jiff::SignedDuration;
use standpipe_job::Moment;

use super::scale::multiples;
use standpipe_job::names::seconds_between;

/// Shorter idle times are told by an axis that runs through. Own choice.
const SHORTEST_CUT: f64 = 2.0 * 3600.0;
/// Width of a break, and the least of a stretch between two.
const BREAK: f64 = 30.0;
const NARROWEST: f64 = 26.0;
/// Of a time of the day below the axis.
const LABEL: f64 = 34.0;

pub(super) struct TimeAxis {
    stretches: Vec<Stretch>,
}

struct Stretch {
    begin: Moment,
    seconds: f64,
    from: f64,
    to: f64,
}

impl TimeAxis {
    pub fn new(times: impl Iterator<Item = Moment>, from: f64, to: f64) -> Self {
        let mut times: Vec<Moment> = times.collect();
        times.sort_unstable();
        let gaps = || times.windows(2).map(|pair| seconds_between(pair[0], pair[1]));
        let busy: f64 = gaps().filter(|gap| *gap < SHORTEST_CUT).sum();
        let is_cut = |gap: f64| gap >= SHORTEST_CUT && gap > busy;
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut last: Option<Moment> = None;
        for at in times {
            match (stretches.last_mut(), last) {
                (Some(stretch), Some(before)) if !is_cut(seconds_between(before, at)) => {
                    stretch.seconds = seconds_between(stretch.begin, at);
                }
                _ => stretches.push(Stretch { begin: at, seconds: 0.0, from, to }),
            }
            last = Some(at);
        }
        let number = stretches.len() as f64;
        let all: f64 = stretches.iter().map(|stretch| stretch.seconds).sum::<f64>().max(60.0);
        // Many nights leave no room for wide breaks.
        let gap = BREAK.min((to - from) / (2.0 * number.max(1.0)));
        let least = NARROWEST.min((to - from) / (4.0 * number.max(1.0)));
        let room = to - from - gap * (number - 1.0) - least * number;
        let mut at = from;
        for stretch in &mut stretches {
            (stretch.from, stretch.to) = (at, at + least + room * stretch.seconds / all);
            at = stretch.to + gap;
        }
        Self { stretches }
    }

    pub fn place(&self, at: Moment) -> f64 {
        let stretch = self.stretches.iter().rfind(|stretch| stretch.begin <= at).or(self.stretches.first());
        stretch.map_or(0.0, |stretch| {
            let share = (seconds_between(stretch.begin, at) / stretch.seconds.max(60.0)).clamp(0.0, 1.0);
            stretch.from + share * (stretch.to - stretch.from)
        })
    }

    /// Whether nothing cuts the axis between two times.
    pub fn runs_through(&self, one: Moment, other: Moment) -> bool {
        let of = |at: Moment| self.stretches.iter().rposition(|stretch| stretch.begin <= at);
        of(one) == of(other)
    }

    /// Ends of each break, and how many seconds it stands for.
    pub fn breaks(&self) -> Vec<(f64, f64, f64)> {
        let pairs = self.stretches.windows(2);
        pairs
            .map(|pair| {
                let seconds = seconds_between(pair[0].begin, pair[1].begin) - pair[0].seconds;
                (pair[0].to, pair[1].from, seconds)
            })
            .collect()
    }

    /// Where each stretch begins, and when.
    pub fn begins(&self) -> impl Iterator<Item = (f64, Moment)> {
        self.stretches.iter().map(|stretch| (stretch.from, stretch.begin))
    }

    /// Round times of the day, as many as there is room for.
    pub fn ticks(&self) -> Vec<(f64, Moment)> {
        let minutes: f64 = self.stretches.iter().map(|stretch| stretch.seconds / 60.0).sum();
        let step = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0, 720.0, 1440.0]
            .into_iter()
            .find(|step| minutes / step <= 6.0)
            .unwrap_or(minutes / 4.0);
        let mut ticks: Vec<(f64, Moment)> = Vec::new();
        for stretch in &self.stretches {
            let clock = stretch.begin.time();
            let past =
                (f64::from(clock.hour()) * 60.0 + f64::from(clock.minute())) % step + f64::from(clock.second()) / 60.0;
            let round = multiples(past, past + stretch.seconds / 60.0, step).into_iter().map(|tick| tick - past);
            let mut own: Vec<f64> = round.filter(|tick| *tick > -1e-9).collect();
            if own.is_empty() {
                own.push(0.0);
            }
            for tick in own {
                let at = stretch.begin.saturating_add(SignedDuration::from_secs((tick * 60.0).round() as i64));
                let place = self.place(at);
                if ticks.last().is_none_or(|(last, _)| place - last >= LABEL) {
                    ticks.push((place, at));
                }
            }
        }
        ticks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn at(day: i8, hour: i8, minute: i8) -> Moment {
        Moment::new(date(2026, 11, day).at(hour, minute, 0, 0), 60)
    }

    fn axis(times: &[Moment]) -> TimeAxis {
        TimeAxis::new(times.iter().copied(), 0.0, 300.0)
    }

    #[test]
    fn an_hour_at_lunch_runs_through_and_a_night_is_cut() {
        let day = axis(&[at(23, 11, 0), at(23, 12, 0), at(23, 13, 0)]);
        assert!(day.breaks().is_empty() && day.runs_through(at(23, 11, 0), at(23, 13, 0)));
        assert_eq!([day.place(at(23, 11, 0)), day.place(at(23, 13, 0))].map(f64::round), [0.0, 300.0]);

        let night = axis(&[at(23, 16, 0), at(23, 16, 30), at(24, 7, 30), at(24, 8, 30)]);
        let breaks = night.breaks();
        assert_eq!(breaks.len(), 1);
        let (from, to, seconds) = breaks[0];
        assert_eq!(seconds, 15.0 * 3600.0);
        assert_eq!([night.place(at(23, 16, 30)), night.place(at(24, 7, 30))], [from, to]);
        assert!(!night.runs_through(at(23, 16, 30), at(24, 7, 30)) && night.runs_through(at(24, 7, 30), at(24, 8, 0)));
        // What lasts twice as long is drawn longer, and nothing is pressed into a corner.
        assert!(from > 80.0 && to < 150.0, "{from} {to}");
    }

    #[test]
    fn ticks_are_round_times_in_their_order_and_never_cover_one_another() {
        let axis = axis(&[at(23, 16, 3), at(23, 16, 40), at(24, 7, 31), at(25, 8, 2), at(25, 9, 0)]);
        let ticks = axis.ticks();
        assert!(ticks.windows(2).all(|pair| pair[1].0 - pair[0].0 >= LABEL), "{ticks:?}");
        assert!(ticks.iter().any(|(_, at)| at.time().minute() % 15 == 0));
        assert_eq!(axis.breaks().len(), 2);
    }

    #[test]
    fn thirty_nights_or_a_single_moment_still_lie_on_the_paper() {
        let nights: Vec<Moment> = (1..=30).map(|day| at(day, 8, 0)).collect();
        let nights = axis(&nights);
        let places: Vec<f64> = (1..=30).map(|day| nights.place(at(day, 8, 0))).collect();
        assert!(places.windows(2).all(|pair| pair[0] < pair[1]) && places[29] <= 300.0 + 1e-9, "{places:?}");
        let one = axis(&[at(1, 8, 0)]);
        assert!(one.place(at(1, 8, 0)).is_finite() && one.ticks().len() == 1);
        assert_eq!(axis(&[]).place(at(1, 8, 0)), 0.0);
    }
}
