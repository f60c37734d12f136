//! Cases of faults: a file of the plugin, put in place of what is there, must give these codes in these lines.

use super::{Bench, Case, Line, Report};
use crate as check;
use standpipe_diagnostic::Problems;
use standpipe_job::plan::Parsed;
use standpipe_library::{File, STANDARD};
use standpipe_yaml::At;

pub fn run(
    path: &At<String>,
    text: &At<String>,
    expect: &[At<String>],
    case: &Case,
    bench: &Bench<'_>,
    report: &mut Report,
) {
    let Some(plugin) = bench.parsed.library.plugins.get(&case.plugin) else { return };
    debug_assert!(case.plugin != STANDARD);
    let mut files = bench.files.clone();
    files.list.retain(|file| file.plugin != case.plugin || file.path != path.value);
    files.list.push(File::new(plugin.layer, &case.plugin, path, text.value.clone()));
    let name = format!("{}/{}", case.plugin, path.value);
    let mut problems = Problems::new();
    let parsed = Parsed::new(files, &mut problems);
    check::library(&parsed, None, &mut problems);
    let mut found: Vec<String> = check::once(problems)
        .iter()
        .filter(|problem| problem.place.name() == name)
        .map(|problem| format!("{}:{}", problem.code, problem.place.line()))
        .collect();
    for wanted in expect {
        let at = found.iter().position(|one| *one == wanted.value);
        if let Some(at) = at {
            found.remove(at);
        }
        report.lines.push(Line {
            what: format!("fault in {}", path.value),
            expected: wanted.value.clone(),
            found: if at.is_some() { wanted.value.clone() } else { "none there".to_owned() },
            difference: None,
            tolerance: None,
            holds: at.is_some(),
            place: wanted.place.clone(),
        });
    }
    for more in found {
        report.lines.push(Line {
            what: format!("fault in {}", path.value),
            expected: "none there".to_owned(),
            found: more,
            difference: None,
            tolerance: None,
            holds: false,
            place: path.place.clone(),
        });
    }
}
