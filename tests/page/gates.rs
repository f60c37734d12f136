//! What keeps a job from going on, by plain forms: a gate that only some may go on over, facts that nobody gave, what may be left
//! out and what not, a time that has to be held, a pause that wants its tag.

use std::fs;
use std::time::{Duration, Instant};

use crate::by_forms::{asked, walk_to};
use crate::form::{Device, between, value, words};
use crate::server::{Server, Shop};
use crate::walk::{events, vias};

const HATCH: &str = "dunlin-hatch";
const ESTATE: &str = "heron-estate";

struct Bay {
    shop: Shop,
    _server: Server,
    marek: Device,
    rita: Device,
}

/// A workshop whose files are changed before it is served.
fn bay(change: &[(&str, &str, &str)]) -> Bay {
    let shop = Shop::new();
    for (file, from, to) in change {
        let path = shop.path().join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{file} has moved");
        fs::write(path, text.replace(from, to)).unwrap();
    }
    let server = shop.serve(0, true);
    let marek = Device::first(&server, "marek");
    let rita = marek.let_in("rita");
    Bay { shop, _server: server, marek, rita }
}

impl Bay {
    fn events(&self, job: &str, event: &str) -> Vec<serde_json::Value> {
        let all = events(&self.shop.jobs().join(format!("{job}.job")));
        all.into_iter().filter(|known| known["event"] == event).collect()
    }

    /// Nothing is kept, and the page says why.
    fn refuses(&self, who: &Device, job: &str, what: &str, fields: &[(&str, &str)], why: &str) {
        let before = events(&self.shop.jobs().join(format!("{job}.job"))).len();
        let answer = who.say(job, what, fields);
        assert!(answer.status == 422, "{what} {fields:?}: {}", answer.status);
        assert!(words(&answer.text).contains(why), "{why}: {}", words(&answer.text));
        assert_eq!(events(&self.shop.jobs().join(format!("{job}.job"))).len(), before);
    }
}

#[test]
fn a_gate_that_is_not_met_waits_for_who_may_accept_it_on_their_own_device() {
    let bay = bay(&[]);
    let (rita, marek) = (&bay.rita, &bay.marek);
    rita.keeps(HATCH, "take", &[]);
    walk_to(rita, HATCH, HATCH, "change-odometer");
    // What can't be read stands in its field still, with the reason beside it.
    let answer = rita.say(HATCH, "enter", &[("f.odometer", "a lot")]);
    let field = between(&answer.text, "<div class=\"field faulty\">", "</div>").unwrap();
    assert!(field.contains("id=\"f-odometer-fault\"") && field.contains("value=\"a lot\""), "{field}");
    assert!(field.contains("aria-describedby=\"f-odometer-fault\" aria-invalid=\"true\""), "{field}");
    rita.keeps(HATCH, "enter", &[("f.odometer", "70000 km")]);
    let page = rita.page(HATCH);
    assert!(words(&page).contains("Waits for Marek T. to accept it"), "{}", words(&page));
    assert!(!page.contains("value=\"accept\""), "who may not is not offered it");
    let reason = [("because", "the display was changed in spring")];
    bay.refuses(rita, HATCH, "accept", &reason, "Not kept");
    let page = marek.page(HATCH);
    assert!(page.contains("value=\"accept\"") && words(&page).contains("next change is reckoned from it"), "{page}");
    bay.refuses(marek, HATCH, "accept", &[("because", "  ")], "reason is missing");
    assert!(bay.events(HATCH, "accepted").is_empty());
    marek.keeps(HATCH, "accept", &reason);
    let [accepted] = &bay.events(HATCH, "accepted")[..] else { panic!("once") };
    assert!(accepted["by"] == "marek" && accepted["because"] == reason[0].1, "{accepted}");
    assert!(
        vias(&bay.shop.jobs().join("dunlin-hatch.job")).iter().any(|(by, via)| by == "marek" && via["own"] == true)
    );
    // Whoever works goes on by themselves.
    assert_eq!(asked(rita, HATCH).as_deref(), Some("change-tag"));
    assert!(words(&rita.page(HATCH)).contains("the display was changed in spring"));

    // A step with a gate, or one that is to stand, is not left out, and that it may be is not offered.
    for step in ["change-tag", "change-containers"] {
        assert_eq!(asked(rita, HATCH).as_deref(), Some(step));
        assert!(!rita.page(HATCH).contains("value=\"skip\""), "{step}");
        bay.refuses(rita, HATCH, "skip", &[("because", "no time")], "be left out");
        if step == "change-tag" {
            rita.keeps(HATCH, "enter", &[("f.tag_text", "DL5 4411")]);
        }
    }
    // Nobody goes on over wrong containers, the foreman neither: the entry was wrong, or the job ends.
    rita.keeps(HATCH, "enter", &[("f.container_specification", "marsh-lv")]);
    let page = words(&rita.page(HATCH));
    assert!(page.contains("Nobody can go on past this"), "{page}");
    // Who only looks sees what it stands at.
    let page = words(&marek.page(HATCH));
    assert!(page.contains("Wrong fluid ruins clutches and seals") && page.contains("goes on"), "{page}");
    bay.refuses(marek, HATCH, "accept", &reason, "Not kept");
}

