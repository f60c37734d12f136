//! `calc --table`: a sheet over every row of a CSV file.

use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::num::NonZero;
use std::path::Path;
use std::thread;

use super::{Desk, SCHEMA, given};
use crate::Exit;
use crate::args::{Calc, Format};
use crate::context::Context;
use crate::progress::Progress;
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_sheet::table::{Batch, Opened, Table, Uncertain, compute};

/// What became of the rows.
#[derive(Default)]
struct Count {
    rows: u64,
    faulty: u64,
    warned: u64,
    first: Option<(u64, String)>,
}

pub fn run(path: &Path, args: &Calc, desk: &Desk, context: &Context, mut problems: Problems) -> Exit {
    let refuse = |mut problems: Problems, problem: Diagnostic| {
        problems.push(problem);
        context.failed(SCHEMA, &problems);
        Exit::Usage
    };
    if context.common.format == Format::Json {
        let source = Source::new("--format", "json");
        let problem = Diagnostic::error(Code::WrongArguments, &Place::new(&source, 0..4), "a table comes out as CSV");
        return refuse(problems, problem.help("leave the option out"));
    }
    let name = if path == Path::new("-") { "<standard input>".to_owned() } else { path.display().to_string() };
    let unreadable = |message: String| {
        Diagnostic::error(Code::UnreadableFile, &Place::whole(&Source::new(name.as_str(), "")), message)
    };
    let (from, size): (Box<dyn BufRead + Send>, Option<u64>) = if path == Path::new("-") {
        (Box::new(BufReader::new(io::stdin())), None)
    } else {
        match standpipe_disk::stream(path) {
            Ok(file) => {
                let size = file.metadata().ok().filter(|data| data.is_file()).map(|data| data.len());
                (Box::new(BufReader::with_capacity(1 << 16, file)), size)
            }
            Err(fault) => return refuse(problems, unreadable(format!("`{name}` can't be read: {fault}"))),
        }
    };
    let opened = match Opened::open(from) {
        Ok(opened) => opened,
        Err(fault) => return refuse(problems, unreadable(format!("`{name}` can't be read: {fault}"))),
    };
    let fixed = given::read(&args.inputs, desk, &mut problems);
    let uncertain = Uncertain { wanted: args.uncertainty, spreads: fixed.spreads.clone(), seed: args.seed };
    let head = Source::new(name.as_str(), opened.head.as_str());
    let line = Place::new(&head, 0..head.text.len());
    let fixed = (fixed.values, &fixed.places);
    let names = (&*opened.names, opened.separator);
    let table = Table::new(&desk.sheet, &desk.units, names, fixed, uncertain, &line, &mut problems);
    let Some(table) = table.filter(|_| !standpipe_diagnostic::has_errors(&problems)) else {
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    context.report(&problems);
    let carried = table.carried();
    if !carried.is_empty() {
        context.note(&format!("carried along, not read: {}", carried.join(", ")));
    }
    stream(&table, opened, size, desk, context, &unreadable)
}

fn stream(
    table: &Table<'_>,
    opened: Opened<Box<dyn io::Read + Send + '_>>,
    size: Option<u64>,
    desk: &Desk,
    context: &Context,
    unreadable: &dyn Fn(String) -> Diagnostic,
) -> Exit {
    let mut progress = Progress::of_rows(size);
    let mut out = BufWriter::with_capacity(1 << 16, io::stdout().lock());
    let mut count = Count::default();
    let mut listening = out.write_all(&table.heading_line());
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    let read = compute(table, opened, threads, &|| desk.parsed.scripts(), |batch: Batch| {
        if listening.is_ok() {
            listening = out.write_all(&batch.text);
        }
        count.rows += batch.rows;
        count.faulty += batch.faulty;
        count.warned += batch.warned;
        count.first = count.first.take().or(batch.first);
        progress.tell(count.rows, batch.read_to);
        listening.is_ok()
    });
    listening = listening.and_then(|()| out.flush());
    progress.end();
    if let Err(fault) = read {
        context.report(&[unreadable(format!("after {} rows the table can't be read on: {fault}", count.rows))]);
        return Exit::Usage;
    }
    match listening {
        // A reader that has gone away (`| head`) is no fault.
        Err(fault) if fault.kind() != io::ErrorKind::BrokenPipe => {
            context.report(&[unreadable(format!("the result can't be written: {fault}"))]);
            return Exit::Usage;
        }
        _ => {}
    }
    if count.warned > 0 {
        context.note(&format!("{} of {} rows carry a warning", count.warned, count.rows));
    }
    if let Some((line, message)) = &count.first {
        context.note(&format!(
            "{} of {} rows could not be computed; the first is line {line}: {message}",
            count.faulty, count.rows
        ));
        return Exit::NotMet;
    }
    Exit::Well
}
