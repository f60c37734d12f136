//! Readings over time, and the logs that they came from.

use standpipe_job::Moment;

use super::draw::{WIDTH, ends};
use super::scale::{Scale, plain};
use super::svg::{Svg, Table};
use super::time_axis::TimeAxis;
use super::trace::{letter, moment};
use super::{Course, Sample};
use crate::shown::clock;

/// A gap that is drawn narrower can't be seen.
const NARROWEST_GAP: f64 = 1.5;

/// Times in which nothing was logged.
fn gaps(svg: &mut Svg, course: &Course, x: &TimeAxis, (top, bottom): (f64, f64)) {
    for trace in &course.traces {
        let Some(zero) = trace.zero else { continue };
        for pair in trace.lines.windows(2) {
            let (Some([from, _]), Some([to, _])) = (pair[0].last(), pair[1].first()) else { continue };
            let (from, to) = (x.place(moment(zero, *from)), x.place(moment(zero, *to)));
            if to - from < NARROWEST_GAP {
                continue;
            }
            svg.rect((from, top), to - from, bottom - top, "gap");
            if to - from > 22.0 {
                svg.text(((from + to) / 2.0, bottom - 6.0), "small mid", "gap");
            }
        }
    }
}

pub(super) fn draw_course(course: &Course) -> Svg {
    let height = 250.0;
    let (left, right, top, bottom) = (40.0, WIDTH - 10.0, 26.0, height - 30.0);
    let samples = || course.series.iter().flat_map(|series| &series.points);
    let limits = course.window.into_iter().flatten().chain(course.limit);
    let logged = || course.traces.iter().filter_map(|trace| Some((trace.zero?, &trace.lines)));
    let points =
        || logged().flat_map(|(zero, lines)| lines.iter().flatten().map(move |[at, it]| (moment(zero, *at), *it)));
    let (low, high) = ends(samples().map(|sample| sample.value).chain(limits).chain(points().map(|(_, value)| value)));
    if low > high {
        return Svg { table: table(course), ..Svg::new(WIDTH, 0.0) };
    }
    let times = || course.times().chain(points().map(|(at, _)| at));
    let room = ((high - low) * 0.08).max(1.0);
    let x = TimeAxis::new(times(), left + 8.0, right - 8.0);
    let is_of_one_day = times().min().map(Moment::date) == times().max().map(Moment::date);
    let y = Scale::new(low - room, high + room, bottom, top);
    let mut svg = Svg::new(WIDTH, height);
    gaps(&mut svg, course, &x, (top, bottom));
    if let Some([low, high]) = course.window {
        svg.rect((left, y.place(high)), right - left, y.place(low) - y.place(high), "window");
        svg.text(
            (left + 4.0, y.place(high) + 13.0),
            "small",
            format!("window {}..{} {}", plain(low), plain(high), course.unit),
        );
    }
    for tick in y.ticks(5) {
        svg.line((left, y.place(tick)), (right, y.place(tick)), "grid");
        svg.text((left - 5.0, y.place(tick) + 4.0), "small end", plain(tick));
    }
    svg.text((left - 5.0, 14.0), "small end", course.unit.clone());
    for (place, at) in x.ticks() {
        svg.line((place, bottom), (place, bottom + 4.0), "axis");
        svg.text((place, bottom + 15.0), "small mid", clock(at));
    }
    if !is_of_one_day {
        for (place, at) in x.begins() {
            svg.text((place.max(left + 8.0), bottom + 28.0), "small mid", at.strftime("%m-%d").to_string());
        }
    }
    axis_with_breaks(&mut svg, &x, (left, right), (top, bottom));
    if let Some(limit) = course.limit {
        svg.line((left, y.place(limit)), (right, y.place(limit)), "limit");
        svg.text(
            (right - 2.0, y.place(limit) + 13.0),
            "small end",
            format!("start below {} {}", plain(limit), course.unit),
        );
    }
    for (number, (zero, lines)) in logged().enumerate() {
        for line in lines {
            let line: Vec<(f64, f64)> =
                line.iter().map(|[at, value]| (x.place(moment(zero, *at)), y.place(*value))).collect();
            svg.path(&line, if number == 0 { "trace" } else { "trace other" });
        }
    }
    let is_logged = logged().any(|(_, lines)| !lines.is_empty());
    let mut last = f64::NEG_INFINITY;
    for (index, event) in course.events.iter().enumerate() {
        let at = x.place(event.at);
        svg.line((at, top), (at, bottom), "event");
        // Letters that would cover one another stand beside one another.
        let text = at.max(last + 11.0);
        svg.text((text, top - 6.0), "small mid strong", letter(index));
        last = text;
    }
    for series in &course.series {
        let good = |sample: &&Sample| sample.counts;
        let place = |sample: &Sample| (x.place(sample.at), y.place(sample.value));
        // Over a break nothing is known, and no line is drawn; beside the log itself none is needed.
        for run in series.points.chunk_by(|one, next| x.runs_through(one.at, next.at)).filter(|_| !is_logged) {
            let line: Vec<(f64, f64)> = run.iter().map(place).collect();
            svg.path(&line, "curve");
        }
        for sample in &series.points {
            let (x, y) = place(sample);
            if good(&sample) {
                svg.circle((x, y), 3.5, "dot");
            } else {
                svg.line((x - 4.0, y - 4.0), (x + 4.0, y + 4.0), "cross");
                svg.line((x - 4.0, y + 4.0), (x + 4.0, y - 4.0), "cross");
            }
        }
    }
    svg.table = table(course);
    svg
}

