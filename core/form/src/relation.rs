//! What has to hold between the values of one family: a form says it once, every family and variant is looked at.

use std::borrow::Cow;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Facts, Family, Form, Origin, Variant};
use standpipe_diagnostic::{Code, Diagnostic, Problems, Severity, nearest};
use standpipe_quantity::Kind;
use standpipe_quantity::value::Value;
use standpipe_script::{Expression, Fault, Names, Scripts};
use standpipe_yaml::{At, Script};

/// What has to hold between values of a family.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
#[serde(deny_unknown_fields)]
pub struct Relation {
    /// A group such as `fasteners` for `fasteners.*`: each of its records is looked at, as `one`.
    ///
    /// Example: `of: fasteners`
    #[serde(default)]
    pub of: Option<At<String>>,
    /// A condition over `spec.` (the family), `sign.` (what the variant is recognised by) and `one`; it is left open
    /// while something in it is unknown.
    ///
    /// Example: `must: spec.level.start_below <= spec.level.window.low`
    pub must: Script,
    /// What goes wrong otherwise.
    ///
    /// Example: `because: started within its window it is passed before anyone looks`
    pub because: At<String>,
}

impl Form {
    /// Holds every variant of a family against the relations of its form.
    pub fn relate(&self, family: &Family, scripts: &Scripts, problems: &mut Problems) {
        let variants: Vec<Option<&Variant>> = match family.variants.is_empty() {
            true => vec![None],
            false => family.variants.values().map(Some).collect(),
        };
        for relation in &self.relations {
            let compiled = match scripts.compile(&relation.must) {
                Ok(compiled) => compiled,
                Err(faults) => {
                    problems.extend(faults.into_iter().filter(|fault| !known(problems, fault)).collect::<Vec<_>>());
                    continue;
                }
            };
            let lost = self.lost_names(&compiled, relation.of.is_some());
            if !lost.is_empty() {
                problems.extend(lost.into_iter().filter(|fault| !known(problems, fault)).collect::<Vec<_>>());
                continue;
            }
            for variant in &variants {
                let facts = family.known(variant.map(|variant| variant.id.as_str()));
                let group = relation.of.as_ref().map(|of| (of.as_str(), facts.value(of)));
                let ones: Vec<(String, &Value)> = match group {
                    None => vec![(String::new(), &Value::Unknown)],
                    Some((of, Some(Value::Record(records)))) => {
                        records.iter().map(|(name, record)| (format!("{of}.{name}"), record)).collect()
                    }
                    Some(_) => continue,
                };
                for (path, one) in ones {
                    let names = Known { spec: &facts.values, sign: signs(*variant), one };
                    let fault = match scripts.evaluate(&compiled, &names) {
                        Ok(Value::Truth(true)) => continue,
                        Err(Fault::NotShown(missing)) => {
                            if let Some(note) = relation.open(family, facts, &compiled, &path, one, &missing)
                                && !known(problems, &note)
                            {
                                problems.push(note);
                            }
                            continue;
                        }
                        Ok(_) => None,
                        Err(Fault::Failed(fault)) => Some(fault.message),
                    };
                    // Each value that it looks at, where somebody wrote it.
                    let written = |name: &[String]| -> Vec<(String, Origin)> {
                        let (first, rest) = name.split_first().map_or(("", &[][..]), |(a, b)| (a.as_str(), b));
                        let looked_at = match first {
                            "spec" => rest.join("."),
                            "one" if rest.is_empty() => path.clone(),
                            "one" => format!("{path}.{}", rest.join(".")),
                            _ => return Vec::new(),
                        };
                        let ends = |origin: &str| looked_at == origin || looked_at.starts_with(&format!("{origin}."));
                        let all = facts.origins.iter().filter(|(origin, _)| ends(origin));
                        all.map(|(origin, at)| (origin.clone(), at.clone())).collect()
                    };
                    let mut origins: Vec<(String, Origin)> = Vec::new();
                    for name in compiled.names() {
                        for (origin, at) in written(&name.path) {
                            if !origins.iter().any(|(known, _)| *known == origin) {
                                origins.push((origin, at));
                            }
                        }
                    }
                    let of_table = |path: &String| self.field(path).is_some_and(|field| field.kind == Kind::Table);
                    let table = origins.iter().find(|(path, _)| fault.is_some() && of_table(path));
                    let table = table.map(|(_, at)| at.written.to_string());
                    let mut problem = relation.broken(family, *variant, &origins, fault);
                    if let Some(table) = table {
                        let help = format!("correct the table `{table}`, or name another");
                        problem = problem.speaks_of(&table).help(help);
                    }
                    if !known(problems, &problem) {
                        problems.push(problem);
                    }
                }
            }
        }
    }
}

