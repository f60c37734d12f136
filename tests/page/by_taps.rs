//! A whole job by taps, on a phone held upright: the technician's, the second person's who looks and signs on their own, and
//! the office that looks on. What it leaves is what the same answers leave headless.

use std::path::Path;
use std::time::Duration;

use serde_json::json;

use crate::by_forms::same_pass;
use crate::driver::{Driver, Window};
use crate::form::Device;
use crate::looks::Looks;
use crate::server::Shop;
use crate::walk::{Deed, What, deeds, events, headless, vias};

const JOB: &str = "heron-estate";
/// CSS pixels of a phone that is common.
pub const PHONE: (u32, u32) = (390, 844);

/// What a run without a browser says; `.ci/run` installs one and looks that this is not said.
pub const NO_BROWSER: &str = "NOT RUN: no chromedriver is installed, so nothing is shown of the page in a browser";

pub fn driver() -> Option<Driver> {
    let driver = Driver::start();
    if driver.is_none() {
        assert!(std::env::var_os("STANDPIPE_BROWSER_NEEDED").is_none(), "{NO_BROWSER}");
        eprintln!("{NO_BROWSER}");
    }
    driver
}

pub fn let_in<'a>(driver: &'a Driver, site: &str, code: &str, person: Option<&str>) -> Window<'a> {
    let window = driver.window(site, PHONE);
    window.go("/pair");
    window.write("#code", code);
    window.tap("button.bar");
    if let Some(person) = person {
        window.tap(&format!("input[value='{person}']"));
        window.tap("button.bar");
    }
    window.sees("Jobs");
    window
}

/// A code for a person, made on the device that lets others in.
pub fn code_for(office: &Window, person: &str) -> String {
    office.go("/devices");
    office.tap(&format!("input[value='{person}']"));
    office.tap("form button.bar");
    office.patiently("read the code", || {
        let code = office.run("return document.querySelector('.big')?.textContent ?? ''", json!([]));
        let code = code.as_str().unwrap_or_default().to_owned();
        if code.is_empty() { Err("there is none".to_owned()) } else { Ok(code) }
    })
}

fn version(window: &Window) -> String {
    window
        .run("return document.querySelector('main').dataset.version", json!([]))
        .as_str()
        .unwrap_or_default()
        .to_owned()
}

/// What the page asks: the address.
fn asks(window: &Window) -> String {
    let script = "return document.querySelector('.now input[name=asks]')?.value ?? ''";
    window.run(script, json!([])).as_str().unwrap_or_default().to_owned()
}

/// Taps, and waits until the page is another. A tap right after a change does nothing: it is tried again, on the same page.
pub fn tap_on(window: &Window, selector: &str) {
    let before = version(window);
    window.patiently(&format!("come on by {selector}"), || {
        if version(window) == before {
            // The page is dead to taps for a moment after it has changed.
            std::thread::sleep(Duration::from_millis(310));
            window.tap(selector);
            for _ in 0..20 {
                if version(window) != before {
                    break;
                }
                std::thread::sleep(Duration::from_millis(40));
            }
        }
        if version(window) == before { Err("the page stays as it is".to_owned()) } else { Ok(()) }
    });
}

/// Does one thing on the page of the job.
fn do_it(window: &Window, second: &Window, deed: &Deed, looks: &Looks) {
    match &deed.what {
        What::Call(procedure) => {
            window.tap("nav.beside details:first-of-type > summary");
            window.tap(&format!("input[name=procedure][value='{procedure}']"));
            tap_on(window, "form:has(input[value=call]) button.bar");
        }
        What::Note(text) => {
            window.tap("nav.beside details:has(#note) > summary");
            window.write("#note", text);
            tap_on(window, "form:has(#note) button.bar");
        }
        What::Enter { .. } => enter(window, second, deed, looks),
    }
}