#[test]
fn a_step_is_left_out_with_a_reason_and_a_call_is_chosen_by_its_name_and_leads_back() {
    let bay = bay(&[]);
    let rita = &bay.rita;
    rita.keeps(ESTATE, "take", &[]);
    walk_to(rita, ESTATE, ESTATE, "complaint");
    let page = rita.page(ESTATE);
    let calls: Vec<(&str, &str)> = page
        .split("name=\"procedure\" value=\"")
        .skip(1)
        .map(|rest| {
            let (id, rest) = rest.split_once('"').unwrap();
            (id, rest.split_once("<span>").unwrap().1.split_once("</span>").unwrap().0)
        })
        .collect();
    assert!(calls.len() > 10 && calls.contains(&("extra-work", "Extra work")), "{calls:?}");
    assert!(calls.iter().all(|(id, title)| id != title && !title.contains('-')), "by their names: {calls:?}");
    bay.refuses(rita, ESTATE, "call", &[("procedure", "settle")], "Not kept");
    // Other steps are left out, with a reason.
    assert!(page.contains("value=\"skip\""));
    bay.refuses(rita, ESTATE, "skip", &[("because", " ")], "reason is missing");
    rita.keeps(ESTATE, "skip", &[("because", "nobody was there to ask")]);
    assert_eq!(bay.events(ESTATE, "skipped")[0]["because"], "nobody was there to ask");
    rita.keeps(ESTATE, "call", &[("procedure", "extra-work")]);
    assert!(words(&rita.page(ESTATE)).contains("Extra work"));
    let answers: [(&str, &[(&str, &str)]); 4] = [
        ("exw-what", &[("f.extra_work", "a mount"), ("f.extra_if_not", "it knocks on")]),
        (
            "exw-price",
            &[("f.extra_price", "90"), ("u.extra_price", "¤"), ("f.extra_priced_by", "Lena"), ("f.extra_hours", "1 h")],
        ),
        (
            "exw-consent",
            &[
                ("f.extra_consent", "declined"),
                ("f.authorised_by", "Tomas V."),
                ("f.authorised_how", "telephone"),
                ("f.authorised_when", "nine o'clock"),
            ],
        ),
        ("exw-decision", &[("f.decision", "go on")]),
    ];
    for (step, fields) in answers {
        assert_eq!(asked(rita, ESTATE).as_deref(), Some(step));
        if step == "exw-consent" {
            // Values that a few are chosen from take no other.
            let other: Vec<_> =
                fields.iter().map(|it| if it.0 == "f.extra_consent" { (it.0, "perhaps") } else { *it }).collect();
            bay.refuses(rita, ESTATE, "enter", &other, "perhaps");
        }
        rita.keeps(ESTATE, "enter", fields);
    }
    assert_eq!(asked(rita, ESTATE).as_deref(), Some("odometer"), "back where it was called");
    assert_eq!(bay.events(ESTATE, "returned").len(), 1);
}

