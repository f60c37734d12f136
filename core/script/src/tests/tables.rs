//! Tables as scripts see them.

use super::*;

fn asking(body: &str, tables: Vec<TableFile>, needs: &[(&str, &[&str])]) -> Scripts {
    let text = format!("fn f(x) {{ {body} }}");
    let needs =
        needs.iter().map(|(plugin, needs)| ((*plugin).into(), needs.iter().map(|need| (*need).into()).collect()));
    Scripts::with_needs(Units::standard(), files(&[("own", "ask", &text)]), tables, needs.collect())
}

fn failure(result: Result<Value, Fault>) -> standpipe_diagnostic::Diagnostic {
    match result {
        Err(Fault::Failed(diagnostic)) => *diagnostic,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_table_is_parsed_only_when_it_is_asked_for() {
    let broken = table("own", "broken", "name,width [furlong per lamp]\na,1\n");
    let tables = vec![broken, table("own", "springs", SPRINGS)];
    let scripts = asking("table_row(x.id, #{ name: \"soft\" })", tables, &[]);
    assert!(scripts.check().is_empty());
    let ask =
        |id: &str| scripts.call_for("own", "ask::f", IndexMap::from([("id".to_owned(), Value::Text(id.to_owned()))]));
    let soft = ask("springs").expect("a row");
    assert_eq!(soft.at(&["wire"]), Some(&quantity(1.0, "mm")));
    let fault = failure(ask("broken"));
    assert_eq!(fault.code, Code::FaultyTable);
    assert!(fault.message.contains("own/tables/broken.csv:1"), "{}", fault.message);
}

#[test]
fn a_name_written_out_is_checked_before_anything_runs() {
    let scripts = asking("table_row(\"sprigs\", #{})", vec![table("own", "springs", SPRINGS)], &[]);
    let problems = scripts.check();
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(
        (problems[0].code, problems[0].help.as_deref()),
        (Code::UnknownReference, Some("did you mean `springs`?"))
    );
}

#[test]
fn a_plugin_sees_its_own_tables_and_those_of_what_it_needs() {
    let tables = || vec![table("far", "springs", SPRINGS)];
    let body = "table(x.id).len()";
    let ask = |needs: &[(&str, &[&str])]| {
        let inputs = IndexMap::from([("id".to_owned(), Value::Text("springs".to_owned()))]);
        asking(body, tables(), needs).call_for("own", "ask::f", inputs)
    };
    assert_eq!(ask(&[("own", &["near"]), ("near", &["far"])]).ok(), Some(Value::Number(3.0)));
    let fault = failure(ask(&[("own", &["near"]), ("near", &[])]));
    assert_eq!(fault.code, Code::UnknownReference);
    assert!(fault.help.is_some_and(|help| help.contains("`far`")));
    // Plugins that need each other in a circle are refused elsewhere; here they must not run for ever.
    assert_eq!(failure(ask(&[("own", &["near"]), ("near", &["own"])])).code, Code::UnknownReference);
}

#[test]
fn an_empty_cell_is_unknown_and_is_not_shown() {
    let text = "# source: made up\nname,load [N]\na,\nb,2\n";
    let scripts = asking("table_row(\"t\", #{ name: x.name }).load * 2", vec![table("own", "t", text)], &[]);
    let ask = |name: &str| {
        scripts.call_for("own", "ask::f", IndexMap::from([("name".to_owned(), Value::Text(name.to_owned()))]))
    };
    assert_eq!(ask("b").ok(), Some(quantity(4.0, "N")));
    match ask("a") {
        Err(Fault::NotShown(names)) => assert_eq!(names, ["load in row 1 of the table `t`"]),
        other => panic!("{other:?}"),
    }
    let rising = "# source: made up\nat [mm],load [N]\n2,1\n1,2\n";
    let scripts = asking("table_between(\"t\", \"at\", 1.mm)", vec![table("own", "t", rising)], &[]);
    assert!(failure(scripts.call_for("own", "ask::f", IndexMap::new())).message.contains("does not rise"));
}
