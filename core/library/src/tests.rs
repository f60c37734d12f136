use std::fs;
use std::path::Path;

use super::*;
use standpipe_diagnostic::{Code, short};

fn given(nth: usize, plugin: &str, path: &str, text: &str) -> File {
    File::new(Layer::Given(nth), plugin, path, text)
}

fn manifest(nth: usize, plugin: &str, needs: &str) -> File {
    given(nth, plugin, "plugin.yaml", &format!("plugin: {plugin}\nversion: 1.0.0\nplugins: [{needs}]\n"))
}

fn load(list: Vec<File>) -> (Library, Problems) {
    let mut problems = Problems::new();
    let library = Library::load(Files { list, ..Files::default() }, &mut problems);
    (library, problems)
}

fn codes(problems: &Problems) -> Vec<(Code, String)> {
    problems.iter().map(|p| (p.code, p.place.to_string())).collect()
}

#[test]
fn a_later_layer_replaces_a_document_only_if_it_says_so() {
    let plain =
        |nth, plugin, extra: &str| given(nth, plugin, "families/x.yaml", &format!("{extra}family: x\nform: f\n"));
    let (library, problems) = load(vec![
        manifest(1, "first", ""),
        plain(1, "first", ""),
        manifest(2, "second", ""),
        plain(2, "second", "# why\noverride: true\n"),
        manifest(3, "third", ""),
        plain(3, "third", ""),
    ]);
    let winner = library.document(Kind::Family, "x").expect("x");
    assert_eq!(winner.plugin, "second");
    assert_eq!(winner.overrides.as_ref().map(|d| d.plugin.as_str()), Some("first"));
    assert_eq!(codes(&problems), [(Code::DefinedTwice, "third/families/x.yaml:1:1".into())]);
    assert_eq!(problems[0].also[0].place.to_string(), "second/families/x.yaml:3:1");
}

#[test]
fn an_override_of_nothing_is_a_fault() {
    let (library, problems) = load(vec![
        manifest(1, "first", ""),
        given(1, "first", "families/y.yaml", "family: y\n"),
        given(1, "first", "families/x.yaml", "family: x\noverride: true\n"),
        given(1, "first", "tables/t.csv", "# override: true\na,b\n"),
    ]);
    assert!(library.document(Kind::Family, "x").is_none());
    assert_eq!(
        codes(&problems),
        [
            (Code::OverridesNothing, "first/families/x.yaml:2:1".into()),
            (Code::OverridesNothing, "first/tables/t.csv:1:1".into())
        ]
    );
}

#[test]
fn a_faulty_plugin_takes_with_it_what_needs_it_and_nothing_else() {
    let (library, problems) = load(vec![
        given(1, "broken", "plugin.yaml", "plugin: other\nversion: one\n"),
        manifest(1, "on-broken", "broken"),
        manifest(1, "on-top", "on-broken"),
        manifest(1, "typo", "soundd"),
        manifest(1, "sound", ""),
        given(1, "sound", "forms/f.yaml", "form: f\n"),
        given(1, "without-manifest", "forms/g.yaml", "form: g\n"),
    ]);
    assert_eq!(library.plugins.keys().map(String::as_str).collect::<Vec<_>>(), ["sound"]);
    let mut found = codes(&problems);
    found.sort();
    let expected = [
        (Code::NoManifest, "broken/plugin.yaml:1:9"),
        (Code::NoManifest, "broken/plugin.yaml:2:10"),
        (Code::NoManifest, "without-manifest/forms/g.yaml:1:1"),
        (Code::MissingPlugin, "on-broken/plugin.yaml:3:11"),
        (Code::MissingPlugin, "on-top/plugin.yaml:3:11"),
        (Code::MissingPlugin, "typo/plugin.yaml:3:11"),
    ];
    assert_eq!(found, expected.map(|(code, place)| (code, place.to_string())));
    assert!(problems.iter().any(|p| p.help.as_deref() == Some("did you mean `sound`?")));
}

