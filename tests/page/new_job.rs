//! A job that is opened at a page: by whom, what is asked once more, and what its file says.

use crate::form::{Device, between, words};
use crate::server::Shop;

const OF: (&str, &str) = ("of", "heron pan-service-overflow");

#[test]
fn a_job_is_opened_by_its_form_and_hardly_possible_answers_are_asked_once_more() {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let marek = Device::first(&server, "marek");
    let (rita, tablet) = (marek.let_in("rita"), marek.let_in("shared"));
    let there = || std::fs::read_dir(shop.jobs()).unwrap().count();
    let before = there();
    let known = [OF, ("id", "2026-1500"), ("f.vehicle.plate", "FL <b>9</b>"), ("f.vehicle.duty", "severe")];

    // Only who may accept what turns out otherwise is offered it.
    assert!(words(&marek.get("/").text).contains("Open a new job"));
    for other in [&rita, &tablet] {
        assert!(!words(&other.get("/").text).contains("Open a new job"));
        assert_eq!(other.get("/new").status, 403);
        assert_eq!(other.post("/new", &known).status, 403);
    }
    assert!(words(&marek.get("/new").text).contains("Heron, six-speed"));
    let page = marek.get("/new?of=heron+pan-service-overflow").text;
    // Nobody guesses the variant; what it is known by stands beside it.
    assert!(page.contains("name=\"variant\" value=\"\" checked") && words(&page).contains("pan bolts 10"), "{page}");

    for (id, says) in
        [("../2026-1500", "can&#x27;t be the number"), ("", "can&#x27;t be"), ("heron-estate", "there already")]
    {
        let answer = marek.post("/new", &[OF, ("id", id)]);
        assert!(answer.status == 422 && answer.text.contains(says), "{id}: {}", words(&answer.text));
    }
    assert_eq!(marek.post("/new", &[("of", "heron settle"), ("id", "x")]).status, 404, "a part of the work is no work");
    let answer = marek.post("/new", &[&known[..], &[("f.bay.temperature", "warm")]].concat());
    assert!(answer.status == 422 && words(&answer.text).contains("does not start with a number"));

    let far = [("f.vehicle.odometer", "9999999"), ("u.vehicle.odometer", "km")];
    let answer = marek.post("/new", &[&known[..], &far].concat());
    let says = words(&answer.text);
    assert!(answer.status == 422 && says.contains("far from the usual 0..1500000 km"), "{says}");
    assert_eq!(there(), before, "nothing was written");
    // The same once more is meant; another one is looked at again.
    let sure =
        ("sure.vehicle.odometer", between(&answer.text, "name=\"sure.vehicle.odometer\" value=\"", "\"").unwrap());
    let other = [("f.vehicle.odometer", "8888888 km"), sure];
    assert_eq!(marek.post("/new", &[&known[..], &other].concat()).status, 422);
    let same = [("f.vehicle.odometer", sure.1), sure];
    let answer = marek.post("/new", &[&known[..], &same].concat());
    assert_eq!((answer.status, answer.header("location")), (303, Some("/job/2026-1500")), "{}", words(&answer.text));

    let file = std::fs::read_to_string(shop.jobs().join("2026-1500.yaml")).unwrap();
    for line in [
        "job: 2026-1500",
        "family: heron",
        "# the variant is recognised by what is seen",
        "shop: ../workshop/shop.yaml",
        "  odometer: 9999999 km",
        "  name: unknown",
    ] {
        assert!(file.contains(&format!("\n{line}\n")), "{line}: {file}");
    }
    assert_eq!(marek.post("/new", &[&known[..], &same].concat()).status, 422, "nothing is written over");
    // It can be begun at once, and nothing that was entered is taken for a tag.
    rita.keeps("2026-1500", "take", &[]);
    let page = rita.page("2026-1500");
    assert!(page.contains("step 1 of") && page.contains("FL &lt;b&gt;9") && !page.contains("<b>9"), "{page}");
}
