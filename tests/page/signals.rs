//! What a page says without being looked at: sound, shaking, a screen that stays on; and that nothing old is ever shown for current,
//! whatever became of the phone or of its connection. A browser without a screen plays nothing: it writes down what it was asked for.

use std::io::Write;
use std::time::{Duration, Instant};

use serde_json::{Value as Json, json};

use crate::by_forms::walk_to;
use crate::by_taps::driver;
use crate::cable::Cable;
use crate::driver::{Driver, Window};
use crate::form::{Device, between, words};
use crate::server::Shop;

const JOB: &str = "heron-estate";

/// Runs before the page's own script. `woken`: what stands there at the first moment after a sleep, when all that listens for its
/// end has run.
const WRITES_DOWN: &str = "
    window.felt = [];
    window.woken = [];
    Object.defineProperty(navigator, 'vibrate', { value: (pattern) => { felt.push('shakes ' + pattern); return true } });
    let lock = {};
    Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => { felt.push('stays on'); return lock = { released: false } } } });
    window.AudioContext = class {
        constructor() { this.state = 'running'; this.currentTime = 0; this.destination = {} }
        resume() {}
        createOscillator() {
            return { frequency: {}, connect() {}, stop() {}, start() { felt.push('sounds ' + this.frequency.value) } }
        }
    };
    const now = () => [document.getElementById('reader')?.textContent ?? '', document.querySelector('[data-takes]')?.textContent ?? '',
        String(document.querySelector('[data-takes]')?.disabled ?? true)].join(' | ');
    // It comes to the window after all that listens at the document.
    addEventListener('visibilitychange', () => {
        // As the Screen Wake Lock API has it: hidden, a page has no lock.
        lock.released = document.hidden;
        if (document.hidden) window.left = now();
        else woken.push(now());
    });";

/// A person's window in which all of that is written down.
fn let_in<'a>(driver: &'a Driver, site: &str, code: &str) -> Window<'a> {
    let window = crate::by_taps::let_in(driver, site, code, None);
    window.tell("Page.addScriptToEvaluateOnNewDocument", json!({ "source": WRITES_DOWN }));
    window
}

/// What was felt since it was asked last.
fn felt(window: &Window) -> Vec<String> {
    let felt = window.run("return felt.splice(0)", json!([]));
    felt.as_array().unwrap().iter().filter_map(Json::as_str).map(str::to_owned).collect()
}

const ALARM: [&str; 2] = ["shakes 300,100,300", "sounds 880"];

#[test]
fn the_end_of_a_hold_is_heard_and_felt_once_and_the_screen_stays_on() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let overlay = shop.path().join("workshop/ferry-lane/overlays/ferry-lane-ways.yaml");
    let text = std::fs::read_to_string(&overlay).unwrap();
    let short = "changes:\n  - { family: heron, values: { drain.run: 3 s }, source: for this test }\n";
    std::fs::write(&overlay, text.replace("changes:\n", short)).unwrap();
    let server = shop.serve(0, true);
    let marek = Device::first(&server, "marek");
    let rita = marek.let_in("rita");
    rita.keeps(JOB, "take", &[]);
    walk_to(&rita, JOB, JOB, "run-out");
    let window = let_in(&driver, &server.address, &marek.code_for("rita"));
    window.go(&format!("/job/{JOB}"));
    window.sees("Everybody clear?");
    assert_eq!(felt(&window), ["stays on"]);
    window.tap("form:has([value=begin]) button.bar");
    window.sees("to go");
    assert!(window.has("[data-when-held][disabled]"));
    assert_eq!(felt(&window), [""; 0], "not before it is over");
    window.sees("The time is over");
    assert_eq!(felt(&window), ALARM);
    assert!(!window.has("[data-when-held][disabled]"));
    std::thread::sleep(Duration::from_millis(400));
    assert_eq!(felt(&window), [""; 0], "once");
}

/// A unit that warms: rows of a reader, each 20 s after the last by its own clock.
struct Warming {
    file: std::fs::File,
    rows: u32,
}

impl Warming {
    fn begin(shop: &Shop) -> Self {
        let mut file = std::fs::File::create(shop.reader()).unwrap();
        writeln!(file, "Time,Sump temp [°C]").unwrap();
        Self { file, rows: 0 }
    }

