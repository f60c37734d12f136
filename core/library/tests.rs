use std::fs;
use std::path::Path;

use super::*;
use crate::diagnostic::{Code, short};

fn given(nth: usize, plugin: &str, path: &str, text: &str) -> File {
    File::new(Layer::Given(nth), plugin, path, text)
}

fn manifest(nth: usize, plugin: &str, needs: &str) -> File {
    given(nth, plugin, "plugin.yaml", &format!("plugin: {plugin}\nversion: 1.0.0\nneeds: [{needs}]\n"))
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
    assert_eq!(codes(&problems), [(Code::L004, "third/families/x.yaml:1:1".into())]);
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
        [(Code::L005, "first/families/x.yaml:2:1".into()), (Code::L005, "first/tables/t.csv:1:1".into())]
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
        (Code::L001, "broken/plugin.yaml:1:9"),
        (Code::L001, "broken/plugin.yaml:2:10"),
        (Code::L001, "without-manifest/forms/g.yaml:1:1"),
        (Code::L003, "on-broken/plugin.yaml:3:9"),
        (Code::L003, "on-top/plugin.yaml:3:9"),
        (Code::L003, "typo/plugin.yaml:3:9"),
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
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::L003, Code::L003]);
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
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::L002]);
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
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), [Code::F004, Code::L008, Code::L008]);
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
    let source = crate::source::Source::new("job.yaml", "family: lath\n");
    library.find(Kind::Form, &At::new("lath".into(), Place::new(&source, 8..12)), &mut problems);
    assert_eq!(short(&problems), "job.yaml:1:9: error[L006]: there is no form `lath` (did you mean `lathe`?)\n");
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
        (Code::F002, "good/forms/huge.yaml".to_string()),
        (Code::F002, "good/tables/t.csv".to_string()),
        (Code::F004, "good/family".to_string()),
        (Code::F004, "good/forms/deeper".to_string()),
    ];
    if cfg!(unix) {
        expected.push((Code::F001, "good/forms/dangling.yaml".to_string()));
        expected.push((Code::F003, "good/forms/secret.yaml".to_string()));
        expected.push((Code::F003, "good/sheets".to_string()));
    }
    expected.sort();
    assert_eq!(found, expected);
    assert_eq!(problems.iter().filter(|p| p.code == Code::L001).count(), 1, "a folder without plugins");
    let mut quiet = Problems::new();
    let library = Library::load(files, &mut quiet);
    let form = library.document(Kind::Form, "f").expect("f");
    let path = library.path_of(&form.place()).expect("on the disk");
    assert!(path.ends_with("good/forms/f.yaml"));
}
