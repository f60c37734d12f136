//! What a log shows beside the readings that were entered: its own curve, thinned, and its figures.

use jiff::SignedDuration;
use schemars::JsonSchema;
use serde::Serialize;
use standpipe_job::Moment;

use super::Marked;
use super::collect::number_in;
use super::scale::plain;
use standpipe_job::names::seconds_between;
use standpipe_job::plan::Plan;
use standpipe_log::Collected;
use standpipe_quantity::series::{Kind, Series};

/// So many stretches have a lowest and a highest reading each: a picture is about as many dots wide.
const STRETCHES: usize = 360;

/// One column of a log as it was kept. Where it is not what was kept, it says so and holds nothing else.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct Trace {
    /// Name of the readings.
    pub name: String,
    /// What the file was called, and the hash that it had when it was kept.
    pub file: String,
    pub sha256: String,
    /// `log`, or `reader` where its rows came while the job was done.
    pub of: &'static str,
    /// Why there is no curve.
    pub not_drawn: Option<String>,
    /// Heading of its column, as written.
    pub column: String,
    /// Readings in the whole file, and when the first and the last were.
    pub rows: u64,
    #[schemars(with = "Option<[String; 2]>")]
    pub span: Option<[Moment; 2]>,
    /// How the clock of the log was laid on that of the job, where it was not simply the same.
    pub laid: Option<String>,
    /// The part that is drawn; all figures are of it.
    #[schemars(with = "Option<[String; 2]>")]
    pub drawn: Option<[Moment; 2]>,
    pub lowest: Option<Extreme>,
    pub highest: Option<Extreme>,
    pub inside: Option<Inside>,
    pub gaps: Option<Gaps>,
    /// One for each event of the picture.
    pub at_events: Vec<AtEvent>,
    /// Second 0 of `lines`.
    #[schemars(with = "Option<String>")]
    pub zero: Option<Moment>,
    /// Seconds and values, of each narrow stretch the lowest and the highest; a new line begins after each gap.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Verdicts that were passed on it when it was kept.
    pub checks: Vec<Checked>,
    /// The same in sentences.
    pub says: Vec<String>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Extreme {
    #[schemars(with = "String")]
    pub at: Moment,
    pub value: f64,
    pub shown: String,
}

/// For how long it certainly was inside the window of the picture; what lies in a gap does not count.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Inside {
    pub seconds: f64,
    /// Of so many that are drawn.
    pub of: f64,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Gaps {
    /// Seconds; a shorter time without a reading is none.
    pub longer_than: f64,
    pub count: usize,
    /// All of them together.
    pub seconds: f64,
    #[schemars(with = "Option<[String; 2]>")]
    pub longest: Option<[Moment; 2]>,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AtEvent {
    pub event: String,
    #[schemars(with = "String")]
    pub at: Moment,
    /// None in a gap or outside of the log; `shown` says which.
    pub value: Option<f64>,
    pub shown: String,
}

#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Checked {
    pub title: String,
    pub verdict: &'static str,
    pub missing: Vec<String>,
}

/// What the curve is laid on.
pub(super) struct Paper<'a> {
    pub plan: &'a Plan,
    pub unit: &'a str,
    pub window: Option<[f64; 2]>,
    pub events: &'a [Marked],
    /// The time of the picture; none: all of the log.
    pub drawn: Option<(Moment, Moment)>,
    /// Moments are counted from the start of the log.
    pub since_start: bool,
}

impl Trace {
    pub(super) fn missing(self, why: String) -> Self {
        let says = vec![format!("{}: not drawn, it proves nothing: {why}.", self.head())];
        Self { not_drawn: Some(why), says, ..self }
    }

    fn head(&self) -> String {
        format!("{} {} ({})", if self.of == "log" { "Log" } else { "Reader" }, self.file, short(&self.sha256))
    }

