//! Days of the calendar. A script gets them from its inputs; it can't know today's. Their properties are `.year`, `.month`
//! and `.day`.

use jiff::Span;
use rhai::Dynamic;

use super::{Arguments, Function};
use crate::guest::{Answer, Day, Stop, stop_with};
use crate::operand::give;
use standpipe_diagnostic::Code;
use standpipe_quantity::Dimension;

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "date",
        takes: &["text"],
        about: "The day that a text names, as year-month-day.",
        examples: &[
            ("date(\"2026-11-23\").month", "11"),
            ("date(\"2026-05-01\") < date(\"2026-11-23\")", "true"),
            ("date(\"2026-02-30\")", "error: \"2026-02-30\" is not a day of the calendar"),
        ],
        run: date,
    },
    Function {
        name: "add_days",
        takes: &["date", "days"],
        about: "The day that many days later, or earlier for a negative number.",
        examples: &[("add_days(date(\"2026-12-31\"), 1)", "2027-01-01")],
        run: |a| moved(&a, |count| Span::new().try_days(count).ok()),
    },
    Function {
        name: "add_months",
        takes: &["date", "months"],
        about: "The same day that many months later; the last day of the month where it has no such day.",
        examples: &[
            ("add_months(date(\"2027-01-31\"), 1)", "2027-02-28"),
            ("add_months(date(\"2026-11-23\"), 24)", "2028-11-23"),
        ],
        run: |a| moved(&a, |count| Span::new().try_months(count).ok()),
    },
    Function {
        name: "days_between",
        takes: &["from", "to"],
        about: "How many days lie between two days, as a time; negative if the second is earlier.",
        examples: &[("days_between(date(\"2026-11-23\"), date(\"2026-12-23\")).value(\"day\")", "30")],
        run: between,
    },
];

fn date(a: Arguments<'_, '_>) -> Answer {
    let text = a.text(0)?;
    let day = text.parse::<jiff::civil::Date>().ok().filter(|day| day.to_string() == text.as_str());
    day.map(|day| Dynamic::from(Day(day))).ok_or_else(|| {
        stop_with(
            Code::FaultyScript,
            format!("\"{text}\" is not a day of the calendar"),
            "write it as year-month-day: 2026-11-23",
        )
    })
}

fn moved(a: &Arguments<'_, '_>, span: impl FnOnce(i64) -> Option<Span>) -> Answer {
    let (day, count) = (a.day(0)?, a.whole(1, "the number of days or months")?);
    let moved = span(count).and_then(|span| day.0.checked_add(span).ok());
    moved.map(|day| Dynamic::from(Day(day))).ok_or_else(|| a.fail("the day lies beyond the calendar"))
}

fn between(a: Arguments<'_, '_>) -> Answer {
    let (from, to) = (a.day(0)?, a.day(1)?);
    let days = from.0.until(to.0).map_err(|_| a.fail("the days lie beyond the calendar"))?.get_days();
    give(time_of_days(&a, days.into())?)
}

fn time_of_days(a: &Arguments<'_, '_>, days: f64) -> Result<standpipe_quantity::Quantity, Stop> {
    let second = Dimension::parse("time").map_err(|_| a.fail("there is no dimension of time"))?;
    Ok(standpipe_quantity::Quantity::new(days * 86_400.0, second))
}