#[test]
fn what_is_needed_comes_first_and_circles_are_refused() {
    let (library, problems) = load(vec![
        manifest(1, "a", "c"),
        manifest(1, "b", ""),
        manifest(2, "c", "b"),
        manifest(1, "d", "e"),
        manifest(1, "e", "d"),
    ]);
    assert_eq!(library.plugins.keys().map(String::as_str).collect::<Vec<_>>(), ["b", "c", "a"]);
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::MissingPlugin, Code::MissingPlugin]);
}

#[test]
fn two_plugins_with_one_id_are_refused() {
    let (library, problems) = load(vec![
        manifest(1, "a", ""),
        given(1, "a", "forms/f.yaml", "form: f\n"),
        manifest(2, "a", ""),
        given(2, "a", "forms/g.yaml", "form: g\n"),
    ]);
    assert!(library.document(Kind::Form, "f").is_some() && library.document(Kind::Form, "g").is_none());
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::DuplicatePlugin]);
}

#[test]
fn names_that_nothing_reads_are_pointed_out() {
    let (_, problems) = load(vec![
        manifest(1, "a", ""),
        given(1, "a", "forms/f.yml", "form: f\n"),
        given(1, "a", "forms/README.md", "notes"),
        given(1, "a", "forms/Two_Words.yaml", "form: Two_Words\n"),
        given(1, "a", "scripts/a-b.rhai", ""),
    ]);
    assert_eq!(
        problems.iter().map(|p| p.code).collect::<Vec<_>>(),
        [Code::StrayFile, Code::MisplacedId, Code::MisplacedId]
    );
}

#[test]
fn a_snapshot_holds_what_it_rests_on_and_loads_as_the_library_did() {
    let (library, problems) = load(vec![
        manifest(1, "base", ""),
        given(1, "base", "forms/f.yaml", "form: f\n"),
        given(1, "base", "cases/c.yaml", "case: c\n"),
        manifest(1, "measures", ""),
        given(1, "measures", "units/u.yaml", "units: u\n"),
        manifest(1, "mine", "base"),
        manifest(2, "ours", ""),
        given(2, "ours", "forms/f.yaml", "form: f\noverride: true\n"),
        manifest(2, "unrelated", ""),
        File::new(Layer::BuiltIn, STANDARD, "mean.rhai", "fn mean() {}"),
    ]);
    assert!(problems.is_empty(), "{}", short(&problems));
    let snapshot = library.snapshot(["mine"]);
    let names: Vec<&str> = snapshot.list.iter().map(|file| file.source.name.as_str()).collect();
    let expected = [
        "base/plugin.yaml",
        "base/forms/f.yaml",
        "measures/plugin.yaml",
        "measures/units/u.yaml",
        "mine/plugin.yaml",
        "ours/plugin.yaml",
        "ours/forms/f.yaml",
        "scripts/mean.rhai",
    ];
    assert_eq!(names, expected);
    let text = serde_json::to_string(&snapshot).expect("writes");
    let mut problems = Problems::new();
    let again = Library::load(serde_json::from_str(&text).expect("reads"), &mut problems);
    assert!(problems.is_empty());
    assert_eq!(again.plugins.keys().collect::<Vec<_>>(), ["base", "measures", "mine", "ours"]);
    let form = again.document(Kind::Form, "f").expect("f");
    assert_eq!((form.plugin.as_str(), form.source.name.as_str()), ("ours", "ours/forms/f.yaml"));
    assert_eq!(again.documents(Kind::Script).count(), 1);
}

#[test]
fn an_absent_document_is_named_with_what_was_meant() {
    let (library, _) = load(vec![manifest(1, "a", ""), given(1, "a", "forms/lathe.yaml", "form: lathe\n")]);
    let mut problems = Problems::new();
    let source = standpipe_diagnostic::source::Source::new("job.yaml", "family: lath\n");
    library.find(Kind::Form, &At::new("lath".into(), Place::new(&source, 8..12)), &mut problems);
    assert_eq!(
        short(&problems),
        "job.yaml:1:9: error, unknown-reference: there is no form `lath` (did you mean `lathe`?)\n"
    );
}

