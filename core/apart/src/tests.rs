use std::fs;

use standpipe_diagnostic::source::Source;

use super::*;

fn token(sealer: &mut Sealer, class: Class, text: &str) -> String {
    let mut sealed = text.to_owned();
    sealer.seal(class, &mut sealed).unwrap();
    sealed
}

#[test]
fn the_same_text_has_the_same_token_in_one_folder_and_class_and_nowhere_else() {
    let folder = tempfile::tempdir().unwrap();
    let mut sealer = Sealer::new(folder.path());
    let ann = token(&mut sealer, Class::Said, "Ann");
    assert_eq!(token(&mut sealer, Class::Said, "Ann"), ann);
    assert_ne!(token(&mut sealer, Class::Shop, "Ann"), ann);
    assert_ne!(token(&mut Sealer::new(folder.path()), Class::Said, "Ann"), ann, "nobody can tell by trying names");
    sealer.write().unwrap();
    let values = Values::read(folder.path());
    assert_eq!((values.lines.len(), values.faults.len()), (2, 0));
    assert_eq!(token(&mut Sealer::with(folder.path(), &values), Class::Said, "Ann"), ann, "also when it goes on");
}

#[test]
fn nothing_stays_nothing_and_a_token_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut sealer = Sealer::new(folder.path());
    assert_eq!(token(&mut sealer, Class::Said, ""), "");
    let mut forged = format!("see apart-{} there", "0".repeat(64));
    assert!(sealer.seal(Class::Said, &mut forged).is_err());
    let mut short = format!("apart-{}", "0".repeat(63));
    assert!(!is_in(&short) && sealer.seal(Class::Said, &mut short).is_ok());
}

#[test]
fn a_text_that_was_exchanged_is_found_and_one_that_is_gone_is_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(FILE);
    let mut sealer = Sealer::new(folder.path());
    let chain = ["one", "two", "three"].map(|text| token(&mut sealer, Class::Said, text)).join(" ");
    sealer.write().unwrap();
    let whole = fs::read_to_string(&file).unwrap();
    let opened = |text: &str| {
        fs::write(&file, text).unwrap();
        let opening = Opening::new(&Values::read(folder.path()), [chain.as_bytes()]);
        (opening.opened(&chain).into_owned(), opening.left_out, opening.faults.first().map(|fault| fault.line))
    };
    assert_eq!(opened(&whole), ("one two three".to_owned(), 0, None));
    let without = whole.split_inclusive('\n').filter(|line| !line.contains("two")).collect::<String>();
    assert_eq!(opened(&without), ("one left out 1 three".to_owned(), 1, None));
    // The text, its random bits, its class, or the token that it claims.
    for (from, to) in [("\"two\"", "\"too\""), ("\"salt\":\"", "\"salt\":\"f"), ("said", "shop"), ("apart-", "apart-0")]
    {
        let (before, line) = (whole.find('\n').unwrap() + 1, whole.lines().nth(1).unwrap());
        let forged = whole.replace(line, &line.replacen(from, to, 1));
        let (shown, left_out, fault) = opened(&forged);
        assert_eq!((shown.as_str(), left_out, fault), ("one left out 1 three", 1, Some(2)), "{from} {before}");
    }
    fs::remove_file(&file).unwrap();
    let gone = Opening::new(&Values::read(folder.path()), [chain.as_bytes()]);
    assert_eq!((gone.kept, gone.left_out, gone.faults.len()), (0, 3, 0));
    assert!(gone.is_left_out("left out 3") && !gone.is_left_out("left out 4") && !gone.is_left_out("left out 03"));
    assert!(gone.lacks("it was left out 2, and") && !gone.lacks("it was left out, 2") && !gone.lacks("left out 20"));
    fs::create_dir(&file).unwrap();
    assert_eq!(Values::read(folder.path()).faults[0].line, 0, "no file");
}

