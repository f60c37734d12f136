//! From a procedure as written to one that can run. Reports all it finds.

use indexmap::IndexMap;

use super::expr::Expr;
use super::field::{Field, FieldKind, ScaleEnd, compare};
use super::mark::Mark;
use super::model::{Age, Evidence, Gate, LeftOut, Otherwise, Procedure, Stale, Step, TagLine};
use super::raw::{RawField, RawGate, RawOptions, RawOtherwise, RawProcedure, RawStep};
use super::step::WORDS;
use super::stricter;
use super::template::Template;
use super::whole;
use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Kind, Units};
use standpipe_script::usable_name;
use standpipe_yaml::At;

/// Names that the machine gives; a reading can't be called so.
const GIVEN: &[&str] = &["spec", "job", "shop", "round", "all"];

/// What a check needs to know of the rest.
pub struct Known<'a> {
    pub units: &'a Units,
    /// Whether there is a sheet of this id; `None` when sheets are not known here.
    pub sheets: Option<Vec<&'a str>>,
}

/// Checks one procedure. Errors go to `problems`; what could be made sense of is returned all the same, and a caller
/// that finds errors must not run it.
pub fn check(raw: RawProcedure, known: &Known<'_>, problems: &mut Problems) -> Procedure {
    let mut checker = Checker { known, problems, quantities: IndexMap::new(), rounds: 0, children: Vec::new() };
    let tag = raw
        .tag
        .into_iter()
        .map(|line| TagLine { text: checker.template(&line.text), when: line.when.map(Expr::new) })
        .collect();
    let steps = checker.steps(raw.steps);
    let left_out = checker.left_out(raw.left_out);
    let (card, record) = (checker.blocks_of_card(raw.card), checker.blocks_of_record(raw.record));
    let pictures = checker.pictures(raw.pictures);
    let learned = checker.learned(raw.learned);
    let proposes = checker.proposes(raw.proposes);
    let procedure = Procedure {
        id: raw.procedure,
        title: raw.title.value,
        form: raw.form,
        invented: raw.invented,
        needs: raw.needs,
        reachable: raw.reachable,
        on_pause: raw.on_pause,
        on_resume: raw.on_resume,
        tag,
        abandon_when: raw.abandon_when.map(Expr::new),
        may_accept: raw.may_accept,
        cautions: raw.cautions,
        points: raw.points.into_iter().map(|(name, must)| (name, Expr::new(must))).collect(),
        columns: raw.columns.into_iter().map(|(name, value)| (name, Expr::new(value))).collect(),
        steps,
        left_out,
        card,
        record,
        pictures,
        learned,
        proposes,
    };
    whole::unknown_cautions(&procedure, problems);
    whole::same_id(&procedure, problems);
    whole::done_again(&procedure.steps, problems);
    procedure
}

/// Collects what is wrong while kinds of steps check themselves.
pub struct Checker<'a> {
    known: &'a Known<'a>,
    problems: &'a mut Problems,
    /// Quantities of the names read so far.
    quantities: IndexMap<String, String>,
    /// How many `repeat` steps enclose the present one.
    rounds: usize,
    /// Steps written under the present one.
    children: Vec<At<RawStep>>,
}

