//! What only a browser shows: that a page says when it has lost its connection, and how wide it is.

use serde_json::json;

use crate::by_taps::{PHONE, code_for, driver, let_in, tap_on};
use crate::driver::Window;
use crate::looks::Looks;
use crate::server::Shop;

const JOB: &str = "heron-estate";

#[test]
fn a_page_without_its_server_says_so_and_sends_what_waited_once_it_is_back() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let mut server = shop.serve(0, true);
    let port: u16 = server.address.rsplit(':').next().unwrap().parse().unwrap();
    let rita = let_in(&driver, &server.address, &server.code(), Some("rita"));
    rita.go(&format!("/job/{JOB}"));
    rita.tap("form button.bar");
    // Else the page that comes of the beginning would be taken for what came of the next tap.
    rita.sees("step 1 of");
    tap_on(&rita, ".taps button.bar");
    // A plain step: it may wait on the device.
    rita.patiently("come to a plain step", || match rita.has("form.answer[data-plain]") {
        true => Ok(()),
        false => Err("what is asked is not plain".to_owned()),
    });
    let title = rita.run("return document.querySelector('h1').textContent", json!([]));
    server.kill();
    rita.sees("Not current since");
    rita.tap("form.answer[data-plain] button.bar");
    rita.sees("Not kept yet");
    let server = shop.serve(port, false);
    rita.patiently("hear that the server is back", || {
        let says = rita.text();
        if says.contains("goes on") && !says.contains("Not current") { Ok(()) } else { Err("it is not".to_owned()) }
    });
    // It was left under way: somebody looks first, so what waited is not kept, and the page says so.
    rita.sees("Not kept.");
    rita.sees("It was left under way");
    drop(server);
    assert!(title.as_str().is_some_and(|title| !title.is_empty()));
}

/// Pages of a job under way are looked at while it is answered, in `by_taps`.
#[test]
fn every_page_can_be_read_reached_and_tapped() {
    let Some(driver) = driver() else { return };
    let looks = Looks::new();
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let window = let_in(&driver, &server.address, &server.code(), Some("marek"));
    let shared = let_in(&driver, &server.address, &code_for(&window, "shared"), None);
    looks.at(&window);
    let look = |window: &Window, path: &str| {
        window.go(path);
        looks.at(window);
    };
    let new = "/new?of=heron+pan-service-overflow";
    for path in ["/", "/devices", "/new", new, "/job/heron-estate", "/job/heron-estate/card", "/pair", "/nowhere"] {
        look(&window, path);
    }
    window.go(new);
    window.write("#id", "../up");
    window.tap("button.bar");
    window.sees("Not opened.");
    looks.at(&window);
    look(&shared, "/job/heron-estate");
    window.go("/job/heron-estate");
    window.tap("form button.bar");
    window.sees("step 1 of");
    tap_on(&window, ".taps button.bar");
    let of_the_job = ["", "/record", "/customer", "/audit", "/sign"].map(|page| format!("/job/heron-estate{page}"));
    for path in ["/"].into_iter().chain(of_the_job.iter().map(String::as_str)) {
        look(&window, path);
        look(&shared, path);
    }
    looks.hold();
    // None of this is found by a check that finds nothing.
    window.go("/pair");
    looks.finds(&window, "document.querySelector('h1').style.width = '2000px'", "the page is 20");
    looks.finds(&window, "document.querySelector('h1').style.cssText = 'margin-bottom: -3rem'", "runs into");
    window.go("/devices");
    looks.finds(&window, "document.documentElement.style.scrollPaddingTop = '0'", "has the focus beneath the bar");
    if looks.by_rules() {
        window.go("/pair");
        looks.finds(&window, "document.querySelector('label').remove()", "light: label:");
        looks.finds(&window, "document.querySelector('h1').style.color = '#333'", "dark: color-contrast:");
    }
}

/// Pages that stand by themselves, from a disk: a job's papers, and the manual.
#[test]
fn papers_and_the_manual_can_be_read() {
    let Some(driver) = driver() else { return };
    let looks = Looks::new();
    let folder = tempfile::tempdir().unwrap();
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let made = |arguments: &[&str]| {
        let ran =
            std::process::Command::new(env!("CARGO_BIN_EXE_standpipe")).current_dir(root).args(arguments).output();
        String::from_utf8(ran.unwrap().stdout).unwrap()
    };
    let at = |name: &str| folder.path().join(name).display().to_string();
    let job = "examples/jobs/plover-pickup.yaml";
    made(&["run", job, "--answers", "examples/answers/plover-pickup.yaml", "--journal", &at("job")]);
    for (name, arguments) in [
        ("card", vec!["card", job]),
        ("record", vec!["report", &at("job")]),
        ("customer", vec!["report", &at("job"), "--for", "customer"]),
        ("procedure", vec!["show", "procedure", "pan-service-overflow", "--family", "plover"]),
    ] {
        std::fs::write(at(&format!("{name}.html")), made(&[&arguments, &["--format", "html"][..]].concat())).unwrap();
    }
    made(&["manual", "--into", &at("manual")]);
    let window = driver.window(&format!("file://{}", folder.path().display()), PHONE);
    let mut wrong = Vec::new();
    for page in [
        "card",
        "record",
        "customer",
        "procedure",
        "manual/index",
        "manual/commands",
        "manual/keys",
        "manual/functions",
        "manual/technician",
    ] {
        window.go(&format!("/{page}.html"));
        wrong.extend(looks.against_rules(&window).into_iter().map(|wrong| format!("{page} {wrong}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    if looks.by_rules() {
        window.run("document.querySelector('h1').style.color = '#ccc'", json!([]));
        assert!(looks.against_rules(&window).iter().any(|wrong| wrong.contains("light: color-contrast")));
    }
}
