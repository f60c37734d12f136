//! The example workshop, as a repository of its own: its script passes, and fails when one file is broken.

// A test says by failing what was wrong.
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

use crate::folders::copy;

fn repository() -> TempDir {
    let folder = TempDir::new().unwrap();
    copy(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples"), folder.path());
    folder
}

fn ci(folder: &Path) -> Output {
    let mut command = Command::new("bash");
    command.arg(folder.join("ci.sh")).env("STANDPIPE", env!("CARGO_BIN_EXE_standpipe")).env("TMPDIR", folder);
    command.output().unwrap()
}

#[test]
fn the_script_passes_on_the_repository_as_it_is() {
    let folder = repository();
    let output = ci(folder.path());
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{text}{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(text.matches("== ").count(), 6, "{text}");
}

#[test]
fn the_script_fails_when_one_file_is_broken() {
    // (file, what stands there, what somebody makes of it, what the output names)
    let broken = [
        ("workshop/transfer-cases/families/gannet.yaml", "fluid:", "fliud:", "fliud"),
        ("workshop/ferry-lane/overlays/ferry-lane-ways.yaml", "<= 44.degC", "<= 48.L", "ferry-lane-ways.yaml, line "),
        ("workshop/shop.yaml", "roles: [foreman, checker]", "roles: [forman, checker]", "forman"),
        ("workshop/ferry-lane/scripts/drum.rhai", "pi() / 4", "pi() / 2", "drum-half-full does not hold"),
        ("workshop/ferry-lane/overlays/ferry-lane-ways.yaml", "<= 44.degC", "<= 44.5.degC", "too-warm does not hold"),
        ("other-trades/home-brewing/scripts/brew.rhai", "131.25;", "13.125;", "marsh-pale does not hold"),
        ("drums.csv", "480,640", "480 cm,640", "drum"),
        ("answers/dunlin-van.yaml", "drain_dial: 26.0 N·m", "drain_dial: 20.0 N·m", "dunlin-van"),
    ];
    for (file, what, by, named) in broken {
        let folder = repository();
        let path = folder.path().join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(what), "{file} has no `{what}`");
        fs::write(&path, text.replacen(what, by, 1)).unwrap();
        let output = ci(folder.path());
        let told = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert!(!output.status.success(), "{file} with `{by}` passes:\n{told}");
        assert!(told.contains(named), "{file} with `{by}`: nobody is told of {named}:\n{told}");
    }
}

/// What the page says of a change that somebody looks over, in a repository under git.
#[test]
fn a_change_is_compared_with_what_is_committed() {
    let folder = repository();
    let shop = folder.path().join("shop");
    fs::create_dir(&shop).unwrap();
    for part in ["README.md", "workshop"] {
        fs::rename(folder.path().join(part), shop.join(part)).unwrap();
    }
    let run = |script: &str| {
        let program = Path::new(env!("CARGO_BIN_EXE_standpipe")).parent().unwrap();
        let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap_or_default());
        let mut command = Command::new("bash");
        command.args(["-c", script]).current_dir(&shop).env("PATH", path).env("HOME", folder.path());
        let output = command.output().unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned() + &*String::from_utf8_lossy(&output.stderr)
    };
    let who = "-c user.name=Rita -c user.email=rita@ferry-lane.invalid";
    run(&format!("git init -q -b main && git add . && git {who} commit -q -m Begin"));
    let overlay = shop.join("workshop/ferry-lane/overlays/ferry-lane-ways.yaml");
    let text = fs::read_to_string(&overlay).unwrap();
    fs::write(&overlay, text.replacen("<= 44.degC", "<= 44.5.degC", 1)).unwrap();
    let page = fs::read_to_string(shop.join("README.md")).unwrap();
    let block = page.split("```sh review\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let told = run(block);
    assert!(told.starts_with("EASIER TO END AS SHOWN\n  overlay ferry-lane-ways"), "{told}");
    assert!(told.contains("- it asks for less: sump_temperature <= 44.degC ->"), "{told}");
    assert!(told.contains("ferry-lane/too-warm: overlay ferry-lane-ways"), "{told}");
    assert!(!folder.path().join("before").exists(), "nothing is left behind");
}
