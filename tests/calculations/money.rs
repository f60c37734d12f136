//! Quotes.

use standpipe::value::Value;

use crate::bench::Bench;

fn amount(value: &Value) -> f64 {
    match value {
        Value::Quantity(quantity) => quantity.si,
        other => panic!("{other:?}"),
    }
}

#[test]
fn half_a_cent_is_half_a_cent() {
    let bench = Bench::new();
    // By hand: 1.5 h at 80.35 is 120.525, which a shop rounds to 120.53; 80.35 times 1.5 in binary numbers lies below it.
    let outcome = bench.run("quote", &[("hours", "90 min"), ("rate", "80.35 ¤/h"), ("tax", "0 %")]);
    assert_eq!(outcome.outputs["exact_total"], Value::Text("120.53".into()));
    assert_eq!(amount(&outcome.outputs["total"]), 120.53);
    // By hand: 120.53 + 38.50 + 12.00 + 79.38 + 4.00 = 254.41, 19 % of it 48.3379, 302.75 in all.
    let given = [
        ("hours", "1.5 h"),
        ("rate", "80.35 ¤/h"),
        ("parts", "38.50 ¤; 12 ¤"),
        ("fluid", "4.2 L"),
        ("fluid_price", "18.90 ¤/L"),
        ("disposal", "4 ¤"),
        ("tax", "19 %"),
    ];
    let outcome = bench.run("quote", &given);
    let money = |name: &str| amount(&outcome.outputs[name]);
    assert_eq!((money("net"), money("tax"), money("total")), (254.41, 48.34, 302.75));
    let Value::List(lines) = &outcome.outputs["lines"] else { panic!("no lines") };
    assert_eq!(lines.len(), 5);
    assert_eq!(lines[3].at(&["what"]), Some(&Value::Text("fluid".into())));
    assert_eq!(amount(lines[3].at(&["amount"]).expect("an amount")), 79.38);
    // By line: 22.90 + 7.32 (7.315) + 2.28 + 15.08 + 0.76 = 48.34 as well; at 7 % it differs by a cent.
    let by_line: Vec<(&str, &str)> = given.into_iter().chain([("tax_rounding", "line")]).collect();
    assert_eq!(amount(&bench.run("quote", &by_line).outputs["tax"]), 48.34);
}

#[test]
fn sums_of_money_are_exact() {
    let bench = Bench::new();
    // Three hundred times a tenth, where binary sums drift.
    let parts = vec!["0.10 ¤"; 300].join("; ");
    let given = [("hours", "0 h"), ("rate", "0 ¤/h"), ("parts", parts.as_str()), ("tax", "0 %")];
    let outcome = bench.run("quote", &given);
    assert_eq!(outcome.outputs["exact_total"], Value::Text("30.00".into()));
    assert_eq!(amount(&outcome.outputs["total"]), 30.0);
    let without = bench.run("quote", &[("hours", "1 h"), ("rate", "99 ¤/h"), ("tax", "8.1 %"), ("decimals", "0")]);
    assert_eq!(without.outputs["exact_total"], Value::Text("107".into()));
    let half = [("hours", "1 h"), ("rate", "99 ¤/h"), ("tax", "19 %"), ("fluid", "4 L")];
    bench.refused("quote", &half, "faulty-script");
    bench.refused("quote", &[("hours", "-1 h"), ("rate", "99 ¤/h"), ("tax", "19 %")], "input-beyond-limit");
}
