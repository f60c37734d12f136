//! Whoever has no business here: refused, logged, and nothing written.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use crate::form::{Device, between, post, words};
use crate::http::{encoded, send};
use crate::server::{Server, Shop};

const JOB: &str = "heron-estate";

fn bay() -> (Shop, Server, Device) {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let office = Device::first(&server, "marek");
    office.keeps(JOB, "take", &[]);
    (shop, server, office)
}

fn journal(shop: &Shop) -> Vec<u8> {
    std::fs::read(shop.jobs().join(format!("{JOB}.job/journal.jsonl"))).unwrap()
}

#[test]
fn without_a_cookie_or_with_another_nothing_is_shown_and_nothing_taken() {
    let (shop, server, _office) = bay();
    let before = journal(&shop);
    let note = [("what", "note"), ("text", "hello"), ("id", "000102030405060708090a0b0c0d0e0f")];
    for cookie in ["", "standpipe=0", "standpipe=ffffffffffffffffffffffffffffffff", "other=1; standpipe="] {
        for path in
            ["/", "/live", "/devices", "/job/heron-estate", "/job/heron-estate/record", "/job/heron-estate/live"]
        {
            let answer = send(&server.address, "GET", path, &[("Cookie", cookie)], b"").unwrap();
            assert_eq!(answer.status, 401, "{path}");
            assert!(!answer.text.contains("heron"), "{path}");
        }
        assert_eq!(post(&server.address, "/job/heron-estate/in", cookie, &note).status, 401);
    }
    assert_eq!(journal(&shop), before);
}

#[test]
fn a_foreign_host_or_origin_is_refused() {
    let (shop, server, office) = bay();
    let before = journal(&shop);
    let host = [("Host", "evil.example"), ("Cookie", office.cookie())];
    assert_eq!(send(&server.address, "GET", "/", &host, b"").unwrap().status, 421);
    let body = encoded(&[("what", "note"), ("text", "hello"), ("id", "000102030405060708090a0b0c0d0e0f")]);
    for origin in [None, Some("http://evil.example"), Some("null"), Some("https://localhost")] {
        let mut headers = vec![("Cookie", office.cookie())];
        headers.extend(origin.map(|origin| ("Origin", origin)));
        let answer = send(&server.address, "POST", "/job/heron-estate/in", &headers, body.as_bytes()).unwrap();
        assert_eq!(answer.status, 403, "{origin:?}");
    }
    server.says("the form comes from another page");
    assert_eq!(journal(&shop), before);
}

#[test]
fn no_address_leads_out_of_the_folder() {
    let (shop, _server, office) = bay();
    let hash = "0".repeat(64);
    for path in [
        "/job/..",
        "/job/../../etc/passwd",
        "/job/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/job/heron-estate/../../devices.json",
        "/devices.json",
        "/jobs/devices.json",
        "/job/heron-estate/photo/..%2f..%2fjournal.jsonl",
        "/job/heron-estate.job",
        &format!("/job/heron-estate/photo/{hash}"),
        "/job/heron-estate/plan.json",
        "//etc/passwd",
        "/job/%00",
    ] {
        let answer = office.get(path);
        assert!(matches!(answer.status, 400 | 404), "{path}: {}", answer.status);
        assert!(!answer.text.contains("root:") && !answer.text.contains("hash"), "{path}");
    }
    // A link is no job, wherever it leads.
    #[cfg(unix)]
    {
        let outside = tempfile::TempDir::new().unwrap();
        std::fs::write(outside.path().join("other.yaml"), "job: other\nfamily: heron\nprocedure: x\n").unwrap();
        std::os::unix::fs::symlink(outside.path(), shop.jobs().join("outside")).unwrap();
        std::os::unix::fs::symlink(outside.path().join("other.yaml"), shop.jobs().join("other.yaml")).unwrap();
        assert!(!words(&office.get("/").text).contains("other"));
        assert_eq!(office.get("/job/other").status, 404);
    }
}