/// Readings and events in the order of their times.
fn table(course: &Course) -> Table {
    let times = || course.times();
    let is_of_one_day = times().min().map(Moment::date) == times().max().map(Moment::date);
    let when = |at: Moment| if is_of_one_day { clock(at) } else { at.strftime("%m-%d %H:%M").to_string() };
    let mut rows: Vec<(Moment, Vec<String>)> = Vec::new();
    for series in &course.series {
        rows.extend(series.points.iter().map(|sample| {
            let counts = if sample.counts { "" } else { " × did not count" };
            (sample.at, vec![when(sample.at), series.name.clone(), format!("{}{counts}", sample.shown)])
        }));
    }
    rows.extend(course.events.iter().enumerate().map(|(index, event)| {
        let logged =
            course.traces.iter().filter_map(|trace| trace.at_events.get(index).filter(|it| it.value.is_some()));
        let logged: Vec<String> = logged.map(|it| format!("{} logged", it.shown)).collect();
        (event.at, vec![when(event.at), format!("{}: {}", letter(index), event.title), logged.join(", ")])
    }));
    rows.sort_by_key(|(at, _)| *at);
    let head = ["time", "what", "value"].map(str::to_owned).to_vec();
    Table { head, rows: rows.into_iter().map(|(_, row)| row).collect() }
}

/// Two slanted strokes where the axis leaves hours out, with how many.
fn axis_with_breaks(svg: &mut Svg, x: &TimeAxis, (left, right): (f64, f64), (top, bottom): (f64, f64)) {
    let mut from = left;
    for (begin, end, seconds) in x.breaks() {
        let (begin, end) = (begin + (end - begin) * 0.32, end - (end - begin) * 0.32);
        svg.line((from, bottom), (begin, bottom), "axis");
        for at in [begin, end] {
            svg.line((at - 3.0, bottom + 5.0), (at + 3.0, bottom - 5.0), "axis");
            svg.line((at, top), (at, bottom), "grid");
        }
        let hours = format!("{} h", plain((seconds / 3600.0).round()));
        svg.text(((begin + end) / 2.0, bottom - 9.0), "small mid", hours);
        from = end;
    }
    svg.line((from, bottom), (right, bottom), "axis");
}