fn write(folder: &Path, name: &str, bytes: &[u8]) {
    let path = folder.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

#[test]
fn folders_are_read_with_care() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    write(root, "good/plugin.yaml", b"plugin: good\nversion: 1.0.0\n");
    write(root, "good/forms/f.yaml", b"form: f\n");
    write(root, "good/family/x.yaml", b"family: x\n");
    write(root, "good/tables/t.csv", b"\xff\xfe\x00binary");
    write(root, "good/forms/huge.yaml", &vec![b'#'; 9 * 1024 * 1024]);
    write(root, "good/forms/deeper/g.yaml", b"form: g\n");
    write(root, "good/forms/.hidden.yaml", b"form: h\n");
    write(root, "notes/readme.md", b"no plugin");
    write(root, "secret.yaml", b"form: secret\n");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(root.join("secret.yaml"), root.join("good/forms/secret.yaml")).unwrap();
        std::os::unix::fs::symlink(root.join("notes"), root.join("good/sheets")).unwrap();
        std::os::unix::fs::symlink(root.join("nowhere"), root.join("good/forms/dangling.yaml")).unwrap();
    }
    let mut files = Files::default();
    let mut problems = Problems::new();
    files.add_folder(root, Layer::Given(1), &mut problems);
    files.add_folder(&root.join("good"), Layer::Given(2), &mut problems);
    files.add_folder(&root.join("absent"), Layer::Given(3), &mut problems);
    files.add_folder(&root.join("notes"), Layer::Given(4), &mut problems);
    let mut names: Vec<&str> = files.list.iter().map(|file| file.source.name.as_str()).collect();
    names.sort();
    assert_eq!(names, ["good/forms/f.yaml", "good/plugin.yaml"], "read once, and only what may be read");
    let mut found: Vec<_> = problems.iter().map(|p| (p.code, p.place.name().to_string())).collect();
    found.retain(|(_, name)| name.starts_with("good"));
    found.sort();
    let mut expected = vec![
        (Code::NotText, "good/forms/huge.yaml".to_string()),
        (Code::NotText, "good/tables/t.csv".to_string()),
        (Code::StrayFile, "good/family".to_string()),
        (Code::StrayFile, "good/forms/deeper".to_string()),
    ];
    if cfg!(unix) {
        expected.push((Code::UnreadableFile, "good/forms/dangling.yaml".to_string()));
        expected.push((Code::OutsidePlugin, "good/forms/secret.yaml".to_string()));
        expected.push((Code::OutsidePlugin, "good/sheets".to_string()));
    }
    expected.sort();
    assert_eq!(found, expected);
    assert_eq!(problems.iter().filter(|p| p.code == Code::NoManifest).count(), 1, "a folder without plugins");
    let mut quiet = Problems::new();
    let library = Library::load(files, &mut quiet);
    let form = library.document(Kind::Form, "f").expect("f");
    let path = library.path_of(&form.place()).expect("on the disk");
    assert!(path.ends_with("good/forms/f.yaml"));
}

#[test]
fn the_built_in_plugins_have_no_faults() {
    let mut problems = Problems::new();
    let library = Library::load(Files::built_in(), &mut problems);
    // A plugin that a built-in one needs may be on its way; nothing else may be wrong.
    problems.retain(|problem| problem.code != Code::MissingPlugin);
    let units = library.units(&mut problems);
    library.check(&units, &mut problems);
    assert!(problems.is_empty(), "{}", short(&problems));
    assert!(units.family("length").is_some());
}