#[test]
fn a_fact_that_nobody_gave_is_asked_with_its_source_and_a_time_is_held_by_the_clock_of_the_server() {
    let overlay = "workshop/ferry-lane/overlays/ferry-lane-ways.yaml";
    let open = "changes:\n  - { family: heron, values: { drain.run: unknown }, source: for this test }\n";
    let bay = bay(&[(overlay, "changes:\n", open)]);
    let (rita, marek) = (&bay.rita, &bay.marek);
    rita.keeps(ESTATE, "take", &[]);
    walk_to(rita, ESTATE, ESTATE, "run-out");
    let page = rita.page(ESTATE);
    assert!(words(&page).contains("needs what nobody has entered. It is never guessed"), "{}", words(&page));
    let path = ("path", value(&page, "path").unwrap());
    let source = ("source", "the maker's page on the lift's screen, 2026-11-26, Rita");
    bay.refuses(rita, ESTATE, "supply", &[path, ("value", "2 s")], "source is missing");
    bay.refuses(rita, ESTATE, "supply", &[path, ("value", "a while"), source], "a while");
    rita.keeps(ESTATE, "supply", &[path, ("value", "2 s"), source]);
    let [supplied] = &bay.events(ESTATE, "supplied")[..] else { panic!("once") };
    assert!(supplied["source"] == source.1 && supplied["typed"] == "2 s", "{supplied}");

    let whole = [("whole", "yes")];
    bay.refuses(rita, ESTATE, "held", &whole, "The clock of this hold was not started here");
    rita.keeps(ESTATE, "begin", &[]);
    let page = rita.page(ESTATE);
    assert!(page.contains("data-hold=\"2") && words(&page).contains("Held to the end"), "{page}");
    bay.refuses(rita, ESTATE, "held", &whole, "of 2 s are still to go");
    // Another device does not end it.
    bay.refuses(marek, ESTATE, "held", &whole, "Not kept");
    rita.keeps(ESTATE, "held", &[("whole", "no")]);
    let part = bay.events(ESTATE, "entered").pop().unwrap();
    assert!(part["address"] == "run-out" && part["done"] == false, "{part}");
    assert!(words(&rita.page(ESTATE)).contains("did not count"), "it is asked again");

    // Its clock begins anew.
    bay.refuses(rita, ESTATE, "held", &whole, "was not started here");
    rita.keeps(ESTATE, "begin", &[]);
    let begun = Instant::now();
    while rita.say(ESTATE, "held", &whole).status != 303 {
        assert!(begun.elapsed() < Duration::from_secs(20), "it is never over");
        std::thread::sleep(Duration::from_millis(200));
    }
    assert!(begun.elapsed() >= Duration::from_secs(2));
    let held = bay.events(ESTATE, "entered").pop().unwrap();
    assert!(held["typed"]["held"] == "2 s" && held["done"] == true, "{held}");
    assert_eq!(asked(rita, ESTATE).as_deref(), Some("plug-back"));
}

#[test]
fn a_pause_ends_with_its_tag_and_whoever_comes_next_reads_it_first() {
    let bay = bay(&[]);
    let (rita, marek) = (&bay.rita, &bay.marek);
    rita.keeps(ESTATE, "take", &[]);
    walk_to(rita, ESTATE, ESTATE, "complaint");
    rita.keeps(ESTATE, "pause", &[]);
    let steps: [(&str, &[(&str, &str)]); 5] = [
        ("leave-safe", &[]),
        ("what-is-open", &[("f.open_points", "bonnet <i>open</i>")]),
        ("what-is-in", &[("f.fluid_in", "as it came")]),
        ("where-is-the-key", &[("f.key_is", "on the board"), ("f.handed_over_by", "rita")]),
        ("tag-hung", &[]),
    ];
    for (step, fields) in steps {
        assert_eq!(asked(rita, ESTATE).as_deref(), Some(step));
        rita.keeps(ESTATE, "enter", fields);
    }
    // The tag stands on the page of each, and in the list; nothing is asked before somebody has looked.
    for who in [rita, marek] {
        let page = who.page(ESTATE);
        let says = words(&page);
        assert!(
            says.contains("FL 036: bonnet &lt;i&gt;open&lt;&#x2f;i&gt;") && says.contains("Key: on the board"),
            "{says}"
        );
        assert!(says.contains("goes on") && !page.contains("<i>"), "{page}");
        assert!(!page.contains("value=\"enter\""), "{page}");
    }
    let list = words(&marek.get("/").text);
    assert!(list.contains("paused") && list.contains("Key: on the board"), "{list}");
    assert_eq!(rita.say(ESTATE, "enter", &[("f.complaint", "none")]).status, 422);
    marek.keeps(ESTATE, "take", &[]);
    assert_eq!((bay.events(ESTATE, "paused").len(), bay.events(ESTATE, "resumed").len()), (1, 1));
    assert!(words(&rita.page(ESTATE)).contains("in the hands of Marek T."));
}
