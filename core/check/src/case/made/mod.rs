//! A case made of a real job: what was entered, without the names of anybody, and what came of it then.

mod answers;
mod expect;
mod facts;
mod people;
mod used;
mod written;

use people::People;
use used::Used;

use standpipe_job::replay::{batches, input_of, replay};
use standpipe_job::{Machine, Record};

/// What stands in place of a text that nothing reckons with.
const LEFT_OUT: &str = "left out";

/// The files of a case, to lie in the folder of cases of one plugin.
#[derive(Debug)]
pub struct Made {
    /// Name and text of each.
    pub files: Vec<(String, String)>,
    /// Texts that stay as they were because an expression looks at them, by their names: for somebody to look at as well.
    pub kept: Vec<(String, String)>,
}

/// Errors: why the job can't be told as answers.
pub fn make(id: &str, machine: &Machine, records: &[Record], ends: &[u64]) -> Result<Made, String> {
    let plan = &machine.plan;
    let state = replay(records);
    let used = Used::by(plan);
    let people = People::of(plan, records);
    let mut kept = Vec::new();
    let mut files = Vec::new();
    let shop = plan.snapshot.shop.as_ref().map(|_| format!("{id}-shop.yaml"));
    let told = answers::Told { machine, used: &used, people: &people, evidence: format!("{id}-evidence.txt") };
    let mut lines = Vec::new();
    let mut evidence = false;
    for batch in batches(records, ends) {
        let Some(input) = input_of(batch) else { continue };
        let (line, shows) = told.line(batch, &input, records, &mut kept);
        evidence |= shows;
        lines.extend(line);
    }
    if lines.is_empty() {
        return Err("nothing has been entered in it".to_owned());
    }
    files.push((format!("{id}-job.yaml"), facts::job(plan, &used, shop.as_deref(), &mut kept)));
    let head = format!(
        "# Keys: standpipe schema answers\nanswers: {id}-answers\n{}for: {id}-job.yaml\nlist:\n",
        if plan.invented { "invented: true\n" } else { "" }
    );
    files.push((format!("{id}-answers.yaml"), format!("{head}{}", lines.concat())));
    if let (Some(name), Some(text)) = (shop, &plan.snapshot.shop) {
        files.push((name, people.shop(&format!("{id}-shop"), &text.source())));
    }
    if evidence {
        files.push((format!("{id}-evidence.txt"), "In place of a photo of the job.\n".to_owned()));
    }
    files.push((format!("{id}.yaml"), expect::case(id, machine, &state)));
    kept.sort();
    kept.dedup();
    Ok(Made { files, kept })
}
