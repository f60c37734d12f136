//! What only a browser shows: that a page says when it has lost its connection, and how wide it is.

use serde_json::json;

use crate::by_taps::{code_for, driver, let_in, let_in_at, tap_on};
use crate::driver::Window;
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

#[test]
fn no_page_is_wider_than_a_narrow_phone() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let narrow = |code: &str, person| let_in_at(&driver, &server.address, code, person, (320, 640));
    let window = narrow(&server.code(), Some("marek"));
    let shared = narrow(&code_for(&window, "shared"), None);
    let looked_at = |window: &Window, path: &str| {
        window.go(path);
        window.run("document.querySelectorAll('details').forEach((it) => { it.open = true })", json!([]));
        let wide = window.run("return document.documentElement.scrollWidth", json!([])).as_f64().unwrap();
        assert!(wide <= 320.0, "{path}: {wide}");
        // 56 CSS pixels for whatever is tapped.
        let small = window.run(
            "return [...document.querySelectorAll('a, button, .choice, summary, select, textarea, input:not([type=radio])\
             :not([type=checkbox])')].filter((it) => it.offsetParent && it.getBoundingClientRect().height < 55.5)\
             .map((it) => it.tagName + ' ' + it.textContent)",
            json!([]),
        );
        assert_eq!(small, json!([]), "{path}");
    };
    let new = "/new?of=heron+pan-service-overflow";
    for path in ["/", "/devices", "/new", new, "/job/heron-estate", "/job/heron-estate/card", "/pair", "/nowhere"] {
        looked_at(&window, path);
    }
    looked_at(&shared, "/job/heron-estate");
    window.go("/job/heron-estate");
    window.tap("form button.bar");
    window.sees("step 1 of");
    tap_on(&window, ".taps button.bar");
    for path in
        ["/", "/job/heron-estate", "/job/heron-estate/record", "/job/heron-estate/customer", "/job/heron-estate/audit"]
    {
        looked_at(&window, path);
        looked_at(&shared, path);
    }
}