    /// The next row: 0.6 K warmer.
    fn row(&mut self) -> String {
        let value = format!("{:.1}", 42.0 + 0.6 * f64::from(self.rows));
        let at = 20 * self.rows;
        self.rows += 1;
        writeln!(self.file, "10:{:02}:{:02},{value}", at / 60, at % 60).unwrap();
        value
    }

    /// Rows until somebody is called.
    fn until_felt(&mut self, window: &Window) -> (String, Vec<String>) {
        window.patiently("feel something", || {
            let value = self.row();
            std::thread::sleep(Duration::from_millis(400));
            match felt(window) {
                felt if felt.is_empty() => Err("nothing".to_owned()),
                felt => Ok((value, felt)),
            }
        })
    }

    /// Rows until one is shown that came after this.
    fn until_shown(&mut self, window: &Window) -> String {
        window.patiently("see a reading that is new", || {
            let value = self.row();
            std::thread::sleep(Duration::from_millis(400));
            if reader(window).contains(&format!("{value} °C")) { Ok(value) } else { Err("it is not there".to_owned()) }
        })
    }
}

fn reader(window: &Window) -> String {
    let script = "return (document.getElementById('reader')?.textContent ?? '') + ' ' + (document.querySelector('[data-takes]')?.textContent ?? '')";
    window.run(script, json!([])).as_str().unwrap_or_default().to_owned()
}

#[test]
fn the_window_calls_as_it_opens_and_before_it_closes_and_nothing_old_is_shown_after_a_sleep_or_a_cut() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let mut rows = Warming::begin(&shop);
    let server = shop.serve_with(0, true, &["--reader", &shop.reader().display().to_string()]);
    let marek = Device::first(&server, "marek");
    let rita = marek.let_in("rita");
    rita.keeps(JOB, "take", &[]);
    walk_to(&rita, JOB, JOB, "window");
    rita.keeps(JOB, "connect", &[]);
    let cable = Cable::to(&server.address);
    let window = let_in(&driver, &cable.address, &marek.code_for("rita"));
    window.go(&format!("/job/{JOB}"));
    rows.until_shown(&window);
    assert_eq!(felt(&window), ["stays on"], "it is far from the window");
    assert!(reader(&window).contains("Not in the window yet"), "{}", reader(&window));

    let (at, called) = rows.until_felt(&window);
    assert!(called == ALARM && at.parse::<f64>().unwrap() >= 45.0, "{at}: {called:?}");
    assert!(reader(&window).contains("Take "), "{}", reader(&window));

    // The phone lies in a pocket. What it showed is gone before, so that it can't be the first that is seen after.
    let before = rows.until_shown(&window);
    window.sleep();
    let missed = rows.row();
    std::thread::sleep(Duration::from_millis(600));
    window.wake();
    let woken = window.patiently("wake", || {
        let woken = window.run("return [window.left].concat(woken)", json!([]));
        if woken.as_array().unwrap().len() > 1 { Ok(woken) } else { Err(woken.to_string()) }
    });
    for seen in woken.as_array().unwrap() {
        let seen = seen.as_str().unwrap();
        assert!(!seen.contains(&before) && !seen.contains(&missed) && seen.ends_with("true"), "{woken}");
    }
    assert!(felt(&window).contains(&"stays on".to_owned()), "a lock ends with the sleep");
    rows.until_shown(&window);

    // The network is gone in the middle of the step, without a word.
    cable.cut();
    window.sees("Not current since");
    let gone = reader(&window);
    assert!(gone.contains("The reader is not shown: no connection since") && !gone.contains("°C"), "{gone}");
    assert!(window.has("[data-takes][disabled]"));
    let height = window.run("return document.querySelector('[data-takes]').offsetHeight", json!([]));
    assert_eq!(height, 0, "there is nothing to take, and no empty bar for it");
    // Bars that would need the connection are dead, and the page says why; nothing waits that must not.
    assert!(window.run("return Object.keys(localStorage).length", json!([])) == 0);
    cable.mend();
    // No rows meanwhile: however long it takes, the window does not come to its end before.
    window.patiently("be connected again", || match window.text().contains("Not current") {
        true => Err("it is not".to_owned()),
        false => Ok(()),
    });
    rows.until_shown(&window);

    felt(&window);
    let (at, called) = rows.until_felt(&window);
    assert!(called == ALARM && at.parse::<f64>().unwrap() < 58.0, "{at}: {called:?} {}", reader(&window));
    assert!(reader(&window).contains("close"), "{}", reader(&window));
    // Enter in a field taps the first button of the form, and what was typed there must not become what the reader says.
    let first = "return document.querySelector('[data-takes]').form.querySelector('button:not([type=button])').matches('[data-writes]')";
    assert_eq!(window.run(first, json!([])), true);
    // It is taken by a tap, with its value.
    window.tap("[data-takes]:not([disabled])");
    window.patiently("come on", || {
        if window
            .run("return document.querySelector('.now input[name=asks]')?.value ?? ''", json!([]))
            .as_str()
            .is_some_and(|it| it.starts_with("window"))
        {
            Err("it is asked still".to_owned())
        } else {
            Ok(())
        }
    });
}

