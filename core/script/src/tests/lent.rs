//! What an expression is given of large records: no more than it mentions, and nothing is copied to look it up.

use std::cell::Cell;

use super::*;

/// A record of many facts, lent; how often it was asked for.
struct Facts {
    spec: Value,
    asked: Cell<u32>,
}

impl Facts {
    fn new() -> Self {
        let many = |name: &str| (0..1_000).map(|n| (format!("{name}{n}"), Value::Number(f64::from(n)))).collect();
        let mut spec: IndexMap<String, Value> = many("fact");
        let mut level: IndexMap<String, Value> = many("level");
        level.insert("low".to_owned(), quantity(47.0, "degC"));
        spec.insert("level".to_owned(), Value::Record(level));
        Self { spec: Value::Record(spec), asked: Cell::new(0) }
    }
}

impl Names for Facts {
    fn latest(&self, name: &str) -> Option<Cow<'_, Value>> {
        self.asked.set(self.asked.get() + 1);
        match name {
            "spec" => Some(Cow::Borrowed(&self.spec)),
            "heat" => Some(Cow::Owned(quantity(50.0, "degC"))),
            _ => None,
        }
    }

    fn all(&self, _name: &str) -> Vec<Value> {
        Vec::new()
    }
}

fn compiled(scripts: &Scripts, text: &str) -> Expression {
    scripts.compile(&Script::new("<test>", text)).expect("sound")
}

/// How many values a record holds, those of records in it among them.
fn leaves(value: &rhai::Dynamic) -> usize {
    match value.read_lock::<rhai::Map>() {
        Some(fields) => fields.values().map(leaves).sum(),
        None => 1,
    }
}

#[test]
fn of_a_record_only_what_is_mentioned_reaches_a_script() {
    let (scripts, facts) = (scripts(), Facts::new());
    for (text, given) in [
        ("spec.level.low < heat", 1),
        ("spec.level.low < heat && spec.fact7 == 7 && spec.level.low < heat", 2),
        ("spec.level.low < heat && spec.level[\"level7\"] == 7", 1_001),
        ("spec.level[\"level7\"] == 7 && spec.level.low < heat", 1_001),
        ("spec[\"fact7\"] == 7 && spec.level.low < heat", 2_001),
    ] {
        let holds = scripts.evaluate(&compiled(&scripts, text), &facts).expect("a value");
        assert_eq!(holds, Value::Truth(true), "{text}");
        assert_eq!(leaves(&scripts.run_state().latest("spec").expect("given")), given, "{text}");
    }
}

#[test]
fn a_condition_is_looked_up_once_for_all_its_trials() {
    let (scripts, facts) = (scripts(), Facts::new());
    let expression = compiled(&scripts, "spec.level.low < heat && heat < spec.level.low + 8.degC_diff");
    let mut condition = scripts.condition(&expression, &facts).expect("a program");
    let heat = condition.register("heat").expect("a register");
    assert!(condition.register("spec").is_none() && condition.register("low").is_none());
    let asked = facts.asked.get();
    for trial in 0..4_000 {
        let celsius = 40.0 + 0.005 * f64::from(trial);
        condition.set(heat, 273.15 + celsius);
        assert_eq!(condition.holds(), Some(celsius > 47.0 + 1e-9 && celsius < 55.0 - 1e-9), "{celsius}");
    }
    assert_eq!((asked, facts.asked.get()), (4, 4), "once for each mention");
}
