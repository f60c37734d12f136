//! What is known besides the log: the family, the window, what happened when.

use jiff::civil::{Date, DateTime, Time};

use crate::cli::args::Log;
use crate::cli::context::Context;
use crate::cli::job_folder::{folder_of, read};
use crate::diagnostic::{Code, Diagnostic, Problems, nearest};
use crate::job::{Event, Machine, Record, replay};
use crate::library::{File, Files, Kind, Shop};
use crate::log::{Around, Description, Dial};
use crate::plan::{Parsed, typed};
use crate::source::At;
use crate::value::Value;

/// Where plugins, shop and facts come from: a job's own snapshot, or what lies there now.
pub struct Ground {
    pub parsed: Parsed,
    pub shop: Shop,
    pub machine: Option<Machine>,
    pub records: Vec<Record>,
    pub spec: Option<Value>,
    pub form: Option<String>,
    pub invented: bool,
    /// Everything is of the job's own plan.
    pub of_plan: bool,
    /// Everything but the description of the log is.
    pub beside_plan: bool,
}

impl Ground {
    pub fn find(args: &Log, context: &Context, problems: &mut Problems) -> Option<Self> {
        let (files, shop) = context.files(None, problems);
        let parsed = Parsed::new(files, problems);
        let shop = shop.and_then(|source| Shop::read(&source, &parsed.units, problems));
        let mut ground = Self {
            parsed,
            shop: shop.unwrap_or_default(),
            machine: None,
            records: Vec::new(),
            spec: None,
            form: None,
            invented: false,
            of_plan: false,
            beside_plan: false,
        };
        if let Some(job) = &args.job {
            let folder = folder_of(job).map_err(|fault| problems.push(*fault)).ok()?;
            let (machine, contents) = read(&folder).map_err(|found| problems.extend(found)).ok()?;
            problems.extend(contents.problems);
            let state = replay::replay(&contents.records);
            ground.spec = Some(machine.plan.facts(state.variant.as_deref(), &state.supplied));
            ground.form = Some(machine.plan.form.id.clone());
            ground.invented = machine.plan.invented;
            if args.said.instrument.is_none() || ground.shop.instruments.is_empty() {
                ground.shop = machine.plan.shop.clone();
            }
            ground.records = contents.records;
            // A plan of before there were logs has none; what lies there now is then laid beside it, and kept with the log.
            let mut files = machine.plan.snapshot.files.clone();
            let own = files.list.iter().any(|file| file.path.starts_with(Kind::Log.folder()));
            if !own {
                files.list.extend(beside(&files, &ground.parsed));
            }
            let parsed = Parsed::new(files, problems);
            if parsed.library.documents(Kind::Log).next().is_some() {
                ground.parsed = parsed;
                ground.of_plan = own;
                ground.beside_plan = !own;
            }
            ground.machine = Some(machine);
        } else if let Some(family) = &args.family {
            let (id, variant) = match family.split_once('/') {
                Some((id, variant)) => (id, Some(variant)),
                None => (family.as_str(), None),
            };
            let at = typed("--family", id);
            let (form, known) = ground.parsed.family(&at, problems)?;
            if let Some(variant) = variant
                && !known.variants.contains_key(variant)
            {
                let all: Vec<&str> = known.variants.keys().map(String::as_str).collect();
                problems.push(
                    Diagnostic::error(Code::L006, &at.place, format!("the family `{id}` has no variant `{variant}`"))
                        .expected(all.join(", "))
                        .help("leave the variant out, or name one of these"),
                );
                return None;
            }
            ground.spec = Some(known.facts(variant));
            ground.form = Some(form.id);
            ground.invented = known.invented;
        }
        Some(ground)
    }
}

