//! What a sheet tells of the next minutes, in a line.

use standpipe_job::plan::Plan;
use standpipe_quantity::value::Value;
use standpipe_script::Fault;
use standpipe_sheet::Outcome;

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ahead {
    /// Of the readings, with its sign.
    pub rate: Option<String>,
    pub line: Option<String>,
    /// Seconds until it closes at the earliest.
    pub closes_from: Option<f64>,
    pub warn: bool,
}

/// `inside`: the reading lies in the range. `awaited`: it is waited for now.
pub fn ahead(outcome: &Result<Outcome, Fault>, inside: bool, awaited: bool, plan: &Plan) -> Ahead {
    let Ok(outcome) = outcome else { return Ahead::default() };
    let rate = match outcome.outputs.get("rate") {
        Some(Value::Quantity(rate)) => {
            let sign = if rate.si > 0.0 { "+" } else { "" };
            Some(format!("{sign}{}", plan.show_computed(&Value::Quantity(rate.clone()))))
        }
        _ => None,
    };
    let opens = times(outcome, "opens");
    let closes = times(outcome, "closes");
    let stays = match (opens, closes) {
        (Some(opens), Some(closes)) => Some(Times {
            earliest: (closes.earliest - opens.earliest).max(0.0),
            latest: opens.latest.zip(closes.latest).map(|(opens, closes)| (closes - opens).max(0.0)),
        }),
        _ => None,
    };
    let verdict = outcome.outputs.get("verdict");
    let says = |word: &str| matches!(verdict, Some(Value::Text(text)) if text == word);
    let line = if inside {
        Some(match closes {
            Some(closes) => format!("Window open. It closes in {}.", closes.words()),
            None => "Window open. When it closes can't be told yet.".to_owned(),
        })
    } else if let Some(opens) = opens {
        let stays = stays.map(|stays| format!(", stays open {}", stays.words())).unwrap_or_default();
        Some(format!("Window opens in {}{stays}.", opens.words()))
    } else if says("over") {
        Some("Gone past the window, and moving away from it.".to_owned())
    } else if awaited {
        Some("When the window opens can't be told yet.".to_owned())
    } else {
        Some("Outside the window.".to_owned())
    };
    Ahead { rate, line, closes_from: closes.map(|closes| closes.earliest).filter(|_| inside), warn: false }
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Times {
    earliest: f64,
    latest: Option<f64>,
}

fn times(outcome: &Outcome, name: &str) -> Option<Times> {
    let seconds = |part: &str| match outcome.outputs.get(name)?.at(&[part]) {
        Some(Value::Quantity(time)) => Some(time.si),
        _ => None,
    };
    Some(Times { earliest: seconds("earliest")?, latest: seconds("latest") })
}

impl Times {
    /// Rounded outwards, so that more is not said than was told: `4 to 7 min`.
    fn words(self) -> String {
        let Some(latest) = self.latest else {
            return match (self.earliest / 60.0).floor() as u64 {
                0 => "some minutes".to_owned(),
                minutes => format!("{minutes} min or more"),
            };
        };
        if latest < 60.0 {
            return "less than 1 min".to_owned();
        }
        let (from, to) = ((self.earliest / 60.0).floor() as u64, (latest / 60.0).ceil() as u64);
        format!("{from} to {to} min")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_rounded_outwards() {
        let words = |earliest, latest| Times { earliest, latest }.words();
        assert_eq!(words(245.0, Some(410.0)), "4 to 7 min");
        assert_eq!(words(20.0, Some(59.0)), "less than 1 min");
        assert_eq!(words(20.0, Some(61.0)), "0 to 2 min");
        assert_eq!(words(200.0, None), "3 min or more");
        assert_eq!(words(20.0, None), "some minutes");
    }
}