#[test]
fn what_was_cut_off_is_made_good_when_something_is_added() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(FILE);
    let mut sealer = Sealer::new(folder.path());
    let one = token(&mut sealer, Class::Said, "one");
    sealer.write().unwrap();
    let whole = fs::read_to_string(&file).unwrap();
    // Half a line; a line without its end; nothing at all of it.
    for (cut, left) in [(whole.clone() + "{\"token\":\"ap", 1), (whole.trim_end().to_owned(), 1), (String::new(), 0)] {
        fs::write(&file, &cut).unwrap();
        let values = Values::read(folder.path());
        assert_eq!((values.lines.len(), values.faults.len()), (left, 0));
        let mut sealer = Sealer::with(folder.path(), &values);
        let two = token(&mut sealer, Class::Said, "two");
        sealer.write().unwrap();
        let values = Values::read(folder.path());
        assert_eq!((values.lines.len(), values.faults.len()), (left + 1, 0), "{cut:?}");
        let opening = Opening::new(&values, [one.as_bytes(), two.as_bytes()]);
        assert_eq!(opening.opened(&two), "two");
    }
}

#[test]
fn yaml_is_put_back_to_the_byte() {
    let text = "\
# Ann's file
job: 7 # hers
name: \"Ann \\\"B\\\" # no comment\" # a comment
plain: Ann B
quoted: 'Ann B'
long: one
  two   # after
block: |
  # no comment
  lines
list: [Ann, {name: unknown, of: Ann}]
empty: ''
"
    .to_owned();
    let folder = tempfile::tempdir().unwrap();
    let mut sealer = Sealer::new(folder.path());
    let source = Source::new("job.yaml", text.clone());
    let sealed = sealed(&source, Class::Intake, &mut sealer, &|path| path[0] != "job").unwrap();
    for word in ["Ann", "comment", "hers", "after", "lines", "two"] {
        assert!(!sealed.contains(word), "{word}: {sealed}");
    }
    assert!(sealed.contains("job: 7 # apart-") && sealed.contains("name: unknown") && sealed.contains("empty: ''"));
    assert_eq!(sealer.opening().opened(&sealed), text);
    // With nothing there it is a file of the same form still.
    let shown = Opening::new(&Values::default(), [sealed.as_bytes()]).opened(&sealed).into_owned();
    let root = standpipe_yaml::parse(&Source::new("job.yaml", shown), &mut Vec::new()).unwrap();
    assert!(root.get("plain").unwrap().as_text() == root.get("quoted").unwrap().as_text(), "equal texts are told");
    assert_eq!(root.get("list").unwrap().as_list().unwrap()[1].get("name").unwrap().as_text(), Some("unknown"));
}

#[test]
fn what_would_say_something_else_with_its_texts_is_told() {
    let same = |sealed: &str, open: &str| is_same_form(&Source::new("a", sealed), &Source::new("b", open));
    let token = format!("apart-{}", "0".repeat(64));
    let plan = format!("# {token}\njob: 7\nname: {token}\nlist: [{token}, {{ of: \"{token}\" }}]\n");
    let with = |texts: [&str; 4]| texts.iter().fold(plan.clone(), |plan, text| plan.replacen(&token, text, 1));
    assert!(same(&plan, &with(["Ann's", "Ann: B".replace(": ", ":").as_str(), "'a, b'", "c"])));
    for texts in [
        ["x\nmore: 1", "Ann", "a", "b"],
        ["x", "Ann\njob: 8", "a", "b"],
        ["x", "Ann\nmore: 8", "a", "b"],
        ["x", "{ of: Ann }", "a", "b"],
        ["x", "Ann", "a, b", "b"],
        ["x", "Ann", "a", "b\", more: \"c"],
        ["x", "\"Ann", "a", "b"],
    ] {
        assert!(!same(&plan, &with(texts)), "{texts:?}");
    }
    assert!(!same("job: 7", "job: 8"));
}