fn enter(window: &Window, second: &Window, deed: &Deed, looks: &Looks) {
    let What::Enter { typed, bare, with, witness, photo } = &deed.what else { return };
    window.patiently(&format!("be asked `{}`", deed.step), || {
        let asked = asks(window);
        if asked.split('[').next() == Some(deed.step.as_str()) { Ok(()) } else { Err(format!("`{asked}` is asked")) }
    });
    looks.at(window);
    let first = asks(window);
    if let Some(photo) = photo {
        window.put_file("#photo", &photo.display().to_string());
        window.tap("form.photo button.bar");
        window.sees("1 kept");
    }
    loop {
        if window.has(".now details:not(.why) form.answer") && !window.has(".now details[open]:not(.why)") {
            window.tap(".now details:not(.why) > summary");
        }
        if let Some(witness) = witness {
            window.tap(&format!("label:has(input[name=witness][value='{witness}@own'])"));
        }
        let form = "form.answer:has(input[value=enter])";
        let mut tapped = None;
        let scale = with.first().map(|(_, id)| format!("{form} button[name=scale][value='{id}']"));
        let scale = scale.filter(|scale| window.has(scale));
        for (name, value) in typed.iter().filter(|_| scale.is_none()) {
            fill(window, form, name, value, &mut tapped);
        }
        if let Some(bare) = bare {
            let only = window.run(
                "return document.querySelector('form.answer:has(input[value=enter]) [name^=\"f.\"]').name.slice(2)",
                json!([]),
            );
            fill(window, form, only.as_str().unwrap(), bare, &mut tapped);
        }
        for (name, instrument) in with {
            let select = format!("select[name='w.{name}']");
            if window.has(&select) {
                window.tap(&format!("{select} option[value='{instrument}']"));
            }
        }
        // The rest of the pass in one tap, where an answer without an item stands for it.
        let rest = format!("{form} button[name=rest]");
        let rest = deed.item.is_none() && window.has(&rest);
        let bar = match tapped.or(scale) {
            Some(tapped) => tapped,
            None if rest => format!("{form} button[name=rest]"),
            None => format!("{form} button.bar"),
        };
        tap_on(window, &bar);
        if witness.is_some() {
            // It is not written before the second person has looked.
            window.sees("Waits for");
            second.sees("Look now");
            looks.at(window);
            looks.at(second);
            tap_on(second, "button[name=so][value=yes]");
            window.patiently("go on by itself", || {
                if window.text().contains("Waits for Jo") { Err("it still waits".to_owned()) } else { Ok(()) }
            });
        }
        if rest || deed.item.is_some() || !same_pass(&first, &asks(window)) || witness.is_some() {
            return;
        }
    }
}

fn fill(window: &Window, form: &str, name: &str, value: &str, tapped: &mut Option<String>) {
    let tap = format!("{form} button[name='f.{name}'][value='{value}']");
    let choice = format!("{form} label:has(input[type=radio][name='f.{name}'][value='{value}'])");
    if window.has(&tap) {
        *tapped = Some(tap);
    } else if window.has(&choice) {
        window.tap(&choice);
    } else {
        let field = format!("{form} [name='f.{name}']");
        // A field for a date takes it in the order of the place; as a value it is the same everywhere.
        let script = "const it = document.querySelector(arguments[0]); if (it.type !== 'date') return false;
            it.value = arguments[1]; return true";
        if window.run(script, json!([field, value])) != json!(true) {
            window.write(&field, value);
        }
    }
}

#[test]
fn a_job_by_taps_on_three_devices_leaves_what_its_answers_leave() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let office = let_in(&driver, &server.address, &server.code(), Some("marek"));
    let rita = let_in(&driver, &server.address, &code_for(&office, "rita"), None);
    let jo = let_in(&driver, &server.address, &code_for(&office, "jo"), None);
    office.go("/");
    rita.go(&format!("/job/{JOB}"));
    rita.tap("form button.bar");
    rita.sees("step 1 of");
    jo.go(&format!("/job/{JOB}"));
    office.sees("running, step 1 of");

    let looks = Looks::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let all = deeds(&root.join(format!("examples/answers/{JOB}.yaml")));
    let (last, by_rita) = all.split_last().unwrap();
    for deed in by_rita {
        assert_eq!(deed.by, "rita");
        do_it(&rita, &jo, deed, &looks);
    }
    // The signature is given in the office; nobody else is offered it.
    assert_eq!(last.by, "marek");
    rita.sees("Waits for the signature of");
    office.go(&format!("/job/{JOB}"));
    looks.at(&rita);
    looks.at(&office);
    tap_on(&office, "form.answer button.bar");
    rita.sees("Finished");
    looks.at(&rita);
    jo.sees("Finished");
    looks.hold();

    let journal = shop.jobs().join(format!("{JOB}.job"));
    let (page, answers) = (events(&journal), events(&headless(shop.path(), JOB)));
    for (page, answers) in page.iter().zip(&answers) {
        assert_eq!(page, answers);
    }
    assert_eq!(page.len(), answers.len());
    // Who looked on their own phone is shown by it.
    let vias = vias(&journal);
    assert!(vias.iter().all(|(_, via)| via["own"] == true), "{vias:?}");
    assert!(vias.iter().any(|(by, via)| by == "rita" && via["witness"] == "d3"), "{vias:?}");
    assert!(vias.iter().any(|(by, via)| by == "marek" && via["device"] == "d1"), "{vias:?}");
    let record = rita.run("return fetch('/job/heron-estate/record').then((it) => it.text())", json!([]));
    assert!(record.as_str().unwrap().contains("SHOWN"), "{record}");
    rita.go(&format!("/job/{JOB}"));
    rita.tap(".now a[href$=customer]");
    rita.sees("SHOWN level set within");
    rita.sees("What was done");
    let device = Device::pair(&server.address, &code_for(&office, "shared"), None);
    assert!(device.page(JOB).contains("Finished"));
}
