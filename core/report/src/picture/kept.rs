//! Pictures of logs that a job kept: column, window and events as the plugin's description of such logs has them.

use std::path::Path;

use super::collect::{number_in, unit_of};
use super::readings::{around_times, course_says, has_read, samples};
use super::sources::proven;
use super::trace::{Checked, Paper, Trace, moment, start};
use super::{Course, Drawn, Marked, NotDrawn, Picture, Series};
use crate::shown::{clock, show, words};
use standpipe_diagnostic::Problems;
use standpipe_job::event::KeptLog;
use standpipe_job::plan::{Parsed, Plan};
use standpipe_job::{Event, Record, State};
use standpipe_log::{Around, Description};
use standpipe_quantity::series::Kind;

pub(super) fn pictures(
    plan: &Plan,
    (state, records): (&State, &[Record]),
    folder: &Path,
    not_drawn: &mut Vec<NotDrawn>,
) -> Vec<Picture> {
    let mut parsed: Option<Parsed> = None;
    let mut pictures = Vec::new();
    for (index, record) in records.iter().enumerate() {
        let Event::LogKept(kept) = &record.event else { continue };
        let parsed = parsed.get_or_insert_with(|| Parsed::new(plan.snapshot.files.clone(), &mut Problems::new()));
        let id = format!("kept-log-{}", record.seq);
        let of = |title: &str| format!("{title}: {}", kept.evidence.name);
        let description = match standpipe_log::kept::described(kept, parsed, folder) {
            Ok(description) => description,
            Err(why) => {
                not_drawn.push(NotDrawn { id, title: of("Log"), missing: vec![why] });
                continue;
            }
        };
        let before = &records[..index];
        let around = standpipe_log::kept::around(kept, plan, before);
        let course = course(plan, (state, kept, before), &description, &around, (parsed, folder));
        let says = course_says(&course);
        let title = of(&description.title);
        pictures.push(Picture { id, title, variant: None, says, drawn: Drawn::Course(course) });
    }
    pictures
}

fn course(
    plan: &Plan,
    (state, kept, before): (&State, &KeptLog, &[Record]),
    description: &Description,
    around: &Around,
    (parsed, folder): (&Parsed, &Path),
) -> Course {
    let checks = kept.verdicts.iter().map(|one| Checked {
        title: one.title.clone(),
        verdict: one.verdict.words(),
        missing: one.missing.clone(),
    });
    let trace = Trace {
        name: words(&description.plot),
        file: kept.evidence.name.clone(),
        sha256: kept.evidence.sha256.clone(),
        of: "log",
        checks: checks.collect(),
        ..Trace::default()
    };
    let mut course = Course::default();
    let log = match proven(folder, &kept.evidence, |from| standpipe_log::kept::rows(kept, from, description, parsed)) {
        Ok(log) => log,
        Err(why) => {
            course.traces.push(trace.missing(why));
            return course;
        }
    };
    let sample = log.series.get(&description.plot).and_then(|series| match &series.kind {
        Kind::Measured(scale) => Some(scale.quantity(0.0)),
        Kind::Words(_) => None,
    });
    let Some(sample) = sample else {
        course.traces.push(trace.missing(format!("it has no {}", words(&description.plot))));
        return course;
    };
    course.unit = unit_of(plan, &sample);
    course.window = description
        .window_of(around, &plan.scripts)
        .and_then(|(low, high)| Some([number_in(plan, &low, &course.unit)?, number_in(plan, &high, &course.unit)?]));
    let zero = standpipe_log::kept::zero(kept, before);
    course.since_start = zero.is_none();
    let from = zero.unwrap_or_else(start);
    let mut events: Vec<(f64, &str)> =
        kept.events.iter().filter_map(|(name, at)| Some((*at, description.events.get(name)?.title.as_str()))).collect();
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    course.events =
        events.into_iter().map(|(at, title)| Marked { at: moment(from, at), title: title.to_owned() }).collect();
    let span = log.series.get(&description.plot).and_then(|series| series.span());
    if zero.is_some() {
        let names = has_read(plan, &description.plot);
        course.series = names
            .iter()
            .map(|name| Series {
                name: words(name),
                points: samples(plan, state.readings.iter().filter(|reading| reading.name == *name), &course.unit)
                    .filter(|sample| {
                        span.is_some_and(|(first, last)| {
                            (moment(from, first)..=moment(from, last)).contains(&sample.at)
                        })
                    })
                    .collect(),
            })
            .filter(|series: &Series| !series.points.is_empty())
            .collect();
    }
    let drawn = around_times(course.times());
    let paper = Paper {
        plan,
        unit: &course.unit,
        window: course.window,
        events: &course.events,
        drawn,
        since_start: course.since_start,
    };
    let laid = course.since_start.then(|| "nothing says when it began".to_owned());
    let apart = log.series.get(&description.plot).map_or(description.gap.si, |series| description.apart(series));
    let mut trace = Trace { laid, ..trace }.lay(&log, &description.plot, from, apart, &paper);
    let contradicted = zero.map(|zero| description.contradictions(&log, zero, &state.readings)).unwrap_or_default();
    trace.says.extend(contradicted.iter().map(|one| {
        let range = plan.units.show_range(&one.low, &one.high, &plan.shop.style);
        let (name, value) = (words(&one.reading.name), show(plan, &one.reading.value));
        format!("IT CONTRADICTS WHAT WAS ENTERED: {name} {value} at {}; it shows {range}.", clock(one.reading.at))
    }));
    if trace.lines.is_empty() {
        // What was read is no curve, and would look like one.
        (course.series, course.window) = (Vec::new(), None);
    }
    course.traces.push(trace);
    course
}
