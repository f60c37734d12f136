//! What a plugin says of logs: which readings to look for, what they have to show.

use std::sync::Arc;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::wanted::{Entered, Wanted, WantedColumn};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_procedure::Expr;
use standpipe_quantity::series::Series;
use standpipe_quantity::value::Value;
use standpipe_quantity::{Kind, Quantity, Units};
use standpipe_script::{Scripts, usable_name};
use standpipe_yaml::{self as yaml, At, Script, Sources};

/// Names that expressions have besides the columns.
pub const NAMES: [&str; 8] = ["spec", "window", "event", "log", "gap", "apart", "job_time", "time"];

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawDescription {
    /// Id of the description: the name of its file.
    ///
    /// Example: `log: level-log`
    #[schemars(with = "standpipe_yaml::told::Id")]
    log: At<String>,
    /// The form whose families it speaks of as `spec`.
    ///
    /// Example: `form: transfer-case`
    #[schemars(with = "standpipe_yaml::told::Id")]
    form: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    title: At<String>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    invented: bool,
    /// Replaces the document with the same id in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    #[allow(dead_code)] // read when plugins are layered
    overrides: bool,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[serde(default)]
    #[allow(dead_code)] // says where the words and limits are from
    sources: Option<Sources>,
    /// Words in the heading of the column that holds the time.
    ///
    /// Example: `time: [time, clock]`
    time: Vec<At<String>>,
    /// What is looked for, by the name that checks use.
    ///
    /// Example: `columns: { bay: { title: the bay, is: temperature, words: [bay temp] } }`
    columns: IndexMap<At<String>, RawColumn>,
    /// Samples further apart leave open what was between them.
    ///
    /// Example: `gap: 3 s`
    #[schemars(with = "standpipe_yaml::told::Amount")]
    gap: At<String>,
    /// A reader that writes regularly, but more slowly, may take one and a half of its own intervals, up to this.
    ///
    /// Example: `slowest: 10 s`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Amount>")]
    slowest: Option<At<String>>,
    /// The range that the plot shows.
    ///
    /// Example: `window: spec.level.window`
    #[serde(default)]
    window: Option<Script>,
    /// The column that is drawn.
    ///
    /// Example: `plot: sump_temperature`
    plot: At<String>,
    /// What happened when, with the steps of a job that are the same.
    ///
    /// Example: `events: { opened: { title: opening opened, steps: [level-plug-out] } }`
    #[serde(default)]
    events: IndexMap<At<String>, RawEvent>,
    /// Values that checks have by name, each worked out once.
    ///
    /// Example: `moments: { own_start: 'rose(engine_speed, 300.rpm)' }`
    #[serde(default)]
    moments: IndexMap<At<String>, Script>,
    /// What the readings must show.
    ///
    /// Example: `checks: [{ id: time-runs-on, title: Time runs on, must: log.backwards == 0, at_stake: Two logs in one. }]`
    checks: Vec<RawCheck>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawColumn {
    /// What it is, in a sentence.
    ///
    /// Example: `title: the fluid temperature`
    title: At<String>,
    /// Its quantity.
    ///
    /// Example: `is: temperature`
    #[serde(default)]
    is: Option<At<String>>,
    /// The words that it can say, each with the cells that mean it.
    ///
    /// Example: `one_of: { park: [p], drive: [d] }`
    #[serde(default)]
    one_of: IndexMap<At<String>, Vec<At<String>>>,
    /// Words in headings by which it is recognised.
    ///
    /// Example: `words: [sump temp, fluid temp]`
    words: Vec<At<String>>,
    /// Words in headings that say it is something else.
    ///
    /// Example: `not: [limit, target]`
    #[serde(default)]
    not: Vec<At<String>>,
    /// Without it the log can't be used.
    ///
    /// Example: `required: true`
    #[serde(default)]
    required: bool,
    /// Readings of a job that are the same thing, and how far apart the two may be.
    ///
    /// Example: `entered: { names: [sump_temperature], within: 2 degC_diff }`
    #[serde(default)]
    entered: Option<RawEntered>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawEntered {
    /// Names of readings of a job that are the same thing.
    ///
    /// Example: `names: [sump_temperature]`
    names: Vec<At<String>>,
    /// How far apart the two may be.
    ///
    /// Example: `within: 2 degC_diff`
    #[schemars(with = "standpipe_yaml::told::Amount")]
    within: At<String>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawEvent {
    /// What happened.
    ///
    /// Example: `title: level opening opened`
    title: At<String>,
    /// Steps of procedures that are the same.
    ///
    /// Example: `steps: [level-plug-out]`
    #[serde(default)]
    steps: Vec<At<String>>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawCheck {
    /// What the verdict is called by.
    ///
    /// Example: `id: closed-in-window`
    id: At<String>,
    /// What is checked.
    ///
    /// Example: `title: Closed inside the window`
    title: At<String>,
    /// When it is looked at; always, if left out.
    ///
    /// Example: `when: spec.level.engine == "running"`
    #[serde(default)]
    when: Option<Script>,
    /// What the readings must show.
    ///
    /// Example: `must: longest_gap(sump_temperature) <= gap`
    must: Script,
    /// What is at stake.
    ///
    /// Example: `at_stake: Nobody knows what it did meanwhile.`
    at_stake: At<String>,
}

/// A checked description.
#[derive(Debug)]
pub struct Description {
    pub id: String,
    /// The form whose families it speaks of as `spec`.
    pub form: At<String>,
    pub title: String,
    pub invented: bool,
    pub wanted: Arc<Wanted>,
    /// Samples further apart leave open what was between them.
    pub gap: Quantity,
    /// A reader that writes regularly, if more slowly, is taken by its own pace, up to this.
    pub slowest: Option<Quantity>,
    /// The range that the plot shows, where none is given.
    pub window: Option<Expr>,
    /// The column that the plot shows.
    pub plot: String,
    pub events: IndexMap<String, Event>,
    /// Values that checks have by name, each worked out once; later ones may use those before.
    pub moments: IndexMap<String, Expr>,
    pub checks: Vec<Check>,
    pub place: Place,
}

/// Something that happened, and the steps of procedures that are the same.
#[derive(Clone, Debug)]
pub struct Event {
    pub title: String,
    pub steps: Vec<At<String>>,
}

#[derive(Debug)]
pub struct Check {
    pub id: String,
    pub title: String,
    /// Where this is false the check is of something else, and left out.
    pub when: Option<Expr>,
    pub must: Expr,
    pub at_stake: String,
}

impl Description {
    pub fn read(source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Self> {
        let raw: RawDescription = yaml::read(source, problems)?;
        let before = problems.len();
        let mut columns = IndexMap::new();
        for (name, raw) in &raw.columns {
            usable(name, problems);
            columns.insert(name.value.clone(), column(name, raw, units, problems));
        }
        for name in raw.events.keys() {
            usable(name, problems);
        }
        for name in raw.moments.keys() {
            usable(name, problems);
            if raw.columns.contains_key(name.as_str()) {
                fault(problems, name, format!("`{}` is a column already", name.value), "choose another name");
            }
        }
        let mut seen: Vec<&str> = Vec::new();
        for check in &raw.checks {
            if seen.contains(&check.id.as_str()) {
                fault(problems, &check.id, format!("two checks called `{}`", check.id.value), "rename one of them");
            }
            seen.push(&check.id);
        }
        if raw.columns.get(raw.plot.as_str()).is_none_or(|column| column.is.is_none()) {
            let quantities = raw.columns.iter().filter(|(_, column)| column.is.is_some());
            let drawn: Vec<&str> = quantities.map(|(name, _)| name.as_str()).collect();
            fault(
                problems,
                &raw.plot,
                format!("there is no column `{}` to plot", raw.plot.value),
                &format!("name a column that `is:` a quantity: {}", drawn.join(", ")),
            );
        }
        let gap = time(&raw.gap, "gap: 3 s", units, problems);
        let slowest = raw.slowest.as_ref().and_then(|text| time(text, "slowest: 10 s", units, problems));
        if problems[before..].iter().any(Diagnostic::is_error) {
            return None;
        }
        let texts = |list: &[At<String>]| list.iter().map(|text| text.value.clone()).collect::<Vec<_>>();
        Some(Self {
            id: raw.log.value,
            form: raw.form,
            title: raw.title.value,
            invented: raw.invented,
            wanted: Arc::new(Wanted { time: texts(&raw.time), columns }),
            gap: gap?,
            slowest,
            window: raw.window.map(Expr::new),
            plot: raw.plot.value,
            events: raw
                .events
                .into_iter()
                .map(|(name, event)| (name.value, Event { title: event.title.value, steps: event.steps }))
                .collect(),
            moments: raw.moments.into_iter().map(|(name, at)| (name.value, Expr::new(at))).collect(),
            checks: raw
                .checks
                .into_iter()
                .map(|check| Check {
                    id: check.id.value,
                    title: check.title.value,
                    when: check.when.map(Expr::new),
                    must: Expr::new(check.must),
                    at_stake: check.at_stake.value,
                })
                .collect(),
            place: raw.log.place,
        })
    }

    /// What stands behind a point, by what stands before it.
    fn part_meant(&self, first: &str, part: &str) -> Option<&str> {
        match first {
            "log" => nearest(part, super::judge::FACTS),
            "event" => nearest(part, self.events.keys().map(String::as_str)),
            "apart" => nearest(part, self.wanted.columns.keys().map(String::as_str)),
            _ => None,
        }
    }

    /// What is wrong with its expressions; `is_fact` says whether the form has a field of that path.
    pub fn check(&self, scripts: &Scripts, is_fact: impl Fn(&str) -> bool, problems: &mut Problems) {
        let of_checks = self.checks.iter().flat_map(|check| check.when.iter().chain([&check.must]));
        for expr in self.moments.values().chain(of_checks).chain(&self.window) {
            if let Err(found) = expr.compiled(scripts) {
                problems.extend(found);
                continue;
            }
            for name in expr.names(scripts) {
                let first = name.path[0].as_str();
                let known = match (first, name.path.get(1)) {
                    ("apart", Some(column)) => self.wanted.columns.contains_key(column),
                    ("event", Some(event)) => self.events.contains_key(event),
                    ("log", Some(fact)) => super::judge::FACTS.contains(&fact.as_str()),
                    ("spec", Some(_)) => is_fact(&name.path[1..].join(".")),
                    _ => {
                        NAMES.contains(&first)
                            || self.wanted.columns.contains_key(first)
                            || self.moments.contains_key(first)
                    }
                };
                if known {
                    continue;
                }
                let all = self.wanted.columns.keys().chain(self.moments.keys()).map(String::as_str).chain(NAMES);
                let mut problem =
                    Diagnostic::error(Code::FaultyLogDescription, &name.place, format!("a check of a log knows no `{}`", name.written()))
                        .expected("a column, `event.` and an event, `log.` and what is counted, `spec.` and a field, `apart.` and a column, a moment, `window`, `gap` or `job_time`");
                let whole = name.path.join(".");
                let field = (1..=name.path.len()).any(|length| is_fact(&name.path[..length].join(".")));
                if field {
                    problem = problem.help(format!("fields of the family begin with `spec.`: `spec.{whole}`"));
                } else if let Some(near) = name.path.get(1).and_then(|part| self.part_meant(first, part)) {
                    problem = problem.help(format!("did you mean `{first}.{near}`?"));
                } else {
                    problem = problem.near(first, all.filter(|known| *known != first));
                }
                problems.push(problem);
            }
        }
    }
}

/// Of samples no further apart than the gap, or no further than one and a half times the pace of a slow reader.
const LATE: f64 = 1.5;

impl Description {
    /// How far apart samples of this series may be to show what was between them, in seconds.
    pub fn apart(&self, series: &Series) -> f64 {
        let slowest = self.slowest.as_ref().map_or(0.0, |slowest| slowest.si * (1.0 + 1e-6));
        let pace = series.pace().filter(|pace| *pace <= slowest).unwrap_or(0.0);
        self.gap.si.max(LATE * pace)
    }
}

fn time(text: &At<String>, example: &str, units: &Units, problems: &mut Problems) -> Option<Quantity> {
    match units.read(text, Some("time"), None) {
        Ok(Value::Quantity(time)) if time.si > 0.0 => return Some(time),
        Ok(_) => fault(problems, text, "this is a time above zero".to_owned(), &format!("write e.g. `{example}`")),
        Err(fault) => problems.push(fault.at(&text.place)),
    }
    None
}

fn fault(problems: &mut Problems, at: &At<String>, message: String, help: &str) {
    problems.push(Diagnostic::error(Code::FaultyLogDescription, &at.place, message).help(help));
}

fn usable(name: &At<String>, problems: &mut Problems) {
    if !usable_name(name) || NAMES.contains(&name.as_str()) {
        fault(problems, name, format!("`{}` can't be a name here", name.value), "choose another name");
    }
}

fn column(name: &At<String>, raw: &RawColumn, units: &Units, problems: &mut Problems) -> WantedColumn {
    let kind = raw.is.as_ref().map(|is| (is, Kind::parse(is, &[], units)));
    let quantity = match kind {
        Some((is, _)) if !raw.one_of.is_empty() => {
            fault(problems, is, format!("`{}` says what it is twice", name.value), "leave out `is:` or `one_of:`");
            None
        }
        Some((_, Ok(Kind::Quantity(quantity)))) => Some(quantity.to_string()),
        Some((_, Ok(Kind::Count))) => Some("count".to_owned()),
        Some((_, Ok(Kind::Number))) => Some("ratio".to_owned()),
        Some((is, Ok(_))) => {
            fault(
                problems,
                is,
                format!("a column of a log can't be a `{}`", is.value),
                "name a quantity, or list words under `one_of:`",
            );
            None
        }
        Some((is, Err(unknown))) => {
            fault(problems, is, unknown.message, &unknown.help);
            None
        }
        None => {
            if raw.one_of.is_empty() {
                let message = format!("`{}` does not say what it is", name.value);
                let problem = Diagnostic::error(Code::FaultyLogDescription, &name.place, message);
                problems.push(problem.absent().help("add `is:` and a quantity, or `one_of:` with what it can say"));
            }
            None
        }
    };
    let texts = |list: &[At<String>]| list.iter().map(|text| text.value.clone()).collect::<Vec<_>>();
    WantedColumn {
        title: raw.title.value.clone(),
        entered: raw.entered.as_ref().and_then(|it| entered(quantity.as_deref(), it, units, problems)),
        quantity,
        words: texts(&raw.words),
        not: texts(&raw.not),
        required: raw.required,
        stands_for: raw.one_of.iter().map(|(word, cells)| (word.value.clone(), texts(cells))).collect(),
    }
}

fn entered(quantity: Option<&str>, raw: &RawEntered, units: &Units, problems: &mut Problems) -> Option<Entered> {
    let family = quantity.and_then(|quantity| units.family(quantity))?;
    // How far apart two points are is a difference.
    let asked = family.difference.as_ref().unwrap_or(&family.name);
    match units.read(&raw.within, Some(asked), None) {
        Ok(Value::Quantity(within)) => Some(Entered { names: raw.names.clone(), within: within.si }),
        Ok(_) => {
            fault(problems, &raw.within, "this is not a quantity".to_owned(), "write a number with its unit");
            None
        }
        Err(fault) => {
            problems.push(fault.at(&raw.within.place));
            None
        }
    }
}

/// What editors are told of a description.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawDescription)
}
