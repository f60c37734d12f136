//! How long something was held, and what is entered for it.

/// What became of a countdown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Held {
    Whole,
    /// Broken off after so many seconds.
    Part(f64),
}

/// What is entered as `held`. A part is rounded down, so that it never passes for the whole.
pub fn typed(held: &Held, seconds: f64) -> String {
    match held {
        Held::Whole => format!("{seconds} s"),
        Held::Part(part) => format!("{} s", ((part * 10.0).floor() / 10.0).max(0.0)),
    }
}

/// The time left, rounded up to whole seconds: `4 s`, `1 min 05 s`.
pub fn left(seconds: f64) -> String {
    let whole = seconds.max(0.0).ceil() as u64;
    match (whole / 60, whole % 60) {
        (0, seconds) => format!("{seconds} s"),
        (minutes, 0) => format!("{minutes} min"),
        (minutes, seconds) => format!("{minutes} min {seconds:02} s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_left_is_never_shown_as_less_than_it_is() {
        assert_eq!(left(4.2), "5 s");
        assert_eq!(left(65.0), "1 min 05 s");
        assert_eq!(left(300.0), "5 min");
        assert_eq!(left(0.0), "0 s");
    }

    #[test]
    fn a_part_never_passes_for_the_whole() {
        assert_eq!(typed(&Held::Part(4.98), 5.0), "4.9 s");
        assert_eq!(typed(&Held::Whole, 5.0), "5 s");
        assert_eq!(typed(&Held::Whole, 2.5), "2.5 s");
    }
}