/// Descriptions of logs for the plugins of a plan, as they are today.
fn beside(plan: &Files, today: &Parsed) -> Vec<File> {
    let documents = today.library.documents(Kind::Log);
    documents
        .filter_map(|document| {
            let plugin = plan.list.iter().find(|file| file.plugin == document.plugin && file.path == "plugin.yaml")?;
            let path = format!("{}/{}.yaml", Kind::Log.folder().trim_end_matches('/'), document.id);
            Some(File::new(plugin.layer, &document.plugin, &path, &*document.source.text))
        })
        .collect()
}

/// The day of a log that has no dates: that of the job's latest entries.
pub fn job_day(records: &[Record]) -> Option<Date> {
    records.last().map(|record| record.at.date())
}

/// Events and window on the log's own clock.
pub fn around(args: &Log, description: &Description, ground: &Ground, dial: &Dial, problems: &mut Problems) -> Around {
    let mut around = Around { spec: ground.spec.clone(), ..Around::default() };
    if let Some(text) = &args.window {
        match ground.parsed.units.read_range(text, None, None) {
            Ok(Value::Range(low, high)) => around.window = Some((low, high)),
            Ok(_) => problems.push(
                Diagnostic::error(Code::A001, &typed("--window", text).place, format!("`{text}` is no range"))
                    .help("write e.g. `--window 35..45degC`"),
            ),
            Err(fault) => problems.push(fault.at(&typed("--window", text).place)),
        }
    }
    let entered = |step: &At<String>| {
        ground.records.iter().rev().find_map(|record| match &record.event {
            Event::Entered { address, done: true, .. } if address.step == step.value => Some(record.at),
            _ => None,
        })
    };
    for (name, event) in &description.events {
        let at = event.steps.iter().filter_map(entered).max();
        if let Some(at) = at.and_then(|at| dial.of(at)) {
            around.events.insert(name.clone(), at);
        }
    }
    for text in &args.events {
        let at = typed("--event", text);
        let Some((name, moment)) = text.split_once('=') else {
            problems.push(
                Diagnostic::error(Code::A001, &at.place, format!("`{text}` has no `=`"))
                    .help("write `--event NAME=08:41:10`"),
            );
            continue;
        };
        if !description.events.contains_key(name) {
            let known: Vec<&str> = description.events.keys().map(String::as_str).collect();
            let problem = Diagnostic::error(Code::A001, &at.place, format!("no event is called `{name}`"))
                .expected(known.join(", "));
            let near = nearest(name, known.iter().copied());
            problems.push(
                problem.help(near.map_or("name one of these".to_owned(), |near| format!("did you mean `{near}`?"))),
            );
            continue;
        }
        match self::moment(moment, ground, dial) {
            Some(seconds) => {
                around.events.insert(name.to_owned(), seconds);
            }
            None => problems.push(
                Diagnostic::error(Code::A001, &at.place, format!("`{moment}` is no time on the clock of this log"))
                    .expected("a time of day such as 08:41:10, a time since the start such as \"125 s\", or a date with a time")
                    .help("a time of day in a log that counts from its start needs `--starts TIME`; a date needs one in the log"),
            ),
        }
    }
    let times = ground.records.iter().filter(|record| matches!(record.event, Event::Entered { .. }));
    let times: Vec<f64> = times.filter_map(|record| dial.of(record.at)).collect();
    if let (Some(first), Some(last)) = (times.first(), times.last()) {
        around.job_time = Some((first.min(*last), last.max(*first)));
    }
    around
}

fn moment(text: &str, ground: &Ground, dial: &Dial) -> Option<f64> {
    let text = text.trim();
    if let Some(time) = clock(text) {
        return dial.of_clock(time);
    }
    if let Ok(moment) = text.parse::<DateTime>()
        && text.len() > 10
    {
        return dial.of(moment);
    }
    match ground.parsed.units.read(text, Some("time"), None) {
        Ok(Value::Quantity(quantity)) => Some(quantity.si),
        _ => None,
    }
}

pub fn clock(text: &str) -> Option<Time> {
    if !text.contains(':') || text.contains(['-', 'T']) { None } else { text.parse().ok() }
}
