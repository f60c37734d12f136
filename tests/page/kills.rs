//! The plug is pulled while a device enters: nothing that was acknowledged is lost, nothing is entered twice.
//! `STANDPIPE_KILLS=300` does it more often.

use std::time::Duration;

use crate::form::{Device, post, value};
use crate::server::Shop;

const JOB: &str = "heron-estate";

#[test]
fn what_was_acknowledged_outlives_a_kill_and_counts_once() {
    let kills: u64 = std::env::var("STANDPIPE_KILLS").ok().and_then(|kills| kills.parse().ok()).unwrap_or(10);
    let shop = Shop::new();
    let mut server = shop.serve(0, true);
    let mut device = Device::first(&server, "rita");
    let (mut acknowledged, mut unsure) = (Vec::new(), Vec::new());
    for kill in 0..kills {
        // Whoever comes back looks first, and goes on.
        device.keeps(JOB, "take", &[]);
        let page = device.page(JOB);
        let (address, cookie) = (device.address.clone(), device.cookie().to_owned());
        let sender = std::thread::spawn(move || {
            let (mut kept, mut unsure) = (Vec::new(), Vec::new());
            for number in 0..10_000u64 {
                let id = format!("{kill:016x}{number:016x}");
                let text = format!("note {kill} {number}");
                let fields = [("what", "note"), ("id", id.as_str()), ("text", text.as_str())];
                let origin = format!("http://{address}");
                let headers = [("Cookie", cookie.as_str()), ("Origin", &origin)];
                let body = crate::http::encoded(&fields);
                let answer = crate::http::send(&address, "POST", &format!("/job/{JOB}/in"), &headers, body.as_bytes());
                match answer {
                    Ok(answer) if answer.status == 303 => kept.push((id, text)),
                    _ => {
                        unsure.push((id, text));
                        break;
                    }
                }
            }
            (kept, unsure)
        });
        assert!(value(&page, "id").is_some());
        // Somewhere between the first entry and many; another moment each time, the same in each run.
        std::thread::sleep(Duration::from_millis(20 + kill * 7919 % 230));
        server.kill();
        let (kept, open) = sender.join().unwrap();
        acknowledged.extend(kept);
        server = shop.serve(0, false);
        device = device.at(&server.address);
        device.keeps(JOB, "take", &[]);
        // What got no answer is sent again, under its id.
        for (id, text) in &open {
            let fields = [("what", "note"), ("id", id.as_str()), ("text", text.as_str())];
            assert_eq!(post(&device.address, &format!("/job/{JOB}/in"), device.cookie(), &fields).status, 303);
        }
        unsure.extend(open);
    }
    let journal = crate::folders::journal(&shop.jobs().join(format!("{JOB}.job")));
    let times = |text: &str| journal.matches(&format!("\"text\":\"{text}\"")).count();
    assert!(acknowledged.len() > kills as usize, "{} notes were kept before {kills} kills", acknowledged.len());
    for (_, text) in acknowledged.iter().chain(&unsure) {
        assert_eq!(times(text), 1, "{text}");
    }
    eprintln!("{kills} kills: {} acknowledged, {} without an answer", acknowledged.len(), unsure.len());
}
