//! Scripts made at random come to the same both ways.

use standpipe::quantity::Units;
use standpipe::script::{ScriptFile, Scripts};
use standpipe::source::Source;

use super::both_ways::{compare, interpreted};
use super::written::{Dice, inputs, script};

#[test]
fn scripts_made_at_random_come_to_the_same_both_ways() {
    let count = std::env::var("STANDPIPE_RANDOM_SCRIPTS").ok().and_then(|text| text.parse().ok()).unwrap_or(400);
    let units = Units::standard();
    let mut whys = std::collections::BTreeMap::new();
    let (mut compiled, mut by_program, mut refused, mut handed_over) = (0, 0, 0, 0);
    for seed in 0..count {
        let mut dice = Dice::new(&[], seed);
        let text = script(&mut dice);
        let file =
            ScriptFile { name: "random".into(), plugin: "".into(), source: Source::new("random.rhai", text.as_str()) };
        let scripts = Scripts::new(units.clone(), vec![file]);
        if !scripts.check().is_empty() {
            continue;
        }
        compiled += 1;
        for _ in 0..10 {
            let given = inputs(&mut dice, &units);
            let Some(program) = scripts.lower_call("", "random::made", &given) else { panic!("{text}") };
            let expected = interpreted(&scripts, "", "random::made", &given);
            match compare(&program, &given, &expected) {
                Ok(Some(())) if expected.is_ok() => by_program += 1,
                Ok(Some(())) => refused += 1,
                Ok(None) => {
                    handed_over += 1;
                    for (why, _) in program.reasons() {
                        *whys.entry(why).or_insert(0) += 1;
                    }
                }
                Err(difference) => {
                    panic!("seed {seed}: {difference}\n{given:?}\n{text}\n{}", program.dump())
                }
            }
        }
    }
    println!("{compiled} scripts: {by_program} results, {refused} refusals, {handed_over} handed over");
    println!("{whys:#?}");
    assert!(compiled as u64 > count / 2, "{compiled}");
    assert!(by_program > 5 * compiled / 4 && refused > compiled / 2, "{compiled} {by_program} {refused} {handed_over}");
}
