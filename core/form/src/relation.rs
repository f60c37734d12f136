//! What has to hold between the values of one family: a form says it once, every family and variant is looked at.

use std::borrow::Cow;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::{Family, Form, Origin, Variant};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_script::{Fault, Names, Scripts};
use standpipe_yaml::{At, Script};

/// What has to hold between values of a family.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
#[serde(deny_unknown_fields)]
pub struct Relation {
    /// A group such as `things` for `things.*`: each of its records is looked at, as `one`.
    #[serde(default)]
    pub of: Option<At<String>>,
    /// A condition over `spec.` (the family), `sign.` (what the variant is recognised by) and `one`. It is left open while
    /// something in it is unknown.
    pub must: Script,
    /// What goes wrong otherwise.
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
                        Ok(Value::Truth(true)) | Err(Fault::NotShown(_)) => continue,
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
                    let problem = relation.broken(family, *variant, &origins, fault);
                    if !known(problems, &problem) {
                        problems.push(problem);
                    }
                }
            }
        }
    }
}

fn known(problems: &Problems, new: &Diagnostic) -> bool {
    problems.iter().any(|old| old.message == new.message && old.place == new.place)
}

impl Relation {
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
