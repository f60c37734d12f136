//! A reader that is followed by pages: connected to one job, taken by a tap, and never taken for current when it is not.

use std::io::Write;
use std::time::{Duration, Instant};

use crate::by_forms::walk_to;
use crate::form::{Device, words};
use crate::server::Shop;
use crate::walk::{events, vias};

const JOB: &str = "heron-estate";
const STEP: &str = "cool-enough-to-open";

/// A reader's file that grows by a row whenever it is asked to.
struct Rows {
    file: std::fs::File,
    second: u32,
}

impl Rows {
    fn begin(shop: &Shop) -> Self {
        let mut file = std::fs::File::create(shop.reader()).unwrap();
        writeln!(file, "Time,Sump temp [°C]").unwrap();
        Self { file, second: 0 }
    }

    fn add(&mut self, value: &str) {
        self.second += 1;
        writeln!(self.file, "10:{:02}:{:02},{value}", self.second / 60, self.second % 60).unwrap();
    }
}

/// Looks at a page until it says something; whoever waits for a reader adds rows meanwhile.
fn sees(device: &Device, job: &str, wanted: &str, mut meanwhile: impl FnMut()) -> String {
    let begun = Instant::now();
    loop {
        let page = device.page(job);
        if words(&page).contains(wanted) {
            return page;
        }
        assert!(begun.elapsed() < Duration::from_secs(20), "it never says `{wanted}`: {}", words(&page));
        meanwhile();
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn a_reading_is_taken_by_a_tap_where_the_reader_is_connected_and_never_when_it_is_old() {
    let shop = Shop::new();
    // So that nobody has to wait for long.
    let settings = shop.path().join("workshop/shop.yaml");
    let text = std::fs::read_to_string(&settings).unwrap();
    let sooner = text.replace("kind: temperature-reader", "kind: temperature-reader\n    stale_after: 2 s");
    assert_ne!(text, sooner);
    std::fs::write(&settings, sooner).unwrap();
    let other = std::fs::read_to_string(shop.jobs().join("heron-estate.yaml")).unwrap();
    std::fs::write(shop.jobs().join("other.yaml"), other.replace("job: 2026-1103", "job: 2026-1199")).unwrap();
    let mut rows = Rows::begin(&shop);
    (0..20).for_each(|_| rows.add("16.9"));
    let server = shop.serve_with(0, true, &["--reader", &shop.reader().display().to_string()]);
    let rita = Device::first(&server, "rita");
    rita.keeps(JOB, "take", &[]);
    walk_to(&rita, JOB, JOB, STEP);
    let entered = || {
        let folder = shop.jobs().join(format!("{JOB}.job"));
        events(&folder).into_iter().filter(|event| event["event"] == "entered" && event["address"] == STEP).count()
    };
    let take = [("reader", "yes")];

    // Nobody has said yet that it is on this work.
    let page = rita.page(JOB);
    assert!(words(&page).contains("The reader rows.csv is at no job"), "{}", words(&page));
    let refused = rita.say(JOB, "enter", &take);
    assert!(refused.status == 422 && words(&refused.text).contains("No reader is connected"), "{}", refused.status);
    rita.keeps(JOB, "connect", &[]);
    // What was in its file before is the past.
    let page = sees(&rita, JOB, "NOT SHOWN by the reader", || {});
    assert!(words(&page).contains("nothing to take"), "{}", words(&page));
    assert_eq!(rita.say(JOB, "enter", &take).status, 422);

    let page = sees(&rita, JOB, "Take 16.2 °C by the reader", || rows.add("16.2"));
    assert!(page.contains("class=\"trace\"") && words(&page).contains("as of"), "the curve is drawn");
    // It falls silent: what it showed last is neither shown as current nor taken.
    let page = sees(&rita, JOB, "NOT SHOWN by the reader: no reading for", || {});
    assert!(words(&page).contains("nothing to take") && !words(&page).contains("Take 16.2"), "{}", words(&page));
    let refused = rita.say(JOB, "enter", &take);
    let says = words(&refused.text);
    assert!(refused.status == 422 && says.contains("The reader shows nothing: no reading for"), "{says}");

    // Connected to another job, it is with this one no more.
    rita.keeps("other", "take", &[]);
    rita.keeps("other", "connect", &[]);
    sees(&rita, JOB, "The reader rows.csv is at job other", || rows.add("16.1"));
    assert_eq!(rita.say(JOB, "enter", &take).status, 422);
    assert_eq!(entered(), 0);
    rita.keeps(JOB, "connect", &[]);
    sees(&rita, JOB, "Take 16.0 °C by the reader", || rows.add("16.0"));
    rows.add("16.0");
    rita.keeps(JOB, "enter", &take);

    let folder = shop.jobs().join(format!("{JOB}.job"));
    let journal = std::fs::read_to_string(folder.join("journal.jsonl")).unwrap();
    let line = journal.lines().find(|line| line.contains("\"entered\"") && line.contains(STEP)).unwrap();
    let entry: serde_json::Value = serde_json::from_str(line).unwrap();
    assert_eq!((&entry["origin"], &entry["typed"]["sump_temperature"]), (&"log".into(), &"16.0 °C".into()));
    assert_eq!(entry["via"]["device"], "d1", "who tapped it is known all the same");
    assert!(entry["read"]["rows"]["sha256"].is_string(), "{entry}");
    assert!(vias(&folder).iter().all(|(_, via)| via["own"] == true));
    let audited = standpipe::audit::audit(&folder, &Default::default(), &mut Default::default());
    for name in ["readings", "devices"] {
        let point = audited.points.iter().find(|point| point.point == name).unwrap();
        assert!(point.looked_at > 0 && point.findings.is_empty(), "{point:?}");
    }
}

#[test]
fn what_is_said_of_a_reader_needs_one() {
    let run = |more: &[&str]| {
        let shop = Shop::new();
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_standpipe"));
        command.arg("serve").arg(shop.jobs()).arg("--shop").arg(shop.path().join("workshop/shop.yaml")).args(more);
        let output = command.output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let (code, says) = run(&["--as", "reader"]);
    assert!(code == Some(2) && says.contains("there is none"), "{says}");
    let (code, says) = run(&["--reader", "-"]);
    assert!(code == Some(2) && says.contains("a file that grows"), "{says}");
}