impl Checker<'_> {
    pub fn report(&mut self, diagnostic: Diagnostic) {
        self.problems.push(diagnostic);
    }

    pub fn template(&mut self, text: &At<String>) -> Template {
        Template::parse(text, self.problems)
    }

    /// A name that is given to expressions.
    pub fn name(&mut self, name: &At<String>) {
        let fault = if GIVEN.contains(&name.as_str()) {
            "a name that stands for something already"
        } else if !usable_name(name) {
            "not a name that scripts can use"
        } else {
            return;
        };
        self.report(
            Diagnostic::error(Code::ReservedName, &name.place, format!("`{}` is {fault}", name.value))
                .expected(
                    "small letters, digits and underscores, starting with a letter, and no word of the script language",
                )
                .help(format!("for example `{}`", suggestion(name))),
        );
    }

    pub fn sheet(&mut self, sheet: &At<String>) {
        let Some(sheets) = &self.known.sheets else { return };
        if sheets.contains(&sheet.as_str()) {
            return;
        }
        let message = format!("there is no sheet `{}`", sheet.value);
        let diagnostic = Diagnostic::error(Code::UnknownCallee, &sheet.place, message).speaks_of(sheet).nearest(
            sheet,
            sheets.iter().copied(),
            "`standpipe show sheet` lists those in force",
        );
        self.report(diagnostic);
    }

    pub fn units(&self) -> &Units {
        self.known.units
    }

    /// A quantity that some unit family is of.
    pub fn quantity(&mut self, quantity: &At<String>) {
        if self.known.units.family(quantity).is_some() {
            return;
        }
        let names = self.known.units.families().map(|family| &*family.name);
        let message = format!("there is no quantity `{}`", quantity.value);
        let problem = Diagnostic::error(Code::WrongQuantity, &quantity.place, message);
        self.report(problem.nearest(quantity, names, "`standpipe show quantity` lists them"));
    }

    pub fn quantity_of(&self, name: &str) -> Option<String> {
        self.quantities.get(name).cloned()
    }

    pub fn remember(&mut self, field: &Field) {
        if let FieldKind::Quantity(quantity) = &field.kind {
            self.quantities.insert(field.name.value.clone(), quantity.clone());
        }
    }

    pub fn inside_rounds(&mut self, place: &Place, what: &str) {
        if self.rounds == 0 {
            self.report(
                Diagnostic::error(Code::UnfitStep, place, format!("`{what}` outside of a `repeat`"))
                    .help("put the step under the `steps:` of a `repeat`"),
            );
        }
    }

    /// The steps written under the present one, as those of a repeated block.
    pub fn children(&mut self) -> Vec<Step> {
        let children = std::mem::take(&mut self.children);
        self.rounds += 1;
        let steps = self.steps(children);
        self.rounds -= 1;
        steps
    }

    pub fn otherwise(&mut self, written: &At<RawOtherwise>, of_gate: bool) -> Otherwise {
        match &written.value {
            RawOtherwise::Ask(roles) => Otherwise::Ask(roles.iter().map(|role| role.value.clone()).collect()),
            RawOtherwise::Again(steps) if of_gate => Otherwise::Wait(steps.clone()),
            RawOtherwise::Again(_) => {
                let message = "when rounds are used up, no earlier step can be done again";
                self.report(
                    Diagnostic::error(Code::UnfitStep, &written.place, message).expected("stop, or `{ ask: [roles] }`"),
                );
                Otherwise::Stop
            }
            RawOtherwise::Word(word) => match word.as_str() {
                "stop" => Otherwise::Stop,
                "wait" if of_gate => Otherwise::Wait(Vec::new()),
                "next-round" if of_gate => {
                    self.inside_rounds(&written.place, "otherwise: next-round");
                    Otherwise::NextRound
                }
                other => {
                    let choices: &[&str] = if of_gate { &["wait", "stop", "next-round"] } else { &["stop"] };
                    let diagnostic = Diagnostic::error(
                        Code::UnfitStep,
                        &written.place,
                        format!("`{other}` is not what can follow here"),
                    )
                    .expected(format!("{}, or `{{ ask: [roles] }}`", choices.join(", ")))
                    .nearest(other, choices.iter().copied(), "choose one of those");
                    self.report(diagnostic);
                    Otherwise::Stop
                }
            },
        }
    }

    /// The fields of a `read`, in order.
    pub fn fields(&mut self, raw: IndexMap<At<String>, RawField>) -> Vec<Field> {
        raw.into_iter().filter_map(|(name, raw)| self.field(name, raw)).collect()
    }

    fn field(&mut self, name: At<String>, raw: RawField) -> Option<Field> {
        self.name(&name);
        let mut written = None;
        let kind = match (raw.is, raw.one_of, raw.recognise) {
            (Some(is), None, None) => self.read_kind(&is)?,
            (None, Some(options), None) => self.choice(&name, options),
            (None, None, Some(sign)) => {
                written = Some(sign.place);
                FieldKind::Sign(sign.value)
            }
            _ => {
                self.report(
                    Diagnostic::error(
                        Code::UnfitStep,
                        &name.place,
                        format!("`{}` does not say what is read", name.value),
                    )
                    .expected("exactly one of is, one_of, recognise")
                    .help("for example `{ is: temperature }` or `{ is: text, ask: Where is the key? }`"),
                );
                return None;
            }
        };
        let limits = raw.at_least.as_ref().map(|low| low.place.clone());
        let mut field = Field::new(name, kind);
        field.place = written;
        field.ask = raw.ask.map(|ask| ask.value);
        field.end = self.scale_end(raw.lowest_of, raw.highest_of, &field.kind, raw.instrument.is_some());
        field.instrument = raw.instrument;
        field.at_least = raw.at_least.and_then(|text| self.limit(&text, &field.kind));
        field.at_most = raw.at_most.and_then(|text| self.limit(&text, &field.kind));
        field.unit = raw.unit;
        field.optional = raw.optional;
        field.other_than = raw.other_than;
        if let (Some(low), Some(high), Some(place)) = (&field.at_least, &field.at_most, &limits)
            && compare(low, high).is_some_and(|order| order.is_gt())
        {
            self.report(
                Diagnostic::error(Code::UnfitStep, place, "`at_least` lies above `at_most`: nothing is taken")
                    .help("write the lower limit first"),
            );
        }
        field.age = raw.stale.and_then(|text| self.age(&text));
        if let (Some(unit), FieldKind::Quantity(quantity)) = (&field.unit, &field.kind)
            && let Err(fault) = self.known.units.read(&format!("1 {}", unit.value), Some(quantity), None)
        {
            self.problems.push(fault.at(&unit.place));
        }
        self.remember(&field);
        Some(field)
    }

    /// Which end of which kind of scale a value is.
    fn scale_end(
        &mut self,
        lowest: Option<At<String>>,
        highest: Option<At<String>>,
        kind: &FieldKind,
        measured: bool,
    ) -> Option<ScaleEnd> {
        let both = lowest.is_some() && highest.is_some();
        let (of, highest) = match (lowest, highest) {
            (_, Some(of)) => (of, true),
            (Some(of), None) => (of, false),
            (None, None) => return None,
        };
        let key = if highest { "highest_of" } else { "lowest_of" };
        let fault = match kind {
            _ if both => Some("one value can't be both ends of a scale"),
            _ if measured => Some("an end of a scale is read off the instrument, not with it"),
            FieldKind::Quantity(_) => None,
            _ => Some("only a quantity can be an end of a scale"),
        };
        if let Some(fault) = fault {
            self.report(
                Diagnostic::error(Code::UnfitStep, &of.place, fault)
                    .help(format!("write `{{ is: length, {key}: {} }}` and nothing else of the instrument", of.value)),
            );
            return None;
        }
        Some(ScaleEnd { of, highest })
    }

    /// The kinds of value that somebody can type at a step.
    fn read_kind(&mut self, is: &At<String>) -> Option<FieldKind> {
        let kind = match Kind::parse(is, &[], self.known.units) {
            Ok(Kind::Text) => FieldKind::Text,
            Ok(Kind::Count) => FieldKind::Count,
            Ok(Kind::Date) => FieldKind::Date,
            Ok(Kind::Person) => FieldKind::Person,
            Ok(Kind::Quantity(quantity)) => FieldKind::Quantity(quantity.to_string()),
            Ok(_) => {
                self.report(
                    Diagnostic::error(Code::UnfitStep, &is.place, format!("no step can read a `{}`", is.value))
                        .expected("text, count, date, person or a quantity")
                        .help("a choice is `one_of: [a, b]`; a list or a range is several fields"),
                );
                return None;
            }
            Err(unknown) => {
                self.report(
                    Diagnostic::error(Code::WrongQuantity, &is.place, unknown.message)
                        .expected("text, count, date, person or a quantity")
                        .help(unknown.help),
                );
                return None;
            }
        };
        Some(kind)
    }

    /// One of these, each with an explanation or none.
    pub fn choice(&mut self, name: &At<String>, options: RawOptions) -> FieldKind {
        let options: Vec<(String, Option<String>)> = match options {
            RawOptions::Names(names) => names.into_iter().map(|name| (name.value, None)).collect(),
            RawOptions::Explained(all) => all.into_iter().map(|(name, text)| (name, Some(text.value))).collect(),
        };
        if options.len() < 2 {
            self.report(
                Diagnostic::error(Code::UnfitStep, &name.place, "a choice needs at least two options")
                    .help("use `do` for what is only confirmed"),
            );
        }
        FieldKind::Choice(options)
    }

    fn limit(&mut self, text: &At<String>, kind: &FieldKind) -> Option<Value> {
        let asked = match kind {
            FieldKind::Quantity(quantity) => quantity.as_str(),
            _ => "count",
        };
        match self.known.units.read(text, Some(asked), None) {
            Ok(value) => Some(value),
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    fn age(&mut self, text: &At<String>) -> Option<Age> {
        match self.known.units.read(text, Some("time"), None) {
            Ok(Value::Quantity(time)) => Some(Age(time)),
            Ok(_) => None,
            Err(fault) => {
                self.problems.push(fault.at(&text.place));
                None
            }
        }
    }

    /// Steps that an overlay took out are checked for what they would have given; their faults are nobody's.
    fn left_out(&mut self, raw: Vec<(At<RawStep>, Mark)>) -> Vec<LeftOut> {
        let before = self.problems.len();
        let left_out = raw.into_iter().filter_map(|(step, mark)| Some(LeftOut { step: self.step(step)?, mark }));
        let left_out = left_out.collect();
        self.problems.truncate(before);
        left_out
    }

    fn steps(&mut self, raw: Vec<At<RawStep>>) -> Vec<Step> {
        raw.into_iter().filter_map(|step| self.step(step)).collect()
    }

    fn step(&mut self, raw: At<RawStep>) -> Option<Step> {
        let place = raw.place;
        let mut raw = raw.value;
        let id = raw.id.clone();
        if id.is_empty() || !id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
            self.report(
                Diagnostic::error(Code::ReservedName, &id.place, format!("`{}` is not an id", id.value))
                    .expected("small letters, digits and hyphens")
                    .help(format!("write e.g. `{}`", kebab(&id))),
            );
        }
        let words = raw.words();
        if words.len() != 1 {
            let found = if words.is_empty() { "no kind".to_owned() } else { format!("the kinds {}", words.join(", ")) };
            self.report(
                Diagnostic::error(Code::StepKind, &id.place, format!("step `{}` has {found}", id.value))
                    .absent()
                    .expected(format!("exactly one of: {}", WORDS.join(", ")))
                    .help(match words.is_empty() {
                        true => "say what is done: `do:` with the words for it, `read:` with what is read, or another of these",
                        false => "make it two steps, one for each",
                    }),
            );
            return None;
        }
        self.children = std::mem::take(&mut raw.steps);
        let kind = raw.kind(&id, self)?;
        for stray in std::mem::take(&mut self.children) {
            self.report(
                Diagnostic::error(
                    Code::UnfitStep,
                    &stray.place,
                    format!("steps under `{}`, which is not a `repeat`", id.value),
                )
                .help("only a `repeat` has steps of its own"),
            );
        }
        let title = match &raw.title {
            Some(title) => self.template(title),
            None => {
                let words = At::new(id.value.replace('-', " "), id.place.clone());
                self.template(&words)
            }
        };
        let mut show: Vec<_> = raw.show.iter().map(|text| self.template(text)).collect();
        show.extend(raw.gate.iter().flat_map(stricter::lines));
        Some(Step {
            title,
            when: raw.when.map(Expr::new),
            gate: raw.gate.map(|gate| self.gate(gate)),
            why: raw.why.as_ref().map(|text| self.template(text)),
            caution: raw.caution,
            show,
            evidence: raw.evidence.as_ref().and_then(|text| self.evidence(text)),
            witness: raw.witness.as_ref().map(|text| self.template(text)),
            stale: raw.stale.map(|stale| self.stale(&stale.place, &stale.value.0)).unwrap_or_default(),
            starts_over: raw.starts_over.map(|events| self.starts_over(events, &id, &*kind)).unwrap_or_default(),
            raises: match raw.raises {
                Some(raises) => {
                    let place = raises.place;
                    raises.value.0.into_iter().map(|event| At::new(event, place.clone())).collect()
                }
                None => Vec::new(),
            },
            undoes: raw.undoes,
            keep: raw.keep,
            needs: raw.needs,
            marks: raw.marks,
            id,
            kind,
            place,
        })
    }

    fn gate(&mut self, raw: RawGate) -> Gate {
        let otherwise = match &raw.otherwise {
            Some(written) => self.otherwise(written, true),
            None => Otherwise::Wait(Vec::new()),
        };
        let must = Expr::all_of(raw.must, raw.tightened);
        let confidence = raw.confidence.as_ref().and_then(|text| self.confidence(text));
        Gate { must, otherwise, at_stake: raw.at_stake.as_ref().map(|text| self.template(text)), confidence }
    }

    fn confidence(&mut self, text: &At<String>) -> Option<f64> {
        let found = confidence_in(text);
        if found.is_none() {
            self.report(
                Diagnostic::error(Code::UnfitStep, &text.place, format!("`{}` is not a confidence", text.value))
                    .expected("a share of at least 50 % and below 100 %, such as `95 %`"),
            );
        }
        found
    }

    fn evidence(&mut self, text: &At<String>) -> Option<Evidence> {
        match text.as_str() {
            "photo" => Some(Evidence::Photo),
            "photo-optional" => Some(Evidence::PhotoOptional),
            other => {
                self.report(
                    Diagnostic::error(Code::UnfitStep, &text.place, format!("`{other}` is not a kind of evidence"))
                        .expected("photo, or photo-optional")
                        .nearest(other, ["photo", "photo-optional"], "write one of these"),
                );
                None
            }
        }
    }

    fn starts_over(
        &mut self,
        events: At<crate::raw::OneOrMany>,
        id: &At<String>,
        kind: &dyn crate::Kind,
    ) -> Vec<String> {
        if !kind.counts_only_when_complete() {
            let message = format!("`{}` has no items, so it can't be half done", id.value);
            self.report(
                Diagnostic::error(Code::UnfitStep, &events.place, message)
                    .expected("`starts_over` at an `each`")
                    .help("write `stale:` for what ends an entry or a confirmation"),
            );
        }
        events.value.0
    }

    /// An entry that starts with a digit is an age, everything else an event.
    fn stale(&mut self, place: &Place, entries: &[String]) -> Stale {
        let mut stale = Stale { place: Some(place.clone()), ..Stale::default() };
        for entry in entries {
            if entry.starts_with(|c: char| c.is_ascii_digit()) {
                stale.age = self.age(&At::new(entry.clone(), place.clone()));
            } else {
                stale.events.push(entry.clone());
            }
        }
        stale
    }
}

/// `95 %` as a share; between a half and certainty.
pub fn confidence_in(text: &str) -> Option<f64> {
    let text = text.trim();
    let percent = text.strip_suffix('%').or_else(|| text.strip_suffix(".percent"))?.trim().parse::<f64>().ok()?;
    (50.0..100.0).contains(&percent).then(|| percent / 100.0)
}

/// What people write as an id, as one.
fn kebab(text: &str) -> String {
    let words = text.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let id: Vec<String> = words.map(str::to_ascii_lowercase).collect();
    if id.is_empty() { "a-step".to_owned() } else { id.join("-") }
}

fn suggestion(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' };
    let text: String = name.chars().map(plain).collect();
    if usable_name(&text) && !GIVEN.contains(&text.as_str()) { text } else { format!("read_{text}") }
}