    /// `gap`: seconds beyond which nothing is known between two readings; `zero`: the moment of second 0.
    pub(super) fn lay(self, log: &Collected, name: &str, zero: Moment, gap: f64, paper: &Paper<'_>) -> Self {
        let Some(series) = log.series.get(name) else {
            let why = format!("it has no {}", self.name);
            return self.missing(why);
        };
        let (Some(span), Some(number)) = (series.span(), numbers(series, paper)) else {
            return self.missing("it has no readings that fit".to_owned());
        };
        let column = log.understood.columns.iter().find(|column| column.name == name);
        let moment = |second: f64| moment(zero, second);
        let seconds = |at: Moment| seconds_between(zero, at);
        let window = paper.drawn.map_or(span, |(from, to)| (seconds(from).max(span.0), seconds(to).min(span.1)));
        let mut trace = Self {
            column: column.map(|column| column.heading.clone()).unwrap_or_default(),
            rows: series.count,
            span: Some([moment(span.0), moment(span.1)]),
            zero: Some(zero),
            ..self
        };
        // Two digits behind the point only where there are few before it.
        let of_value = |value: f64| {
            let shown = if value.abs() >= 10.0 { (value * 10.0).round() / 10.0 } else { value };
            (rounded(value), format!("{} {}", plain(shown), paper.unit).trim_end().to_owned())
        };
        trace.at_events = paper
            .events
            .iter()
            .map(|event| {
                let at = seconds(event.at);
                let is_outside = at < span.0 - 1e-6 || at > span.1 + gap;
                let found = series.at(at, gap).filter(|_| !is_outside).map(|si| of_value(number(si)));
                let (value, shown) = match found {
                    Some((value, shown)) => (Some(value), shown),
                    None => (None, if is_outside { "outside the log" } else { "in a gap" }.to_owned()),
                };
                AtEvent { event: event.title.clone(), at: event.at, value, shown }
            })
            .collect();
        if window.1 < window.0 {
            trace.says = trace.sentences(gap, paper);
            return trace;
        }
        let at = |(second, si): (f64, f64)| {
            let (value, shown) = of_value(number(si));
            Extreme { at: moment(second), value, shown }
        };
        let extremes = series.extremes(window);
        trace.drawn = Some([moment(window.0), moment(window.1)]);
        trace.lowest = extremes.map(|(low, _)| at(low));
        trace.highest = extremes.map(|(_, high)| at(high));
        trace.inside = paper.window.map(|[low, high]| {
            let slack = 1e-9 * high.abs().max(1.0);
            let is_inside = |si: f64| (low - slack..=high + slack).contains(&number(si));
            let seconds = series.when(gap, window, is_inside).total();
            Inside { seconds, of: window.1 - window.0 }
        });
        // Whole, where one begins before what is drawn or ends after it.
        let mut gaps = series.gaps(gap, span);
        gaps.retain(|(from, to)| *from < window.1 && *to > window.0);
        let longest = gaps.iter().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
        trace.gaps = Some(Gaps {
            longer_than: gap,
            count: gaps.len(),
            seconds: gaps.iter().map(|(from, to)| to - from).sum::<f64>() + 0.0,
            longest: longest.map(|(from, to)| [moment(*from), moment(*to)]),
        });
        let lines = series.course(gap, window, STRETCHES);
        // A page needs no more digits than it can show.
        let point = |(second, si): (f64, f64)| [(second * 10.0).round() / 10.0, rounded(number(si))];
        trace.lines = lines.into_iter().map(|line| line.into_iter().map(point).collect()).collect();
        trace.says = trace.sentences(gap, paper);
        trace
    }

