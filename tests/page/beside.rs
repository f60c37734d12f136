//! What is done beside answering, by plain forms: correct, call and take it back, pause and go on.

use crate::form::{Device, between, words};
use crate::server::{Server, Shop};
use crate::walk::events;

const JOB: &str = "heron-estate";

fn bay() -> (Shop, Server, Device) {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let rita = Device::first(&server, "rita");
    rita.keeps(JOB, "take", &[]);
    (shop, server, rita)
}

fn has(shop: &Shop, event: &str) -> bool {
    events(&shop.jobs().join(format!("{JOB}.job"))).iter().any(|known| known["event"] == event)
}

/// Answers what is asked with the first of its options.
fn answer(rita: &Device) -> String {
    let page = rita.page(JOB);
    let tap = between(&page, "<button class=\"bar tap\" name=\"", "\">").unwrap();
    let (name, value) = tap.split_once("\" value=\"").unwrap();
    rita.keeps(JOB, "enter", &[(name, value)]);
    value.to_owned()
}

#[test]
fn a_correction_names_its_entry_and_its_reason() {
    let (shop, _server, rita) = bay();
    let before = answer(&rita);
    let page = rita.page(JOB);
    let entry = between(&page, "name=\"entry\" value=\"", "\"").unwrap();
    let name = between(&page, "name=\"name\" value=\"", "\"").unwrap();
    let (_, after) = page.split_once("What should it be?").unwrap();
    let other = after.split("name=\"value\" value=\"").skip(1).map(|rest| rest.split('"').next().unwrap());
    let other = other.into_iter().find(|value| *value != before).unwrap();
    let fields = [("entry", entry), ("name", name), ("value", other)];
    assert_eq!(rita.say(JOB, "correct", &fields).status, 422, "a reason is needed");
    assert!(!has(&shop, "corrected"));
    rita.keeps(JOB, "correct", &[&fields[..], &[("because", "misread")]].concat());
    assert!(has(&shop, "corrected"));
    assert!(words(&rita.page(JOB)).contains("misread"));
}

#[test]
fn a_call_by_mistake_is_taken_back() {
    let (shop, _server, rita) = bay();
    answer(&rita);
    let page = rita.page(JOB);
    let asked = between(&page, "<h1>", "</h1>").unwrap();
    let procedure = between(&page, "name=\"procedure\" value=\"", "\"").unwrap();
    rita.keeps(JOB, "call", &[("procedure", procedure)]);
    assert!(has(&shop, "called"));
    assert!(!rita.page(JOB).contains(&format!("<h1>{asked}</h1>")));
    rita.keeps(JOB, "take-back", &[]);
    assert!(has(&shop, "taken-back"));
    assert!(rita.page(JOB).contains(&format!("<h1>{asked}</h1>")), "what was asked before is asked again");
}

#[test]
fn a_pause_asks_what_it_wants_first_and_the_job_can_then_be_taken_by_others() {
    let (shop, server, rita) = bay();
    answer(&rita);
    let jo = rita.let_in("jo");
    let asked = between(&rita.page(JOB), "<h1>", "</h1>").unwrap().to_owned();
    rita.keeps(JOB, "pause", &[]);
    assert!(has(&shop, "pausing"));
    assert!(!rita.page(JOB).contains(&format!("<h1>{asked}</h1>")), "what a pause wants comes first");
    // Whoever comes meanwhile looks first and resumes: the pause was never finished.
    jo.keeps(JOB, "take", &[]);
    assert!(has(&shop, "resumed") && has(&shop, "took-over"));
    drop(server);
}

/// The computer that serves pages loses its power in the middle of a job, and the work goes on at a terminal.
#[test]
fn a_job_whose_server_was_cut_off_goes_on_without_it() {
    let (shop, mut server, rita) = bay();
    let entered = answer(&rita);
    server.kill();
    let folder = shop.jobs().join(format!("{JOB}.job"));
    let before = events(&folder);
    let run = |list: &str| {
        let answers = shop.path().join("answers.yaml");
        std::fs::write(&answers, format!("answers: gone-on\nfor: jobs/{JOB}.yaml\nlist:\n{list}")).unwrap();
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_standpipe"));
        command.arg("run").arg(shop.jobs().join(format!("{JOB}.yaml"))).arg("--answers").arg(&answers);
        let output = command.arg("--journal").arg(&folder).output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let ready = "  - { step: accept-the-job, at: \"2030-01-07T08:00:00+01:00\", by: rita, enter: done }\n";
    // Nobody has looked yet how it was left.
    let (code, said) = run(ready);
    assert!(code == Some(2) && said.contains("resume"), "{code:?} {said}");
    assert_eq!(events(&folder), before);
    let looked = "  - { at: \"2030-01-07T07:55:00+01:00\", by: rita, resume: true }\n";
    let found =
        "  - { step: look-for-yourself, at: \"2030-01-07T07:58:00+01:00\", by: rita, enter: { found: as written } }\n";
    let (code, said) = run(&format!("{looked}{found}{ready}"));
    assert_eq!(code, Some(3), "{said}");
    // The server was told of the shop by another path; it is the same one.
    assert!(!said.contains("have changed"), "{said}");
    let after = events(&folder);
    assert_eq!(after[..before.len()], before[..], "what was acknowledged is as it was");
    let entries: Vec<_> = after.iter().filter(|event| event["event"] == "entered").collect();
    assert!(entries.len() == 3 && entries[0].to_string().contains(&entered), "{entries:?}");
    let audited = standpipe::audit::audit(&folder, &Default::default(), &mut Default::default());
    assert_ne!(audited.verdict, standpipe::audit::Verdict::DoesNotHold, "{:?}", audited.points);
}