#[test]
fn what_is_too_much_or_too_slow_is_cut_off() {
    let (shop, server, office) = bay();
    let before = journal(&shop);
    let huge = vec![b'x'; 10 << 20];
    let origin = format!("http://{}", server.address);
    let headers = [("Cookie", office.cookie()), ("Origin", &origin)];
    // Either an answer that says so, or a connection that is closed while it is still sent.
    let answer = send(&server.address, "POST", "/job/heron-estate/in", &headers, &huge);
    assert!(answer.is_err() || answer.is_ok_and(|answer| answer.status == 413));
    let mut long = TcpStream::connect(&server.address).unwrap();
    let _ = long.write_all(
        format!("GET / HTTP/1.1\r\nHost: {}\r\nX: {}\r\n\r\n", server.address, "y".repeat(64 << 10)).as_bytes(),
    );
    let mut text = String::new();
    let _ = long.read_to_string(&mut text);
    assert!(!text.starts_with("HTTP/1.1 200"), "{text}");
    let mut slow = TcpStream::connect(&server.address).unwrap();
    slow.write_all(b"GET / HTTP/1.1\r\n").unwrap();
    let begun = Instant::now();
    slow.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let mut text = Vec::new();
    let _ = slow.read_to_end(&mut text);
    assert!(begun.elapsed() < Duration::from_secs(20), "a head that never ends is not waited for");
    assert_eq!(journal(&shop), before);
    assert_eq!(office.get("/").status, 200, "others are served all the same");
}

#[test]
fn a_thousand_guesses_do_not_let_anybody_in() {
    let shop = Shop::new();
    let server = shop.serve(0, true);
    let code = server.code();
    let mut tried = 0;
    for guess in 0..1000 {
        let answer = post(&server.address, "/pair", "", &[("code", &format!("{guess:08}")), ("person", "marek")]);
        assert!(matches!(answer.status, 403 | 429), "{}", answer.status);
        tried += u32::from(answer.status == 403);
    }
    assert_eq!(tried, 5, "after a few wrong ones none is looked at any more");
    assert_eq!(post(&server.address, "/pair", "", &[("code", &code), ("person", "marek")]).status, 429);
    assert!(!shop.jobs().join("devices.json").exists());
}

#[test]
fn what_was_entered_is_text_on_every_page() {
    let (_shop, _server, office) = bay();
    let script = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>";
    office.keeps(JOB, "note", &[("text", script)]);
    for path in ["/", "/job/heron-estate", "/job/heron-estate/record", "/job/heron-estate/audit"] {
        let answer = office.get(path);
        assert_eq!(answer.status, 200, "{path}");
        assert!(!answer.text.contains("<script>alert") && !answer.text.contains("<img src=x"), "{path}");
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
    }
    assert!(office.page(JOB).contains("&lt;script&gt;"));
}

#[test]
fn only_pictures_are_photos() {
    let (shop, _server, office) = bay();
    let before = journal(&shop);
    for bytes in [&b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>"[..], b"%PDF-1.7", b"GIF89a", b""] {
        let answer = office.photo(JOB, bytes);
        assert_eq!(answer.status, 415, "{}", words(&answer.text));
    }
    assert_eq!(journal(&shop), before);
    let page = std::fs::read(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/photos/tag.png")).unwrap();
    assert_eq!(office.photo(JOB, &page).status, 303);
    assert!(between(&office.page(JOB), "<main", "</main>").is_some());
}

/// Also where something is wrong, or is looked for in vain.
#[test]
fn no_page_says_where_on_the_server_anything_lies() {
    let (shop, _server, office) = bay();
    let file = shop.jobs().join("heron-estate.yaml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(shop.jobs().join("misspelt.yaml"), text.replace("family: heron", "family: heronn")).unwrap();
    std::fs::write(shop.jobs().join("no-job.yaml"), "job: 7\nfamily: [\n").unwrap();
    let own = shop.path().display().to_string();
    let papers = ["/job/heron-estate", "/job/heron-estate/card", "/job/heron-estate/record", "/job/heron-estate/audit"];
    let others =
        ["/job/misspelt", "/job/misspelt/card", "/job/no-job/card", "/job/nothing/record", "/devices", "/new", "/"];
    for path in papers.into_iter().chain(others) {
        let answer = office.get(path);
        // As templates write it.
        let text = answer.text.replace("&#x2f;", "/");
        assert!(!text.contains(&own), "{path}: {}", words(&text));
    }
    let card = words(&office.get("/job/heron-estate/card").text);
    assert!(card.contains("below jobs"), "it says which jobs it looked at: {card}");
}