    fn sentences(&self, gap: f64, paper: &Paper<'_>) -> Vec<String> {
        let [first, last] = self.span.unwrap_or_default();
        let of_one_day = first.date() == last.date();
        let when = |at: Moment| match (of_one_day, paper.since_start) {
            (true, false) => at.strftime("%H:%M:%S").to_string(),
            (false, false) => at.strftime("%Y-%m-%d %H:%M:%S").to_string(),
            (_, true) => format!("{} after its start", lasting(seconds_between(start(), at))),
        };
        let mut says = vec![format!(
            "{}, column \"{}\": {} readings from {} to {}{}.",
            self.head(),
            self.column,
            self.rows,
            when(first),
            when(last),
            self.laid.as_ref().map(|laid| format!("; {laid}")).unwrap_or_default()
        )];
        match (&self.drawn, &self.lowest, &self.highest) {
            (Some([from, to]), Some(lowest), Some(highest)) => {
                let part = match *from > first || *to < last {
                    true => format!("Drawn is {} to {}. ", when(*from), when(*to)),
                    false => String::new(),
                };
                let inside = match (&self.inside, paper.window) {
                    (Some(inside), Some([low, high])) => format!(
                        "; inside {}..{} {} for {} of {}",
                        plain(low),
                        plain(high),
                        paper.unit,
                        lasting(inside.seconds),
                        lasting(inside.of)
                    ),
                    _ => String::new(),
                };
                says.push(format!(
                    "{part}Lowest {} at {}, highest {} at {}{inside}.",
                    lowest.shown,
                    when(lowest.at),
                    highest.shown,
                    when(highest.at)
                ));
            }
            _ => says.push("It covers none of the time in which this happened: there is no curve.".to_owned()),
        }
        let longer = lasting(gap);
        match &self.gaps {
            Some(Gaps { count: 0, .. }) => says.push(format!("No gap longer than {longer}.")),
            Some(Gaps { count, seconds, longest: Some([from, to]), .. }) => {
                let gaps = if *count == 1 { "1 gap".to_owned() } else { format!("{count} gaps") };
                let (all, ends) = (lasting(*seconds), format!("{} to {}", when(*from), when(*to)));
                let which = if *count == 1 { String::new() } else { format!(" {all} in all, the longest") };
                says.push(format!("{gaps} longer than {longer},{which} from {ends}: nothing is known of that time."));
            }
            _ => {}
        }
        if !self.at_events.is_empty() {
            let at = self.at_events.iter().enumerate().map(|(at, event)| format!("{} {}", letter(at), event.shown));
            says.push(format!("At the events: {}.", at.collect::<Vec<_>>().join(", ")));
        }
        says
    }
}

/// From base units to the unit of the picture; none where it has no such unit.
fn numbers(series: &Series, paper: &Paper<'_>) -> Option<impl Fn(f64) -> f64 + use<>> {
    let Kind::Measured(scale) = &series.kind else { return None };
    let number = |si: f64| number_in(paper.plan, &scale.quantity(si), paper.unit);
    // Units are straight lines: two points tell all, whatever the number of rows.
    let (zero, one) = (number(0.0)?, number(1.0)?);
    Some(move |si: f64| zero + (one - zero) * si)
}

pub(super) fn moment(zero: Moment, second: f64) -> Moment {
    let milliseconds = (second * 1000.0).round().clamp(-1e14, 1e14) as i64;
    zero.saturating_add(SignedDuration::from_millis(milliseconds))
}

/// Second 0 of a log of which nobody said when it began.
pub(super) fn start() -> Moment {
    Moment::new(jiff::civil::date(1, 1, 1).at(0, 0, 0, 0), 0)
}

/// Letters for events, from A.
pub fn letter(index: usize) -> String {
    let letter = char::from(b'A' + (index % 26) as u8);
    if index < 26 { letter.to_string() } else { format!("{letter}{}", index / 26) }
}

/// Without what a conversion leaves behind the digits that anybody reads.
fn rounded(value: f64) -> f64 {
    (value * 1e3).round() / 1e3 + 0.0
}

fn short(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}

/// `4.5 s`, `10 min 18 s`, `2 h 05 min`.
fn lasting(seconds: f64) -> String {
    let tenths = (seconds.clamp(0.0, 1e12) * 10.0).round() / 10.0;
    let whole = tenths.round() as u64;
    match (whole / 3600, whole / 60 % 60, whole % 60) {
        (0, 0, _) => format!("{} s", plain(tenths)),
        (0, minutes, 0) => format!("{minutes} min"),
        (0, minutes, seconds) => format!("{minutes} min {seconds:02} s"),
        (hours, minutes, _) => format!("{hours} h {minutes:02} min"),
    }
}