#[test]
fn a_document_is_read_with_all_that_it_names() {
    let form = "form: lamp\nfields: { size: { is: length }, lay-out: { is: table } }\n";
    let family = |table: &str| {
        format!("family: bright\nform: lamp\nlay-out: {table}\nsources: [{{ covers: all, from: made up }}]\n")
    };
    let (library, problems) = load(vec![
        manifest(1, "a", ""),
        given(1, "a", "forms/lamp.yaml", form),
        given(1, "a", "families/bright.yaml", &family("holes")),
        given(1, "a", "families/dim.yaml", &family("hole")),
        given(1, "a", "families/lost.yaml", "family: lost\nform: lmp\n"),
        given(1, "a", "tables/holes.csv", "x [mm]\n1\n"),
        given(1, "a", "tables/words.csv", "# source: x\nin [mm]\n1\n"),
    ]);
    assert!(problems.is_empty());
    let units = standpipe_quantity::Units::standard();
    let mut problems = Problems::new();
    library.check(&units, &mut problems);
    let expected = "\
a/families/dim.yaml:1:9: error, misplaced-id: the family `bright` is in a file `dim` (write `family: dim`, or rename the file to `bright.yaml`)
a/families/dim.yaml:3:10: error, unknown-reference: there is no table `hole` (did you mean `holes`?)
a/families/lost.yaml:2:7: error, unknown-reference: there is no form `lmp` (did you mean `lamp`?)
a/tables/holes.csv:1:1: error, missing-source: the table does not say where it is from (add a line `# source: ...` at the top, or a column `source`)
a/tables/words.csv:2:1: error, reserved-name: `in` is a word of the script language (rename the column)
";
    assert_eq!(short(&problems), expected);
}

const SHOP: &str = "\
shop: ferry-lane
title: Ferry Lane
invented: true
units: { system: both, mass: [kg, lb] }
currency: EUR
people:
  rita: { name: Rita M., roles: [doer, checker] }
  jo: { name: Jo O., roles: [checker] }
