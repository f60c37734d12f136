//! An overlay as written, and the check that makes an [`Overlay`] of it.

use std::sync::Arc;

use indexmap::IndexMap;
use schemars::{JsonSchema, Schema};
use serde::Deserialize;

use super::{Action, Change, Overlay, Words};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_procedure::raw::RawStep;
use standpipe_yaml::{self as yaml, At, Node, Script, Sources};

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawOverlay {
    /// Id of the overlay: the name of its file.
    ///
    /// Example: `overlay: ferry-lane-ways`
    #[schemars(with = "standpipe_yaml::told::Id")]
    overlay: At<String>,
    /// What people read as its name.
    ///
    /// Example: `title: Fluid of the transfer case`
    #[serde(default)]
    title: Option<At<String>>,
    /// Nothing in it is from the real world; card and record say so.
    ///
    /// Example: `invented: true`
    #[serde(default)]
    invented: bool,
    /// Replaces the document with the same id in an earlier plugin.
    ///
    /// Example: `override: true`
    #[serde(default, rename = "override")]
    #[allow(dead_code, reason = "read by the library, before the overlay is")]
    replaces: bool,
    /// Where it is from: a text each, or what each source covers, with who typed it and who checked it.
    ///
    /// Example: `sources: [{ covers: all, from: own records, entered_by: RM, checked_by: JO }]`
    #[serde(default)]
    #[allow(dead_code, reason = "for readers of the file; a value that is set names its own source")]
    sources: Option<Sources>,
    /// The procedure that it is laid over, with all that this includes.
    ///
    /// Example: `procedure: pan-service-overflow`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    procedure: Option<At<String>>,
    /// Warnings of its own, by the word that its steps name them with.
    ///
    /// Example: `cautions: { spray: Goggles on. }`
    #[serde(default)]
    cautions: IndexMap<At<String>, At<String>>,
    /// What it changes, in order.
    ///
    /// Example: `changes: [{ leave_out: road-test-before, because: It is to stay cold. }]`
    changes: Vec<At<RawChange>>,
}

fn belong_together(schema: &mut Schema) {
    let needs: &[(&str, &[&str])] =
        &[("leave_out", &["because"]), ("values", &["family", "source"]), ("after", &["add"]), ("before", &["add"])];
    standpipe_yaml::told::together(schema, needs);
}

// One struct of optional keys, so that serde knows the place of everything.
/// One change of a procedure or of the values of a family.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(transform = belong_together)]
struct RawChange {
    /// The step after which steps are added.
    ///
    /// Example: `after: leaks-before`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    after: Option<At<String>>,
    /// The step before which steps are added.
    ///
    /// Example: `before: tag`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    before: Option<At<String>>,
    /// The steps that are added.
    ///
    /// Example: `add: [{ id: wiped-dry, title: Wipe it dry, do: All round. }]`
    #[serde(default)]
    add: Vec<At<RawStep>>,
    /// The step that is left out.
    ///
    /// Example: `leave_out: road-test-before`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    leave_out: Option<At<String>>,
    /// Why it is left out; card and record say so.
    ///
    /// Example: `because: It is to stay cold.`
    #[serde(default)]
    because: Option<At<String>>,
    /// The step whose words are replaced.
    ///
    /// Example: `replace: pan-clean`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    replace: Option<At<String>>,
    /// Its new title.
    ///
    /// Example: `title: Clean the pan`
    #[serde(default)]
    title: Option<At<String>>,
    /// Its new words for what to do.
    ///
    /// Example: `do: In the parts washer.`
    #[serde(default, rename = "do")]
    act: Option<At<String>>,
    /// Its new reason.
    ///
    /// Example: `why: Fibres block the filter.`
    #[serde(default)]
    why: Option<At<String>>,
    /// Its new lines of live facts.
    ///
    /// Example: `show: ["Complaint: {complaint}"]`
    #[serde(default)]
    show: Option<Vec<At<String>>>,
    /// The step whose gate becomes stricter.
    ///
    /// Example: `tighten_gate: cool-enough-to-open`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    tighten_gate: Option<At<String>>,
    /// A condition that has to hold as well.
    ///
    /// Example: `must: sump_temperature <= 44.degC`
    #[serde(default)]
    must: Option<Script>,
    /// How likely it must be that the gate is met.
    ///
    /// Example: `confidence: 95 %`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Share>")]
    confidence: Option<At<String>>,
    /// The step at which a photo is asked for.
    ///
    /// Example: `add_evidence: gasket-on`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    add_evidence: Option<At<String>>,
    /// The family of which values are set.
    ///
    /// Example: `family: plover`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    family: Option<At<String>>,
    /// The variant of it; all, if left out.
    ///
    /// Example: `variant: deep-pan`
    #[serde(default)]
    #[schemars(with = "Option<standpipe_yaml::told::Id>")]
    variant: Option<At<String>>,
    /// The values, by path.
    ///
    /// Example: `values: { interval.distance: 40000..70000 km }`
    #[serde(default)]
    values: Option<Node>,
    /// Where they are from.
    ///
    /// Example: `source: our own records`
    #[serde(default)]
    source: Option<At<String>>,
}

/// What a change can be, by the key that names what it is done to, and the keys that go with it.
const CHANGES: &[(&str, &[&str])] = &[
    ("after", &["add"]),
    ("before", &["add"]),
    ("leave_out", &["because"]),
    ("replace", &["title", "do", "why", "show"]),
    ("tighten_gate", &["must", "confidence"]),
    ("add_evidence", &[]),
    ("family", &["variant", "values", "source"]),
];

