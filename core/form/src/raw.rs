//! A form as written, and the check that makes a [`Form`] of it.

use std::collections::HashSet;
use std::sync::Arc;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, RawField};
use super::{Form, Relation, snake};
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::Kind;
use standpipe_quantity::Units;
use standpipe_quantity::value::Value;
use standpipe_script::usable_name;
use standpipe_yaml::{self as yaml, At, Node, Sources};

type RawFields = IndexMap<At<String>, RawField>;

#[derive(Debug, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct RawForm {
    /// Id of the form: the name of its file.
    ///
    /// Example: `form: transfer-case`
    #[schemars(with = "standpipe_yaml::told::Id")]
    form: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    title: Option<String>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    invented: bool,
    /// Replaces the document with the same id in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    #[allow(dead_code, reason = "read by the library, before the form is")]
    replaces: bool,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[allow(dead_code, reason = "a form asks, it states no values that need a source")]
    sources: Option<Sources>,
    /// Kinds of records: what is known of each thing of which there are several.
    ///
    /// Example: `records: { plug: { drive: text, torque: torque } }`
    #[serde(default)]
    records: IndexMap<At<String>, IndexMap<At<String>, Node>>,
    /// What has to be known of one kind of unit, by path; `plugs.*` stands for any name.
    ///
    /// Example: `fields: { drain.run: { is: time, ask: How long does it run out? } }`
    #[serde(default)]
    #[schemars(transform = standpipe_yaml::told::field_paths)]
    fields: RawFields,
    /// The signs by which variants are told apart: what a person can see or count.
    ///
    /// Example: `recognised_by: { pan_bolts: { is: count, ask: How many bolts hold the pan? } }`
    #[serde(default)]
    recognised_by: RawFields,
    /// The facts of one job that `new job` asks for.
    ///
    /// Example: `job: { vehicle.odometer: { is: distance, required: true } }`
    #[serde(default)]
    job: RawFields,
    /// The facts of a job by which people call what it is about.
    ///
    /// Example: `subject: [vehicle.plate, vehicle.description]`
    #[serde(default)]
    subject: Vec<At<String>>,
    /// What has to hold between the values of each family and variant.
    ///
    /// Example: `relations: [{ must: spec.level.start_below <= spec.level.window.low, because: it would be passed unseen }]`
    #[serde(default)]
    relations: Vec<Relation>,
}

impl Form {
    /// Reads and checks a form; `None` if it can't be relied on.
    pub fn read(source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Form> {
        let before = problems.len();
        let raw: RawForm = yaml::read(source, problems)?;
        let names: Vec<&str> = raw.records.keys().map(|name| name.as_str()).collect();
        let mut check = Check { units, names, problems };
        let mut records = IndexMap::new();
        for (name, fields) in &raw.records {
            if Kind::is_taken(name, units) {
                check.faulty(name, "is the name of a kind of value already", "give the record another name");
            }
            records.insert(name.value.clone(), check.record(fields));
        }
        let fields = check.fields(&raw.fields, true);
        let signs = check.fields(&raw.recognised_by, false);
        let job = check.fields(&raw.job, false);
        let subject = check.subject(&raw.subject, &job);
        let form = Form {
            id: raw.form.value,
            title: raw.title,
            invented: raw.invented,
            records,
            fields,
            signs,
            job,
            subject,
            relations: raw.relations,
            place: raw.form.place,
        };
        (!problems[before..].iter().any(Diagnostic::is_error)).then_some(form)
    }
}

struct Check<'a> {
    units: &'a Units,
    names: Vec<&'a str>,
    problems: &'a mut Problems,
}

