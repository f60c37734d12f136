//! A workshop's own settings: units shown, people, instruments, what it may see and do.

use std::sync::Arc;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::act::Act;
use super::instrument::{Instrument, RawInstrument};
use super::manifest::{is_kebab, kebab};
use standpipe_diagnostic::source::{Place, Source};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::value::Value;
use standpipe_quantity::{Graduation, Purpose, Style, System, Units};
use standpipe_script::usable_name;
use standpipe_yaml::{self as yaml, At, Node};

/// What is computed is shown to people with so many significant digits; nobody's hand is finer.
const DIGITS: u8 = 3;

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawShop {
    /// Id of the shop.
    ///
    /// Example: `shop: ferry-lane`
    #[schemars(with = "standpipe_yaml::told::Id")]
    shop: At<String>,
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
    /// The system of units, and the units of single quantities, first choice first.
    ///
    /// Example: `units: { system: metric, torque: [N·m, lbf·ft] }`
    #[serde(default)]
    units: IndexMap<At<String>, Node>,
    /// What stands for `¤` when money is shown.
    ///
    /// Example: `currency: EUR`
    #[serde(default)]
    currency: Option<At<String>>,
    /// Who works here, by the id that answers and signatures have.
    ///
    /// Example: `people: { rita: { name: Rita M., roles: [doer, checker] } }`
    #[serde(default)]
    #[schemars(transform = standpipe_yaml::told::ids)]
    people: IndexMap<At<String>, RawPerson>,
    /// Measuring instruments, by id.
    ///
    /// Example: `instruments: { jug: { kind: jug, range: 0..6 L, unit: L } }`
    #[serde(default)]
    #[schemars(transform = standpipe_yaml::told::ids)]
    instruments: IndexMap<At<String>, RawInstrument>,
    /// Folders of the shop's own plugins, relative to this file; later ones override earlier ones.
    ///
    /// Example: `plugins: [ferry-lane]`
    #[serde(default)]
    plugins: Vec<At<String>>,
    /// Overlays in force, in their order.
    ///
    /// Example: `overlays: [ferry-lane-ways]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
    overlays: Vec<At<String>>,
    /// The folder that the journals of its jobs lie in, relative to this file: cards look there for what earlier jobs
    /// tell.
    ///
    /// Example: `journals: ../journals`
    #[serde(default)]
    journals: Option<At<String>>,
    /// Acts that are not shown unless whoever did them signed by key.
    ///
    /// Example: `by_key: [sign, witness, accept, close]`
    #[serde(default)]
    #[schemars(with = "Vec<Act>")]
    by_key: Vec<At<String>>,
    /// What things cost.
    ///
    /// Example: `rates: { labour: 82 ¤/h, tax: 19 % }`
    #[serde(default)]
    #[schemars(with = "IndexMap<String, standpipe_yaml::told::Amount>")]
    rates: IndexMap<At<String>, Node>,
    /// Other facts, which expressions see as `shop.`.
    ///
    /// Example: `facts: { lift: two-post }`
    #[serde(default)]
    facts: IndexMap<At<String>, Node>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RawPerson {
    /// The name as it is shown.
    ///
    /// Example: `name: Rita M.`
    name: At<String>,
    /// What they may sign and accept as.
    ///
    /// Example: `roles: [doer, checker]`
    #[serde(default)]
    #[schemars(with = "Vec<standpipe_yaml::told::Id>")]
    roles: Vec<At<String>>,
}

/// A checked shop file. A job without one has the default: metric units, nobody and nothing known.
#[derive(Clone, Debug, Default)]
pub struct Shop {
    /// What it is called by.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// It is not a real one.
    pub invented: bool,
    /// How it wants to see quantities.
    pub style: Style,
    /// By the names that they sign with.
    pub people: IndexMap<String, Person>,
    /// By their ids.
    pub instruments: IndexMap<String, Instrument>,
    /// Folders of plugins, relative to the shop file, later ones over earlier ones.
    pub plugins: Vec<At<String>>,
    /// Overlays in force, in their order.
    pub overlays: Vec<At<String>>,
    /// Where journals lie, relative to the shop file.
    pub journals: Option<At<String>>,
    /// What is not shown unless it was signed by key.
    pub by_key: Vec<Act>,
    /// What things cost.
    pub rates: IndexMap<String, Value>,
    /// Where each of these is written.
    pub rate_places: Vec<Place>,
    /// What scripts see as `shop`.
    pub facts: IndexMap<String, Value>,
}

/// Somebody who works in the shop.
#[derive(Clone, Debug)]
pub struct Person {
    /// As it is shown.
    pub name: String,
    /// What they may sign and accept as.
    pub roles: Vec<String>,
    /// Where each role is written.
    pub places: Vec<Place>,
}

impl Shop {
    /// Reads a shop file; `None` when it can't be used at all.
    pub fn read(source: &Arc<Source>, units: &Units, problems: &mut Problems) -> Option<Shop> {
        let raw: RawShop = yaml::read(source, problems)?;
        let mut style = Style { purpose: Purpose::Reading, digits: DIGITS, ..Style::default() };
        for (key, node) in &raw.units {
            read_units(key, node, units, &mut style, problems);
        }
        style.currency = raw.currency.map(|currency| currency.value.into());
        for id in
            [&raw.shop].into_iter().chain(raw.people.keys()).chain(raw.instruments.keys()).filter(|id| !is_kebab(id))
        {
            problems.push(
                Diagnostic::error(Code::MisplacedId, &id.place, format!("`{}` can't be an id", id.value))
                    .expected("lower-case letters, digits and hyphens")
                    .help(format!(
                        "write e.g. `{}`: the id is for files and answers; what people see is `name:` or `title:`",
                        kebab(&id.value)
                    )),
            );
        }
        let people = people(raw.people, problems);
        let instruments: IndexMap<String, Instrument> =
            raw.instruments.into_iter().map(|(id, raw)| (id.value, raw.check(units, problems))).collect();
        style.graduations = graduations(&instruments);
        let rates = facts(raw.rates, units, problems);
        for (name, place) in rates
            .iter()
            .filter(|(_, (value, _))| !matches!(value, Value::Quantity(_) | Value::Unknown))
            .map(|(name, (_, place))| (name, place))
        {
            problems.push(
                Diagnostic::error(Code::FaultyShop, place, format!("the rate `{name}` has no unit"))
                    .expected("an amount of money, or money per time or volume")
                    .help("write e.g. `80 ¤/h`, `9 ¤` or `19 %`"),
            );
        }
        let values = |facts: Facts| facts.into_iter().map(|(name, (value, _))| (name, value)).collect();
        let facts = facts(raw.facts, units, problems);
        Some(Shop {
            title: raw.title.map_or_else(|| raw.shop.value.clone(), |title| title.value),
            id: raw.shop.value,
            invented: raw.invented,
            style,
            people,
            instruments,
            plugins: raw.plugins,
            overlays: raw.overlays,
            journals: raw.journals,
            by_key: raw.by_key.iter().filter_map(|word| act(word, problems)).collect(),
            rate_places: rates.values().map(|(_, place)| place.clone()).collect(),
            rates: values(rates),
            facts: values(facts),
        })
    }

    /// Whether somebody has a role; false for one whom the shop does not know.
    pub fn has_role(&self, person: &str, role: &str) -> bool {
        self.people.get(person).is_some_and(|person| person.roles.iter().any(|has| has == role))
    }

    /// Ids of the instruments of a kind.
    pub fn instruments_of(&self, kind: &str) -> Vec<&str> {
        self.instruments.iter().filter(|(_, it)| it.kind == kind).map(|(id, _)| id.as_str()).collect()
    }

    /// The unit that an instrument shows.
    pub fn unit_of(&self, instrument: &str) -> Option<String> {
        self.instruments.get(instrument)?.unit.clone()
    }
}

/// `system: metric | inch | both`, or the units of one quantity.
fn read_units(key: &At<String>, node: &Node, units: &Units, style: &mut Style, problems: &mut Problems) {
    if key.as_str() == "system" {
        style.system = match node.as_text() {
            Some("metric") => System::Metric,
            Some("inch") => System::Inch,
            Some("both") => System::Both,
            _ => {
                problems.push(
                    Diagnostic::error(Code::FaultyShop, &node.head(), "not a system of units")
                        .expected("metric, inch or both")
                        .help("write `system: metric`; the units of single quantities stand below it"),
                );
                return;
            }
        };
        return;
    }
    if units.family(key).is_none() {
        let diagnostic =
            Diagnostic::error(Code::FaultyShop, &key.place, format!("there is no quantity `{}`", key.value));
        let diagnostic = diagnostic.nearest(
            key,
            units.families().map(|family| &*family.name).chain(["system"]),
            "`standpipe show units` lists the quantities",
        );
        problems.push(diagnostic);
        return;
    }
    let wanted: Vec<&Node> = match node.as_list() {
        Some(list) => list.iter().collect(),
        None => vec![node],
    };
    let mut symbols = Vec::new();
    for unit in wanted {
        let text = unit.as_text().unwrap_or_default();
        match units.read(&format!("1 {text}"), Some(key), None) {
            Ok(Value::Quantity(quantity)) => {
                symbols.extend(quantity.written.map(|written| written.unit.to_string()));
            }
            Ok(_) => symbols.push(text.to_owned()),
            Err(mut fault) => {
                fault.range = 0..text.len();
                problems.push(fault.at(&unit.text_place()));
            }
        }
    }
    style.overrides.insert(key.value.clone(), symbols);
}

fn act(word: &At<String>, problems: &mut Problems) -> Option<Act> {
    let found = Act::of(word);
    if found.is_none() {
        let words = Act::ALL.map(Act::word);
        let message = format!("`{}` is nothing that is signed by key", word.value);
        let problem = Diagnostic::error(Code::FaultyShop, &word.place, message);
        problems.push(problem.nearest(word, words, format!("write some of: {}", words.join(", "))));
    }
    found
}

fn people(written: IndexMap<At<String>, RawPerson>, problems: &mut Problems) -> IndexMap<String, Person> {
    let mut people: IndexMap<String, Person> = IndexMap::new();
    for (id, person) in written {
        // A record that two people could have signed is worth nothing.
        if let Some((other, _)) = people.iter().find(|(_, known)| known.name == person.name.value) {
            problems.push(
                Diagnostic::error(
                    Code::FaultyShop,
                    &person.name.place,
                    format!("`{}` is also the name of `{other}`", person.name.value),
                )
                .help("add what tells them apart, as on a time sheet"),
            );
        }
        if person.roles.is_empty() {
            problems.push(
                Diagnostic::warning(
                    Code::FaultyShop,
                    &id.place,
                    format!("`{}` has no role and may do nothing", id.value),
                )
                .absent()
                .help("add `roles: [doer]`, or take the person out"),
            );
        }
        let (roles, places) = person.roles.into_iter().map(|role| (role.value, role.place)).unzip();
        people.insert(id.value, Person { name: person.name.value, roles, places });
    }
    people
}

fn graduations(instruments: &IndexMap<String, Instrument>) -> Vec<Graduation> {
    let graduation = |instrument: &Instrument| {
        let range = instrument.range.as_ref().map(|(low, high)| (low.si, high.si));
        Some(Graduation { step: instrument.resolution.clone()?, range })
    };
    instruments.values().filter_map(graduation).collect()
}

type Facts = IndexMap<String, (Value, Place)>;

/// What begins with a digit is a number or a quantity; a date, a text in quotes and everything else is text.
fn facts(written: IndexMap<At<String>, Node>, units: &Units, problems: &mut Problems) -> Facts {
    let mut facts = Facts::new();
    for (name, node) in written {
        let path = name.replace('-', "_");
        if !usable_name(&path) {
            problems.push(
                Diagnostic::error(
                    Code::ReservedName,
                    &name.place,
                    format!("`{}` can't be used as a name in scripts", name.value),
                )
                .expected("lower-case letters, digits and `_`, a letter first")
                .help("rename it; words of the script language can't be names"),
            );
        }
        facts.insert(path, (fact(&node, units, problems), node.place));
    }
    facts
}

fn fact(node: &Node, units: &Units, problems: &mut Problems) -> Value {
    let Some(scalar) = node.as_scalar() else {
        problems.push(
            Diagnostic::error(
                Code::FaultyShop,
                &node.head(),
                format!("expected one value, found {}", node.described()),
            )
            .help("give each value a name of its own"),
        );
        return Value::Unknown;
    };
    let text = scalar.text.trim();
    let is_number = text.trim_start_matches(['-', '+']).starts_with(|c: char| c.is_ascii_digit());
    match text {
        _ if scalar.style != yaml::Style::Plain => Value::Text(text.into()),
        "unknown" => Value::Unknown,
        "true" => Value::Truth(true),
        "false" => Value::Truth(false),
        _ if !is_number || text.parse::<jiff::civil::Date>().is_ok() => Value::Text(text.into()),
        _ => {
            let read =
                if text.contains("..") { units.read_range(text, None, None) } else { units.read(text, None, None) };
            read.unwrap_or_else(|mut fault| {
                fault.help = fault.help.or_else(|| Some("put it in quotes if it is text".into()));
                problems.push(fault.at(&node.place));
                Value::Unknown
            })
        }
    }
}

/// What editors are told of a shop file.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(RawShop)
}