instruments:
  scales: { kind: scales, range: 0..30 kg, accuracy: 20 g, resolution: 10 g, unit: kg, calibrated: 2026-05-04, due: 2027-05-04 }
  gauge: { kind: gauge, range: \"-40..150 degC\", accuracy: 1 degC, resolution: 0.1 degC, unit: degC }
  rule: { kind: rule, range: 0..1 m, accuracy: 0.5 % }
plugins: [ours]
rates: { labour: 82 ¤/h }
facts: { bay-warm: true, bay_height: 4.2 m, opened: 2024-01-02, door: \"3\", posts: 2, code: unknown }
";

fn shop_of(text: &str) -> (Option<Shop>, Problems) {
    let mut problems = Problems::new();
    let shop = Shop::read(
        &standpipe_diagnostic::source::Source::new("shop.yaml", text),
        &standpipe_quantity::Units::standard(),
        &mut problems,
    );
    (shop, problems)
}

#[test]
fn a_shop_file_is_read_with_people_and_instruments() {
    use standpipe_quantity::value::Value;
    let (shop, problems) = shop_of(SHOP);
    assert!(problems.is_empty(), "{}", short(&problems));
    let shop = shop.expect("a shop");
    assert!(shop.has_role("rita", "doer") && !shop.has_role("jo", "doer") && !shop.has_role("nobody", "doer"));
    assert_eq!(shop.instruments_of("rule"), ["rule"]);
    let units = standpipe_quantity::Units::standard();
    let read = |text: &str| match units.read(text, None, None) {
        Ok(Value::Quantity(quantity)) => quantity,
        other => panic!("{other:?}"),
    };
    let near = |a: Option<f64>, b: f64| a.is_some_and(|a| (a - b).abs() < 1e-12);
    let gauge = &shop.instruments["gauge"];
    // A step and an error of temperatures are differences.
    assert!(near(gauge.resolution.as_ref().map(|step| step.si), 0.1) && near(gauge.error_of(&read("20 degC")), 1.0));
    assert!(near(shop.instruments["scales"].error_of(&read("5 kg")), 0.02));
    assert!(near(shop.instruments["rule"].error_of(&read("0.4 m")), 0.002));
    assert!(shop.instruments["rule"].reaches(&Value::Quantity(read("100 cm"))));
    assert!(!shop.instruments["rule"].reaches(&Value::Quantity(read("101 cm"))));
    assert_eq!(shop.facts["bay_warm"], Value::Truth(true));
    assert_eq!(shop.facts["bay_height"], Value::Quantity(read("4.2 m")));
    assert_eq!(shop.facts["opened"], Value::Text("2024-01-02".into()));
    assert_eq!(shop.facts["door"], Value::Text("3".into()));
    assert_eq!(shop.facts["posts"], Value::Number(2.0));
    assert_eq!(shop.facts["code"], Value::Unknown);
    assert!(matches!(shop.rates["labour"], Value::Quantity(_)));
    assert_eq!(shop.style.overrides["mass"], ["kg", "lb"]);
}

#[test]
fn faults_of_a_shop_file_are_told_at_their_place() {
    let cases = [
        ("system: both", "system: imperial", "4:18: error, faulty-shop: not a system of units"),
        ("mass: [", "mas: [", "4:24: error, faulty-shop: there is no quantity `mas` (did you mean `mass`?)"),
        ("[kg, lb]", "[kg, bar]", "4:35: error, wrong-quantity: `bar` is a unit of pressure"),
        ("  jo:", "  Jo_O:", "8:3: error, misplaced-id: `Jo_O` can't be an id"),
        ("name: Jo O.", "name: Rita M.", "8:15: error, faulty-shop: `Rita M.` is also the name of `rita`"),
        ("roles: [checker]", "roles: []", "8:3: warning, faulty-shop: `jo` has no role"),
        ("kind: scales, ", "", "10:11: error, missing-key: `kind` is missing"),
        ("0..30 kg", "0..30 m", "10:40: error, wrong-quantity: `m` is a unit of length"),
        ("0..30 kg", "30..0 kg", "10:34: error, reversed-range"),
        ("accuracy: 20 g", "accuracy: 20 mm", "10:57: error, wrong-quantity: `mm` is a unit of length"),
        ("accuracy: 20 g", "accuracy: 200 %", "10:54: error, faulty-shop: `200 %` is not an accuracy"),
        ("resolution: 10 g", "resolution: 0 g", "10:72: error, faulty-shop: `0 g` is not a step of a scale"),
        ("unit: kg", "unit: kgs m", "10:84: error, unknown-unit"),
        ("\"-40..150 degC\"", "\"-400..150 degC\"", "11:33: error, not-a-quantity: `-400 °C` is below"),
        (
            "due: 2027-05-04",
            "due: 2025-05-04",
            "10:117: error, faulty-shop: the calibration of 2026-05-04 ran out before it was made",
        ),
        ("due: 2027-05-04", "due: next May", "10:117: error, faulty-shop: `next May` is not a date"),
        ("82 ¤/h", "82", "14:18: error, faulty-shop: the rate `labour` has no unit"),
        ("4.2 m", "4.2 metres high", "15:"),
        ("posts: 2", "posts: [2]", "15:83: error, faulty-shop: expected one value, found a list"),
        ("posts: 2", "in: 2", "15:76: error, reserved-name: `in` can't be used as a name in scripts"),
        ("currency: EUR", "curency: EUR", "5:1: error, unknown-key: unknown key `curency` (did you mean `currency`?)"),
    ];
    let mut failures = Vec::new();
    for (from, to, expected) in cases {
        assert!(SHOP.contains(from), "{from}");
        let (_, problems) = shop_of(&SHOP.replacen(from, to, 1));
        let found = short(&problems);
        if !found.lines().any(|line| line.starts_with(&format!("shop.yaml:{expected}"))) {
            failures.push(format!("{from} -> {to}: {expected}\n{found}"));
        }
        failures.extend(
            problems
                .iter()
                .filter(|p| {
                    p.help.is_none()
                        && !matches!(
                            p.code,
                            Code::UnknownUnit
                                | Code::AmbiguousQuantity
                                | Code::WrongQuantity
                                | Code::NotAQuantity
                                | Code::FaultyUnits
                        )
                })
                .map(|p| format!("{from} -> {to}: no help: {}", p.message)),
        );
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
