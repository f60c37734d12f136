//! The job file of a case: the facts that something reckons with.

use std::fmt::Write;

use super::LEFT_OUT;
use super::used::Used;
use super::written::scalar;
use standpipe_diagnostic::Problems;
use standpipe_form::Kind;
use standpipe_job::plan::Plan;
use standpipe_yaml::{self as yaml, Node};

pub fn job(plan: &Plan, used: &Used, shop: Option<&str>, kept: &mut Vec<(String, String)>) -> String {
    let mut text = "# Keys: standpipe schema job\njob: CASE\n".to_owned();
    let mut line = |indent: &str, key: &str, value: &str| {
        // Writing into a text can't fail.
        let _ = writeln!(text, "{indent}{key}: {value}");
    };
    if plan.invented {
        line("", "invented", "true");
    }
    line("", "family", &plan.family.id);
    if let Some(variant) = &plan.job.variant {
        line("", "variant", variant);
    }
    line("", "procedure", &plan.procedure);
    if let Some(shop) = shop {
        line("", "shop", shop);
    }
    let root = yaml::parse(&plan.snapshot.job.source(), &mut Problems::new());
    let mut group = "";
    for (path, field) in &plan.form.job {
        let node = path.split('.').try_fold(root.as_ref(), |node, part| Some(child(node?, part))).flatten();
        let Some(node) = node else { continue };
        let value = match (node.as_text(), node.as_list()) {
            (Some("unknown"), _) => "unknown".to_owned(),
            (Some(written), _) if matches!(field.kind, Kind::Text | Kind::Person) => {
                if used.has(&format!("job.{path}")) {
                    kept.push((path.clone(), written.to_owned()));
                    scalar(written)
                } else {
                    LEFT_OUT.to_owned()
                }
            }
            (Some(written), _) => scalar(written),
            (None, Some(items)) => {
                let items: Vec<String> = items.iter().filter_map(Node::as_text).map(scalar).collect();
                format!("[{}]", items.join(", "))
            }
            (None, None) => continue,
        };
        match path.split_once('.') {
            Some((first, rest)) => {
                if first != group {
                    line("", first, "");
                    group = first;
                }
                line("  ", rest, &value);
            }
            None => line("", path, &value),
        }
    }
    text.replace(": \n", ":\n")
}

/// Files write hyphens where scripts have underscores.
fn child<'a>(node: &'a Node, part: &str) -> Option<&'a Node> {
    node.as_map()?.iter().find(|(key, _)| key.value.replace('-', "_") == part).map(|(_, value)| value)
}
