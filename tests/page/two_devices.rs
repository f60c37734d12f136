//! Two devices at one job, by plain forms: who comes late, who sends twice, who may do what.

use crate::form::{Device, between, value, words};
use crate::server::Shop;
use crate::walk::{events, vias};

const JOB: &str = "heron-estate";

struct Bay {
    shop: Shop,
    _server: crate::server::Server,
    office: Device,
    rita: Device,
    jo: Device,
}

fn bay() -> Bay {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let office = Device::first(&server, "marek");
    let (rita, jo) = (office.let_in("rita"), office.let_in("jo"));
    rita.keeps(JOB, "take", &[]);
    Bay { shop, _server: server, office, rita, jo }
}

impl Bay {
    fn events(&self) -> Vec<serde_json::Value> {
        events(&self.shop.jobs().join(format!("{JOB}.job")))
    }

    fn entries(&self) -> usize {
        self.events().iter().filter(|event| event["event"] == "entered").count()
    }
}

#[test]
fn what_is_sent_again_counts_once() {
    let bay = bay();
    let page = bay.rita.page(JOB);
    let field = "f.stood";
    let name = if page.contains(field) { field } else { "f.how_it_stood" };
    let overnight = [(name, "stood overnight")];
    for _ in 0..3 {
        // The answer got lost, say.
        let answer = bay.rita.say_on(&page, JOB, "enter", &overnight);
        assert_eq!(answer.status, 303, "{}", words(&answer.text));
    }
    assert_eq!(bay.entries(), 1);
}

#[test]
fn who_comes_late_is_shown_what_happened_and_nothing_is_entered() {
    let bay = bay();
    let page = bay.rita.page(JOB);
    let name = page.split("name=\"f.").nth(1).and_then(|rest| rest.split('"').next()).unwrap().to_owned();
    let name = format!("f.{name}");
    assert_eq!(bay.rita.say_on(&page, JOB, "enter", &[(&name, "stood overnight")]).status, 303);
    // A second window of hers, on the page from before.
    let other = page.replacen(value(&page, "id").unwrap(), "000102030405060708090a0b0c0d0e0f", 1);
    let late = bay.rita.say_on(&other, JOB, "enter", &[(&name, "driven in")]);
    assert_eq!(late.status, 409);
    let says = words(&late.text);
    assert!(says.contains("came too late") && says.contains("stood overnight"), "{says}");
    assert!(says.contains("Keep mine as a note"), "{says}");
    assert_eq!(bay.entries(), 1);
}

/// Nobody is late by much: both answers are on their way at once, and which of them comes first is chance.
#[test]
fn of_two_that_answer_at_once_one_is_kept_and_the_other_is_told() {
    let bay = bay();
    let other = bay.office.let_in("rita");
    for round in 1..=4 {
        // Each has the page before it.
        let pages = [&bay.rita, &other].map(|device| (device, device.page(JOB)));
        let tap = between(&pages[0].1, "<button class=\"bar tap\" name=\"", "\">");
        let fields: Vec<(&str, &str)> = tap.and_then(|tap| tap.split_once("\" value=\"")).into_iter().collect();
        let ready = std::sync::Barrier::new(2);
        let mut answers = std::thread::scope(|scope| {
            let say = |(device, page): &(&Device, String)| {
                ready.wait();
                device.say_on(page, JOB, "enter", &fields)
            };
            let all = pages.each_ref().map(|one| scope.spawn(move || say(one)));
            all.map(|one| one.join().unwrap())
        });
        answers.sort_by_key(|answer| answer.status);
        let [kept, late] = answers;
        assert_eq!((kept.status, late.status), (303, 409), "{round}: {}", words(&late.text));
        assert!(words(&late.text).contains("came too late"), "{}", words(&late.text));
        assert_eq!(bay.entries(), round);
    }
}

#[test]
fn another_person_takes_the_job_over_before_they_enter_anything() {
    let bay = bay();
    let page = bay.jo.page(JOB);
    assert!(words(&page).contains("goes on"), "{}", words(&page));
    let name = "f.stood";
    let refused = bay.jo.say(JOB, "enter", &[(name, "stood overnight")]);
    assert_eq!(refused.status, 422, "{}", words(&refused.text));
    assert_eq!(bay.entries(), 0);
    bay.jo.keeps(JOB, "take", &[]);
    assert!(bay.events().iter().any(|event| event["event"] == "took-over"));
    assert!(words(&bay.rita.page(JOB)).contains("in the hands of Jo"));
}

#[test]
fn a_shared_device_says_names_and_accepts_nothing() {
    let bay = bay();
    let tablet = bay.office.let_in("shared");
    let nobody = tablet.say(JOB, "note", &[("text", "who wrote this?")]);
    assert_eq!(nobody.status, 422);
    tablet.keeps(JOB, "note", &[("text", "by the tablet"), ("by", "rita")]);
    let said = vias(&bay.shop.jobs().join(format!("{JOB}.job")));
    assert!(said.iter().any(|(by, via)| by == "rita" && via["own"] == false), "{said:?}");
    let refused = tablet.say(JOB, "accept", &[("because", "it will do"), ("by", "marek")]);
    assert_eq!(refused.status, 403);
    assert!(!bay.events().iter().any(|event| event["event"] == "accepted"));
    // Who looks at the record later is told so, of that one input and of no other.
    let folder = bay.shop.jobs().join(format!("{JOB}.job"));
    let audited = standpipe::audit::audit(&folder, &Default::default(), &mut Default::default());
    let devices = audited.points.iter().find(|point| point.point == "devices").unwrap();
    assert!(devices.looked_at > 1, "{devices:?}");
    let [finding] = devices.findings.as_slice() else { panic!("{devices:?}") };
    assert!(finding.message.starts_with("1 input of rita") && finding.message.contains("only said"), "{finding:?}");
}

#[test]
fn a_device_speaks_for_its_own_person_whatever_it_says() {
    let bay = bay();
    bay.jo.keeps(JOB, "note", &[("text", "mine"), ("by", "marek")]);
    let note = bay.events().into_iter().rfind(|event| event["event"] == "noted").unwrap();
    assert_eq!(note["by"], "jo");
}

#[test]
fn who_is_shut_out_comes_in_no_more() {
    let bay = bay();
    assert_eq!(bay.jo.get("/").status, 200);
    assert_eq!(bay.jo.post("/devices", &[("withdraw", "d1")]).status, 403, "only who lets in shuts out");
    assert_eq!(bay.office.post("/devices", &[("withdraw", "d3")]).status, 200);
    assert_eq!(bay.jo.get("/").status, 401);
    assert_eq!(bay.jo.post(&format!("/job/{JOB}/in"), &[("what", "pause")]).status, 401);
}

#[test]
fn a_job_that_another_process_writes_is_only_looked_at() {
    let bay = bay();
    drop(bay._server);
    let held = standpipe::job::OpenJob::open(&bay.shop.jobs().join(format!("{JOB}.job")), standpipe::job::Hold::Write);
    let held = held.map_err(|faults| faults.len()).unwrap();
    let server = bay.shop.serve(0, false);
    let rita = bay.rita.at(&server.address);
    let refused = rita.say(JOB, "take", &[]);
    assert_eq!(refused.status, 409);
    assert!(words(&refused.text).contains("being written by another"), "{}", words(&refused.text));
    drop(held);
    rita.keeps(JOB, "take", &[]);
}
