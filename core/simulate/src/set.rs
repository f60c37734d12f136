//! Another value for the time of a simulation: of the family, or of a key of a step.

use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Diagnostic, Problems, nearest};
use standpipe_library::{Files, Kind};
use standpipe_yaml::{self as yaml, At, Node};

use crate::without::find;

/// The texts with one value changed: `setting` is `level.window=50..60 degC`, a path of the family, or
/// `level-rounds.repeat.at_most=3`, a step and a path below it. It is changed in every text that has it, such as that of a
/// variant, or one that another replaces; lines stay where they were.
///
/// Errors: no `=`; no text has such a path; it leads to a block of lines.
pub fn set(files: &Files, family: &str, setting: &At<String>) -> Result<Files, Box<Diagnostic>> {
    let faulty = |message: String| Diagnostic::error(Code::WrongArguments, &setting.place, message);
    let Some((path, value)) = setting.value.split_once('=') else {
        return Err(Box::new(
            faulty("there is no `=`".to_owned()).expected("PATH=VALUE, such as level.window=50..60 degC"),
        ));
    };
    let (path, value) = (path.trim(), value.trim());
    let mut files = files.clone();
    let mut looked = Looked::default();
    let mut changed = false;
    for file in &mut files.list {
        let of = |kind: Kind| file.path.starts_with(kind.folder());
        if !(of(Kind::Family) || of(Kind::Procedure) || of(Kind::Overlay)) {
            continue;
        }
        let Some(root) = yaml::parse(&file.source, &mut Problems::new()) else { continue };
        let found = match of(Kind::Family) {
            true if root.get("family").and_then(Node::as_text) == Some(family) => in_family(&root, path, &mut looked),
            true => Vec::new(),
            false => in_step(&root, path, &mut looked),
        };
        let mut text = file.source.text.clone();
        // From the last to the first, so that places stay right.
        for node in found.into_iter().rev() {
            let range = node.place.range();
            if text[range.clone()].contains('\n') {
                let message = format!("`{path}` is a block of lines");
                return Err(Box::new(faulty(message).expected("a single value, or a key below it")));
            }
            text.replace_range(range, value);
            changed = true;
        }
        if text != file.source.text {
            file.source = Source::new(file.source.name.clone(), text);
        }
    }
    if changed {
        return Ok(files);
    }
    let problem = faulty(format!("neither the family `{family}` nor a step has `{path}`"));
    let wanted = path.rsplit('.').next().unwrap_or(path);
    let known = looked.keys.iter().map(String::as_str);
    Err(Box::new(match nearest(wanted, known.clone()) {
        Some(near) => problem.help(format!("did you mean `{near}`?")),
        None if looked.keys.is_empty() => problem.help("name a path of the family, or STEP.KEY"),
        None => problem.expected(format!("one of: {}", known.collect::<Vec<_>>().join(", "))),
    }))
}

/// Keys that stand where a path led no further, of the text in which it led furthest.
#[derive(Default)]
struct Looked {
    depth: usize,
    keys: Vec<String>,
}

/// The value of the family, and those of its variants that have their own.
fn in_family<'n>(root: &'n Node, path: &str, looked: &mut Looked) -> Vec<&'n Node> {
    let mut found: Vec<&Node> = at(root, path, 0, looked).into_iter().collect();
    let variants = root.get("variants").and_then(Node::as_map);
    found.extend(
        variants.into_iter().flat_map(|map| map.iter()).filter_map(|(_, one)| at(one, path, 0, &mut Looked::default())),
    );
    found.sort_by_key(|node| node.place.range().start);
    found
}

fn in_step<'n>(root: &'n Node, path: &str, looked: &mut Looked) -> Vec<&'n Node> {
    let Some((step, rest)) = path.split_once('.') else { return Vec::new() };
    let Some((node, _)) = find(root, step, None) else { return Vec::new() };
    at(node, rest, 1, looked).into_iter().collect()
}

/// `above`: how many keys led to the node.
fn at<'n>(node: &'n Node, path: &str, above: usize, looked: &mut Looked) -> Option<&'n Node> {
    let mut node = node;
    for (depth, key) in (above..).zip(path.split('.')) {
        match node.get(key) {
            Some(inner) => node = inner,
            None if looked.depth > depth && !looked.keys.is_empty() => return None,
            None => {
                looked.depth = depth;
                let keys = node.as_map().into_iter().flat_map(|map| map.iter().map(|(key, _)| key.value.clone()));
                looked.keys = keys.collect();
                return None;
            }
        }
    }
    Some(node)
}

// A test says by failing what was wrong.
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use standpipe_job::plan::typed;
    use standpipe_library::{File, Layer};

    fn texts() -> Files {
        let family = "family: north\nlevel: { window: 1..2 degC, short: top up }\nvariants:\n  deep:\n    level: { window: 3..4 degC }\n";
        let other = "family: south\nlevel: { window: 5..6 degC }\n";
        let steps = "procedure: firing\nsteps:\n  - id: rounds\n    repeat:\n      at_most: 3\n      otherwise: stop\n";
        let mut files = Files::default();
        for (path, text) in
            [("families/north.yaml", family), ("families/south.yaml", other), ("procedures/firing.yaml", steps)]
        {
            files.list.push(File::new(Layer::BuiltIn, "kilns", path, text));
        }
        files
    }

    fn changed(setting: &str) -> Result<Vec<String>, Box<Diagnostic>> {
        let files = set(&texts(), "north", &typed("--set", setting))?;
        Ok(files.list.into_iter().map(|file| file.source.text.to_string()).collect())
    }

    #[test]
    fn a_value_is_changed_where_the_family_and_its_variants_have_it_and_nowhere_else() {
        let texts = changed("level.window = 7..8 degC").unwrap();
        assert_eq!(texts[0].matches("window: 7..8 degC").count(), 2, "{}", texts[0]);
        assert!(texts[0].contains("short: top up") && texts[1].contains("5..6 degC"), "{texts:?}");
        let texts = changed("rounds.repeat.at_most=1").unwrap();
        assert!(texts[2].contains("at_most: 1\n") && texts[0].contains("1..2 degC"), "{texts:?}");
    }

    #[test]
    fn what_is_not_there_is_told_with_what_stands_where_the_path_led_furthest() {
        let said = |setting: &str| {
            let fault = changed(setting).unwrap_err();
            format!("{} {:?} {:?}", fault.message, fault.expected, fault.help)
        };
        assert!(said("level.windo=1").contains("did you mean `window`"));
        assert!(said("rounds.repeat.often=1").contains("at_most"));
        assert!(said("rounds.repeat=1").contains("a block of lines"));
        assert!(said("level.window").contains("no `=`"));
    }
}