impl Check<'_> {
    fn record(&mut self, written: &IndexMap<At<String>, Node>) -> IndexMap<String, Field> {
        let mut fields = IndexMap::new();
        for (name, node) in written {
            let raw = match node.as_scalar() {
                // `count: count` is short for `count: { is: count }`.
                Some(scalar) => Some(RawField {
                    is: Some(At::new(scalar.text.clone(), node.place.clone())),
                    one_of: None,
                    required: false,
                    plausible: None,
                    ask: None,
                    help: None,
                }),
                None => yaml::read_node(node, self.problems),
            };
            let Some(raw) = raw else { continue };
            if name.contains(['.', '*']) {
                self.faulty(name, "can't be the name of a field in a record", "use letters, digits and `_`");
            }
            if let Some(field) = self.field(name, &raw) {
                if matches!(field.kind, Kind::Record(_)) {
                    self.faulty(name, "is a record within a record", "write its fields into the outer record");
                }
                self.insert(&mut fields, name, field);
            }
        }
        fields
    }

    fn fields(&mut self, written: &RawFields, any_name: bool) -> IndexMap<String, Field> {
        let mut fields: IndexMap<String, Field> = IndexMap::new();
        for (name, raw) in written {
            let stars = name.split('.').filter(|part| *part == "*").count();
            if stars > usize::from(any_name) || (stars == 1 && !name.ends_with(".*")) {
                self.faulty(name, "has a `*` in the wrong place", "let only the last part be `*`, as in `things.*`");
            }
            if let Some(field) = self.field(name, raw) {
                self.insert(&mut fields, name, field);
            }
        }
        for (path, field) in &fields {
            let shorter =
                fields.keys().find(|other| path.strip_prefix(other.as_str()).is_some_and(|rest| rest.starts_with('.')));
            if let Some(shorter) = shorter {
                self.problems.push(
                    Diagnostic::error(
                        Code::FaultyForm,
                        &field.place,
                        format!("`{path}` lies inside the field `{shorter}`"),
                    )
                    .also(&fields[shorter].place, "a value, not a group")
                    .help("give one of them another name"),
                );
            }
        }
        fields
    }

    /// Texts among the facts of the job.
    fn subject(&mut self, written: &[At<String>], job: &IndexMap<String, Field>) -> Vec<String> {
        let texts = || job.values().filter(|field| matches!(field.kind, Kind::Text)).map(|field| field.path.as_str());
        for path in written {
            if texts().any(|text| text == path.value) {
                continue;
            }
            let message = format!("the form has no text `{}` among the facts of a job", path.value);
            let mut problem = Diagnostic::error(Code::FaultyForm, &path.place, message);
            let known: Vec<&str> = texts().collect();
            if !known.is_empty() {
                problem = problem.expected(known.join(", "));
            }
            self.problems.push(problem.help("name facts under `job:` that are texts"));
        }
        written.iter().map(|path| path.value.clone()).collect()
    }

    fn insert(&mut self, fields: &mut IndexMap<String, Field>, name: &At<String>, field: Field) {
        if let Some(first) = fields.get(&field.path) {
            self.problems.push(
                Diagnostic::error(
                    Code::FaultyForm,
                    &name.place,
                    format!("`{}` and another field are both `{}` to a script", name.value, field.path),
                )
                .also(&first.place, "the other")
                .help("give one of them another name: a hyphen becomes `_` in scripts"),
            );
            return;
        }
        fields.insert(field.path.clone(), field);
    }

    fn field(&mut self, name: &At<String>, raw: &RawField) -> Option<Field> {
        let path = snake(name);
        let sound = |part: &str| {
            let letters = part.starts_with(|c: char| c.is_ascii_lowercase())
                && part.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
            part == "*" || (letters && usable_name(part))
        };
        if let Some(part) = path.split('.').find(|part| !sound(part)) {
            let message = format!("`{part}` in `{}` can't be used as a name in scripts", name.value);
            self.problems.push(
                Diagnostic::error(Code::ReservedName, &name.place, message)
                    .expected("lower-case letters, digits and `_`, a letter first")
                    .help(match path.replace(' ', "_") {
                        renamed if renamed != path => format!("write `{renamed}:`"),
                        _ => "rename the field; words of the script language can't be names".to_owned(),
                    }),
            );
        }
        let kind = match (&raw.is, &raw.one_of) {
            (Some(is), None) => match Kind::parse(is, &self.names, self.units) {
                Ok(kind) => kind,
                Err(unknown) => {
                    self.problems.push(unknown.at(Code::FaultyForm, &is.place));
                    return None;
                }
            },
            (None, Some(options)) => self.options(name, options),
            _ => {
                let message = format!("`{}` needs one of `is:` and `one_of:`, not both and not neither", name.value);
                let problem = Diagnostic::error(Code::FaultyForm, &name.place, message);
                self.problems.push(problem.absent().help("say what kind of value it takes"));
                return None;
            }
        };
        let plausible = raw.plausible.as_ref().and_then(|text| self.plausible(&kind, text));
        Some(Field {
            path,
            kind,
            required: raw.required,
            plausible,
            ask: raw.ask.clone(),
            help: raw.help.clone(),
            place: name.place.clone(),
        })
    }

    fn options(&mut self, name: &At<String>, options: &[At<String>]) -> Kind {
        let mut seen = HashSet::new();
        if options.len() < 2 {
            self.faulty(name, "has fewer than two choices", "list them: `one_of: [a, b]`");
        }
        for option in options {
            if option.value == "unknown" {
                self.faulty(option, "is understood everywhere and can't be a choice", "remove it from the list");
            } else if !seen.insert(option.to_lowercase()) {
                self.faulty(option, "appears twice in the list", "remove it");
            }
        }
        Kind::OneOf(options.iter().map(|option| option.value.clone()).collect())
    }

    fn plausible(
        &mut self,
        kind: &Kind,
        text: &At<String>,
    ) -> Option<(standpipe_quantity::Quantity, standpipe_quantity::Quantity)> {
        let asked = match kind {
            Kind::Quantity(quantity) | Kind::Range(quantity) => Some(&**quantity),
            Kind::List(inner) => return self.plausible(inner, text),
            Kind::Count | Kind::Number => None,
            _ => {
                self.faulty(text, "says what is plausible of something that is not a number", "remove `plausible:`");
                return None;
            }
        };
        match self.units.read_range(text, asked, None) {
            Ok(Value::Range(low, high)) => Some((low, high)),
            Ok(_) => None,
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    fn faulty(&mut self, at: &At<String>, message: &str, help: &str) {
        self.problems
            .push(Diagnostic::error(Code::FaultyForm, &at.place, format!("`{}` {message}", at.value)).help(help));
    }
}