impl Overlay {
    /// Reads and checks an overlay; `None` if it can't be relied on.
    pub fn read(source: &Arc<Source>, problems: &mut Problems) -> Option<Overlay> {
        let before = problems.len();
        let raw: RawOverlay = yaml::read(source, problems)?;
        let mut changes = Vec::new();
        for change in raw.changes {
            let of_steps = change.value.family.is_none();
            let place = change.value.words().first().map_or(change.place.clone(), |(_, place)| place.clone());
            if of_steps && raw.procedure.is_none() {
                problems.push(
                    Diagnostic::error(Code::ChangeWithoutTarget, &place, "a change of steps, but of which procedure?")
                        .help("add `procedure: ID` at the top of the overlay"),
                );
            }
            changes.extend(change.value.check(&place, problems).map(|action| Change { action, place }));
        }
        let overlay = Overlay {
            id: raw.overlay.value,
            title: raw.title.map(|title| title.value),
            invented: raw.invented,
            procedure: raw.procedure,
            cautions: raw.cautions,
            changes,
            place: raw.overlay.place,
        };
        (!problems[before..].iter().any(Diagnostic::is_error)).then_some(overlay)
    }
}

impl RawChange {
    /// Every key that is there, those that name what is changed first.
    fn words(&self) -> Vec<(&'static str, Place)> {
        let texts = [
            ("after", &self.after),
            ("before", &self.before),
            ("leave_out", &self.leave_out),
            ("replace", &self.replace),
            ("tighten_gate", &self.tighten_gate),
            ("add_evidence", &self.add_evidence),
            ("family", &self.family),
            ("variant", &self.variant),
            ("because", &self.because),
            ("title", &self.title),
            ("do", &self.act),
            ("why", &self.why),
            ("source", &self.source),
            ("confidence", &self.confidence),
        ];
        let mut words: Vec<_> =
            texts.into_iter().filter_map(|(word, text)| Some((word, text.as_ref()?.place.clone()))).collect();
        words.extend(self.add.first().map(|step| ("add", step.value.id.place.clone())));
        let shown = self.show.iter().flatten().next();
        words.extend(shown.map(|line| ("show", line.place.clone())));
        words.extend(self.must.as_ref().map(|must| ("must", must.place.clone())));
        words.extend(self.values.as_ref().map(|values| ("values", values.head())));
        words
    }

    fn check(self, place: &Place, problems: &mut Problems) -> Option<Action> {
        let words = self.words();
        let named: Vec<_> =
            words.iter().filter_map(|(word, _)| CHANGES.iter().find(|(name, _)| name == word)).collect();
        let [(name, with)] = named.as_slice() else {
            let found = match named.len() {
                0 => "a change that does not say what it changes".to_owned(),
                _ => format!("a change of several kinds: {}", list(named.iter().map(|(name, _)| *name))),
            };
            problems.push(
                Diagnostic::error(Code::ChangeWithoutTarget, place, found)
                    .absent()
                    .expected(format!("exactly one of: {}", list(CHANGES.iter().map(|(name, _)| *name))))
                    .help("make each change an item of its own, with a `-`"),
            );
            return None;
        };
        let mut sound = true;
        for (word, place) in words.iter().filter(|(word, _)| word != name && !with.contains(word)) {
            sound = false;
            problems.push(
                Diagnostic::error(Code::ChangeWithoutTarget, place, format!("`{word}` does not go with `{name}`"))
                    .help(match with.is_empty() {
                        true => format!("`{name}` takes nothing else"),
                        false => format!("with `{name}` go: {}", list(with.iter().copied())),
                    }),
            );
        }
        let action = self.action(place, problems);
        action.filter(|_| sound)
    }

    fn action(self, place: &Place, problems: &mut Problems) -> Option<Action> {
        let mut missing = |word: &str, help: &str| {
            let message = format!("`{word}` is missing");
            problems.push(Diagnostic::error(Code::ChangeWithoutTarget, place, message).absent().help(help));
        };
        if let Some((beside, after)) = self.after.map(|step| (step, true)).or(self.before.map(|step| (step, false))) {
            if self.add.is_empty() {
                missing("add", "write the steps that are added as a list under `add:`");
                return None;
            }
            return Some(Action::Add { beside, after, steps: self.add });
        }
        if let Some(step) = self.leave_out {
            let Some(because) = self.because.filter(|because| !because.trim().is_empty()) else {
                missing("because", "say why: whoever reads the record will ask");
                return None;
            };
            return Some(Action::LeaveOut { step, because: because.value });
        }
        if let Some(step) = self.replace {
            if self.title.is_none() && self.act.is_none() && self.why.is_none() && self.show.is_none() {
                missing("title", "write the new `title:`, `do:`, `why:` or `show:`");
                return None;
            }
            let words = Words { title: self.title, act: self.act, why: self.why, show: self.show };
            return Some(Action::Replace { step, words: Box::new(words) });
        }
        if let Some(step) = self.tighten_gate {
            if self.must.is_none() && self.confidence.is_none() {
                missing("must", "write the further condition as `must:`; the one of the procedure has to hold too");
                return None;
            }
            return Some(Action::Tighten { step, must: self.must, confidence: self.confidence });
        }
        if let Some(step) = self.add_evidence {
            return Some(Action::Evidence { step });
        }
        let family = self.family?;
        let Some(values) = self.values else {
            missing("values", "write the values under `values:`, such as `level.window: 38..42 degC`");
            return None;
        };
        let Some(source) = self.source.filter(|source| !source.trim().is_empty()) else {
            missing("source", "say where the values come from: `source: ...`");
            return None;
        };
        Some(Action::Set { family, variant: self.variant, values, source })
    }
}

fn list<'a>(words: impl Iterator<Item = &'a str>) -> String {
    words.collect::<Vec<_>>().join(", ")
}

/// What editors are told of an overlay's file.
pub fn schema() -> Schema {
    schemars::schema_for!(RawOverlay)
}
