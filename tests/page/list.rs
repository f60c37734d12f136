//! The list of jobs: what is to be done and on what, before anybody begins.

use std::fs;

use crate::form::{Device, between, words};
use crate::server::Shop;

#[test]
fn a_job_that_waits_is_called_by_what_it_is_done_on_and_says_what_keeps_it_from_being_begun() {
    let shop = Shop::new();
    let file = shop.jobs().join("heron-estate.yaml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(shop.jobs().join("misspelt.yaml"), text.replace("family: heron", "family: heronn")).unwrap();
    fs::write(shop.jobs().join("no-job.yaml"), "job: 7\nfamily: [\n").unwrap();
    let mut server = shop.serve(0, true);
    let rita = Device::first(&server, "rita");
    let list = words(&rita.get("/").text);
    for says in [
        "FL 036, Grey estate 2026-1103 Heron, six-speed transverse, overflow insert: Filter and fluid service, level by \
         overflow not begun",
        "be begun there is no family `heronn`",
        "no-job Can&#x27;t be read",
    ] {
        assert!(list.contains(says), "{says}\n{list}");
    }
    // Mended while the server runs.
    fs::write(shop.jobs().join("misspelt.yaml"), text.replace("2026-1103", "2026-1104")).unwrap();
    assert!(!words(&rita.get("/").text).contains("heronn"));
    rita.keeps("heron-estate", "take", &[]);
    let list = words(&rita.get("/").text);
    assert!(list.contains("FL 036, Grey estate 2026-1103 Say how it comes in running"), "{list}");
    // A list is made of what is known of jobs that are worked on here: it says what the journals say.
    rita.keeps("heron-estate", "note", &[("text", "looked at the list")]);
    let line = |list: String| between(&list, "<ul class=\"jobs\">", "</ul>").unwrap().to_owned();
    let known = line(rita.get("/").text);
    server.kill();
    let server = shop.serve(0, false);
    assert_eq!(line(rita.at(&server.address).get("/").text), known);
}
