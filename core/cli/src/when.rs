//! `--at`: when something was decided or done, where that is not now.

use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_job::plan::typed;
use standpipe_job::{Moment, OpenJob};

/// A time without its distance from UTC is by the clock of the job.
pub fn told(at: Option<&str>, job: &OpenJob) -> Result<Moment, Box<Diagnostic>> {
    let Some(text) = at else { return Ok(Moment::now()) };
    let clock = job.state().at.unwrap_or_default();
    let by_its_clock = || Some(clock.at_wall(text.parse().ok()?));
    text.parse().ok().or_else(by_its_clock).ok_or_else(|| {
        let message = format!("`{text}` is not a date with a time");
        let problem = Diagnostic::error(Code::WrongArguments, &typed("--at", text).place, message);
        Box::new(problem.help("write e.g. `--at 2026-11-05T09:10:00`"))
    })
}
