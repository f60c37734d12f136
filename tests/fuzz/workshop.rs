//! The invented workshop of the examples, and jobs in it, read once for each thread.

use std::path::{Path, PathBuf};

use standpipe::diagnostic::Problems;
use standpipe::job::Machine;
use standpipe::job::plan::{Inputs, build};
use standpipe::library::{Files, Layer};
use standpipe::source::Source;

/// Where the repository lies: this is compiled from two packages.
pub fn root() -> PathBuf {
    let own = Path::new(env!("CARGO_MANIFEST_DIR"));
    own.ancestors().find(|folder| folder.join("examples/workshop").is_dir()).unwrap().to_owned()
}

/// Everything that a job file of the examples leads to.
pub fn inputs(job: &str) -> Inputs {
    let root = root();
    let read = |path: &Path| Source::new(path.display().to_string(), std::fs::read_to_string(path).unwrap());
    let (mut files, mut problems) = (Files::built_in(), Problems::new());
    for (number, plugin) in ["ferry-lane", "transfer-cases"].into_iter().enumerate() {
        let layer = Layer::Given(number + 1);
        files.add_folder(&root.join("examples/workshop").join(plugin), layer, &mut problems);
    }
    assert!(problems.is_empty(), "{problems:?}");
    let shop = read(&root.join("examples/workshop/shop.yaml"));
    Inputs::new(read(&root.join(format!("examples/jobs/{job}.yaml"))), Some(shop), files)
}

pub fn machine(job: &str) -> Machine {
    let mut problems = Problems::new();
    match build(inputs(job), &mut problems) {
        Some(plan) => Machine::new(plan),
        None => panic!("{job}: {problems:?}"),
    }
}