/// The count of bells that a page says.
fn bells(device: &Device) -> u32 {
    let page = device.page(JOB);
    between(&page, "data-bells=\"", "\"")
        .and_then(|count| count.parse().ok())
        .unwrap_or_else(|| panic!("{}", words(&page)))
}

/// Rows until it has rung so often, while nobody looks.
fn rings(device: &Device, rows: &mut Warming, times: u32) {
    let begun = Instant::now();
    while bells(device) < times {
        assert!(begun.elapsed() < Duration::from_secs(30), "it never rings");
        rows.row();
        std::thread::sleep(Duration::from_millis(400));
    }
}

#[test]
fn a_bell_outlives_a_reload_and_a_server_that_is_started_anew() {
    let Some(driver) = driver() else { return };
    let shop = Shop::new();
    let mut rows = Warming::begin(&shop);
    let reader = shop.reader().display().to_string();
    let mut server = shop.serve_with(0, true, &["--reader", &reader]);
    let marek = Device::first(&server, "marek");
    let rita = marek.let_in("rita");
    rita.keeps(JOB, "take", &[]);
    walk_to(&rita, JOB, JOB, "window");
    let page = format!("/job/{JOB}");
    let window = let_in(&driver, &server.address, &marek.code_for("rita"));
    window.go(&page);
    // It is connected while the page is open, which then has the first bell to ring.
    rita.keeps(JOB, "connect", &[]);
    window.patiently("see the reader", || if window.has("#reader") { Ok(()) } else { Err("not yet".to_owned()) });
    felt(&window);
    assert_eq!(rows.until_felt(&window).1, ALARM);
    // Nothing has rung since: a reload is silent.
    window.go(&page);
    rows.until_shown(&window);
    assert_eq!(felt(&window), ["stays on"]);
    // The window is about to close while the page is not there.
    window.go("/");
    rings(&rita, &mut rows, bells(&rita) + 1);
    window.go(&page);
    let called = felt(&window);
    assert!(ALARM.iter().all(|it| called.iter().filter(|felt| felt == it).count() == 1), "once: {called:?}");

    // The server dies and comes back, and rings as often as before: those are other bells, on a page that stayed open too.
    window.go("/");
    let open = let_in(&driver, &server.address, &marek.code_for("rita"));
    open.go(&page);
    felt(&open);
    let before = bells(&rita);
    let port = server.address.rsplit(':').next().unwrap().parse().unwrap();
    server.kill();
    drop(rows);
    let mut rows = Warming::begin(&shop);
    let _server = shop.serve_with(port, false, &["--reader", &reader]);
    rita.keeps(JOB, "take", &[]);
    rita.keeps(JOB, "connect", &[]);
    rings(&rita, &mut rows, before);
    let called = felt(&open);
    assert!(ALARM.iter().all(|it| called.contains(&(*it).to_owned())), "{called:?}");
    window.go(&page);
    let called = felt(&window);
    assert!(ALARM.iter().all(|it| called.contains(&(*it).to_owned())), "{called:?}");
}