impl Form {
    /// Names that lead nowhere: a relation sees `spec.`, `sign.` and, with `of:`, `one`.
    fn lost_names(&self, compiled: &Expression, one: bool) -> Problems {
        let mut lost = Problems::new();
        for name in compiled.names() {
            let rest = name.path[1..].join(".");
            let written = name.path.join(".");
            let parts: Vec<&str> = name.path[1..].iter().map(String::as_str).collect();
            let is_field = |path: &[&str]| self.field(&path.join(".")).is_some();
            // A group of fields, or an end of a range.
            let leads =
                parts.is_empty() || is_field(&parts) || self.is_group(&rest) || is_field(&parts[..parts.len() - 1]);
            match name.path[0].as_str() {
                "spec" if leads => {}
                "spec" => {
                    let message = format!("the form `{}` has no field `{rest}`", self.id);
                    let problem = Diagnostic::error(Code::UnknownField, &name.place, message);
                    let field = parts.iter().take(parts.len() - 1).copied().collect::<Vec<_>>().join(".");
                    let fields = || self.fields.keys().map(String::as_str);
                    lost.push(match nearest(&rest, fields()).or_else(|| nearest(&field, fields())) {
                        Some(near) => problem.help(format!("did you mean `spec.{near}`?")),
                        None => problem.help(format!("`standpipe show form {}` lists the fields", self.id)),
                    });
                }
                "sign" => {}
                "one" if one => {}
                _ => {
                    let message = format!("a relation does not see `{written}`");
                    let problem = Diagnostic::error(Code::UnknownName, &name.place, message)
                        .expected("`spec.` and a field, `sign.` and a sign, or `one` where `of:` names a group");
                    let field =
                        (1..=name.path.len()).any(|length| self.field(&name.path[..length].join(".")).is_some());
                    lost.push(match field {
                        true => problem.help(format!("fields of the family begin with `spec.`: `spec.{written}`")),
                        false => problem.help("name a field of the form"),
                    });
                }
            }
        }
        lost
    }
}

fn known(problems: &Problems, new: &Diagnostic) -> bool {
    problems.iter().any(|old| old.message == new.message && old.place == new.place)
}

impl Relation {
    /// What the family itself leaves open has a note of its own; a table that says nothing there has none.
    fn open(
        &self,
        family: &Family,
        facts: &Facts,
        compiled: &Expression,
        path: &str,
        one: &Value,
        missing: &[String],
    ) -> Option<Diagnostic> {
        let known = |name: &[String]| {
            let name: Vec<&str> = name.iter().map(String::as_str).collect();
            let value = match name.split_first() {
                Some((&"spec", rest)) => facts.values.at(rest),
                Some((&"one", rest)) => one.at(rest),
                _ => None,
            };
            value.is_some_and(|value| !value.is_unknown())
        };
        if path.is_empty() || !compiled.names().iter().all(|name| known(&name.path)) {
            return None;
        }
        let at = facts.origins.iter().find(|(origin, _)| *origin == path || origin.starts_with(&format!("{path}.")));
        let place = at.map_or(&family.place, |(_, at)| &at.place);
        let message = format!("`{path}` of `{}` can't be checked: nobody knows {}", family.id, missing.join(", "));
        let note = Diagnostic::warning(Code::ResultNotShown, place, message)
            .also(&self.must.place, "the form asks for this")
            .help("fill in what is empty; a step that needs it is not shown");
        Some(Diagnostic { severity: Severity::Note, ..note })
    }

    fn broken(
        &self,
        family: &Family,
        variant: Option<&Variant>,
        origins: &[(String, Origin)],
        fault: Option<String>,
    ) -> Diagnostic {
        let values: Vec<String> = origins.iter().map(|(path, at)| format!("{path} {}", at.written)).collect();
        let place = origins.first().map_or(variant.map_or(&family.place, |it| &it.place), |(_, at)| &at.place);
        let why = fault.map_or(String::new(), |fault| format!(" ({fault})"));
        let message = format!("{} of `{}`: {}{why}", values.join(", "), family.id, self.because.value);
        let mut problem = Diagnostic::error(Code::ConflictingValues, place, message)
            .also(&self.must.place, "the form asks for this")
            .expected(self.must.text.trim().to_owned())
            .help("correct the family by its source; what has yet to be looked up is `unknown`");
        for (path, at) in origins.iter().skip(1) {
            problem = problem.also(&at.place, path.as_str());
        }
        problem
    }
}

/// What a variant is recognised by, each sign as the list of what it may be.
fn signs(variant: Option<&Variant>) -> Value {
    let signs = variant.map(|variant| &variant.signs).into_iter().flatten();
    let listed: IndexMap<String, Value> =
        signs.map(|(name, sign)| (name.clone(), Value::List(sign.0.clone()))).collect();
    if listed.is_empty() { Value::Unknown } else { Value::Record(listed) }
}

struct Known<'a> {
    spec: &'a Value,
    sign: Value,
    one: &'a Value,
}

impl Names for Known<'_> {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        match name {
            "spec" => Some(Cow::Borrowed(self.spec)),
            "sign" => Some(Cow::Borrowed(&self.sign)),
            "one" => Some(Cow::Borrowed(self.one)),
            _ => None,
        }
    }

    fn all(&self, _name: &str) -> Vec<Value> {
        Vec::new()
    }
}
