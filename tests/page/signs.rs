//! What somebody did is signed by a key of their own device: made in the browser, taken by the server, shown by an audit, and read
//! by OpenSSH. What is none, or not theirs, is not kept.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::{Value as Json, json};

use crate::by_taps::{driver, let_in};
use crate::form::{Device, between, words};
use crate::server::Shop;

const JOB: &str = "heron-estate";
const ACT: &str = "act@standpipe";
const NO_OPENSSH: &str = "NOT CHECKED: no ssh-keygen, so what a page takes of it is not shown";

/// A shop that wants the work signed, with a job that is done.
fn shop() -> Shop {
    let shop = Shop::new();
    let file = shop.path().join("workshop/shop.yaml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{text}by_key: [sign, close]\n")).unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let ran = standpipe(&[
        "run".as_ref(),
        shop.jobs().join("heron-estate.yaml").as_ref(),
        "--shop".as_ref(),
        file.as_ref(),
        "--answers".as_ref(),
        root.join("examples/answers/heron-estate.yaml").as_ref(),
        "--journal".as_ref(),
        shop.jobs().join(JOB).as_ref(),
    ]);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    shop
}

fn standpipe(arguments: &[&Path]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_standpipe")).args(arguments).output().unwrap()
}

/// How many acts of a person are shown by a list of signers, and how many are not.
fn shown(job: &Path, signers: &str, person: &str) -> (usize, usize) {
    let list = job.join("../signers");
    fs::write(&list, format!("{signers}\n")).unwrap();
    let output = standpipe(&["audit".as_ref(), job, "--signers".as_ref(), &list, "--format".as_ref(), "json".as_ref()]);
    let found: Json = serde_json::from_slice(&output.stdout).unwrap();
    let acts = found["journals"][0]["signed"].as_array().unwrap_or_else(|| panic!("{found}"));
    let of: Vec<&Json> = acts.iter().filter(|act| act["by"] == person).collect();
    let signed = of.iter().filter(|act| act["standing"] == "signed").count();
    (signed, of.len() - signed)
}

fn keygen() -> bool {
    let found = Command::new("ssh-keygen").arg("-?").output().is_ok();
    if !found {
        assert!(std::env::var_os("STANDPIPE_OPENSSH_NEEDED").is_none(), "{NO_OPENSSH}");
        eprintln!("{NO_OPENSSH}");
    }
    found
}

struct Key(PathBuf);

impl Key {
    fn new(folder: &Path, person: &str) -> Self {
        let file = folder.join(person);
        let made = Command::new("ssh-keygen").args(["-q", "-N", "", "-t", "ed25519", "-f"]).arg(&file).status();
        assert!(made.unwrap().success());
        Self(file)
    }

    /// The text with its signature, as a page sends it.
    fn sign(&self, text: &str, namespace: &str) -> String {
        use std::io::Write;
        let mut command = Command::new("ssh-keygen");
        command.args(["-Y", "sign", "-n", namespace, "-f"]).arg(&self.0).stderr(Stdio::null());
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
        format!("{text}{}", String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap())
    }

    fn public(&self) -> String {
        fs::read_to_string(self.0.with_extension("pub")).unwrap().trim().to_owned()
    }
}

/// The texts that a page asks to be signed.
fn texts(page: &str) -> Vec<String> {
    let plain = |text: &str| text.replace("&quot;", "\"").replace("&#x2f;", "/").replace("&amp;", "&");
    let parts = page.split("<pre class=\"signed\">").skip(1);
    parts.map(|part| plain(part.split_once("</pre>").unwrap().0)).collect()
}

#[test]
fn a_signature_is_taken_for_what_one_did_from_ones_own_device_and_once() {
    if !keygen() {
        return;
    }
    let shop = shop();
    let server = shop.serve(0, true);
    let marek = Device::first(&server, "marek");
    let (jo, shared) = (marek.let_in("jo"), marek.let_in("shared"));
    let path = format!("/job/{JOB}/sign");
    let key = Key::new(shop.path(), "marek");
    assert!(words(&marek.page(JOB)).contains("The shop wants 2 acts of yours signed by key"), "{}", marek.page(JOB));
    assert!(!words(&jo.page(JOB)).contains("signed by key"), "who looked on is not asked for a key here");
    let page = marek.get(&path).text;
    let all = texts(&page);
    assert_eq!(all.len(), 2, "{page}");
    assert!(all.iter().all(|text| text.contains("\nby: \"marek\"\n")), "{all:?}");

    let refused = |device: &Device, sent: &str, status: u16, why: &str| {
        let answer = device.post(&path, &[("signed", sent)]);
        let says = words(&answer.text);
        assert!(answer.status == status && says.contains(why), "{status} {why}: {} {says}", answer.status);
        assert!(!shop.jobs().join(JOB).join("signatures").exists(), "nothing is kept: {why}");
    };
    let signed = key.sign(&all[0], ACT);
    refused(&shared, &signed, 403, "a device of your own");
    refused(&jo, &signed, 422, "nothing that you did here");
    refused(&marek, &key.sign(&all[0], "file"), 422, "does not hold");
    refused(&marek, &key.sign(&all[0].replace("\"marek\"", "\"jo\""), ACT), 422, "nothing that you did here");
    refused(&marek, &key.sign(&all[0].replace("act: ", "act: accept"), ACT), 422, "nothing that you did here");
    refused(&marek, &signed.replacen(JOB, "heron-van", 1).replacen("2026-1103", "2026-1101", 1), 422, "nothing that");
    let at = between(&all[0], "\nat: ", "\n").unwrap();
    refused(&marek, &key.sign(&all[0].replace(at, "2026-11-29T08:00:00+00:00"), ACT), 422, "too long ago");
    refused(&marek, &all[0], 422, "it has no signature");
    refused(&marek, "<script>", 422, "it has no signature");

    let answer = marek.post(&path, &[("signed", &signed), ("signed", &key.sign(&all[1], ACT))]);
    assert_eq!(answer.status, 303, "{}", words(&answer.text));
    assert!(words(&marek.get(&path).text).contains("Nothing that Marek T. did here waits"));
    assert!(!words(&marek.page(JOB)).contains("The shop wants"));
    let again = marek.post(&path, &[("signed", &signed)]);
    assert!(again.status == 422 && words(&again.text).contains("not signed yet"), "{}", words(&again.text));
    let job = shop.jobs().join(JOB);
    assert_eq!(shown(&job, &format!("marek {}", key.public()), "marek"), (2, 0));
    assert_eq!(shown(&job, &format!("jo {}", key.public()), "marek"), (0, 2));
}

#[test]
fn a_key_is_made_in_the_browser_stays_there_and_signs_what_openssh_takes() {
    let Some(driver) = driver() else { return };
    let shop = shop();
    let server = shop.serve(0, true);
    let marek = let_in(&driver, &server.address, &server.code(), Some("marek"));
    marek.go(&format!("/job/{JOB}"));
    marek.tap("main a[href$='/sign']");
    marek.sees("There is none yet");
    assert_eq!(marek.run("return document.getElementById('sign').disabled", json!([])), json!(true));
    marek.tap("#make");
    marek.sees("ssh-ed25519");
    assert!(!marek.text().contains("Make a key"), "one is enough: {}", marek.text());
    let line = marek.run("return document.getElementById('line').textContent", json!([]));
    let line = line.as_str().unwrap().to_owned();
    assert!(line.starts_with(&format!("marek namespaces=\"{ACT}\" ssh-ed25519 AAAA")), "{line}");
    marek.run(
        "window.out = 'not yet';
         const opening = indexedDB.open('standpipe', 1);
         opening.onsuccess = () => {
             const asked = opening.result.transaction('keys').objectStore('keys').get('marek');
             asked.onsuccess = () => Promise.all(['pkcs8', 'jwk', 'raw'].map((form) =>
                 crypto.subtle.exportKey(form, asked.result.privateKey).then(() => 'out', () => 'stays')))
                 .then((all) => { window.out = all.join(' ') });
         };",
        json!([]),
    );
    marek.patiently("try to take the key out", || match marek.run("return window.out", json!([])).as_str() {
        Some("stays stays stays") => Ok(()),
        other => Err(format!("{other:?}")),
    });
    // It is there after a reload, and signs.
    marek.go(&format!("/job/{JOB}/sign"));
    marek.sees("ssh-ed25519");
    assert_eq!(marek.run("return document.getElementById('line').textContent", json!([])), json!(line));
    marek.tap("#sign");
    marek.sees("Nothing that Marek T. did here waits");
    assert!(!marek.text().contains("Sign all"), "{}", marek.text());
    let job = shop.jobs().join(JOB);
    assert_eq!(shown(&job, &line, "marek"), (2, 0));
    if !keygen() {
        return;
    }
    let list = shop.jobs().join("signers");
    for file in fs::read_dir(job.join("signatures")).unwrap() {
        let text = fs::read_to_string(file.unwrap().path()).unwrap();
        let (said, armour) = text.split_at(text.find("-----BEGIN").unwrap());
        let (signature, message) = (shop.path().join("signature"), shop.path().join("message"));
        fs::write(&signature, armour).unwrap();
        for (said, takes) in [(said.to_owned(), true), (said.replace("marek", "jo"), false)] {
            fs::write(&message, said).unwrap();
            let mut command = Command::new("ssh-keygen");
            command.args(["-Y", "verify", "-n", ACT, "-I", "marek", "-f"]).arg(&list).arg("-s").arg(&signature);
            let status = command
                .stdin(fs::File::open(&message).unwrap())
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .unwrap();
            assert_eq!(status.success(), takes);
        }
    }
}

#[test]
fn where_a_browser_makes_no_keys_the_page_says_what_would() {
    let Some(driver) = driver() else { return };
    let shop = shop();
    let server = shop.serve(0, true);
    let marek = let_in(&driver, &server.address, &server.code(), Some("marek"));
    // As a phone has it that comes by address without TLS.
    let source = "Object.defineProperty(window, 'isSecureContext', { value: false })";
    marek.tell("Page.addScriptToEvaluateOnNewDocument", json!({ "source": source }));
    marek.go(&format!("/job/{JOB}/sign"));
    marek.sees("start the server with --tls");
    assert!(!marek.text().contains("Make a key"));
}
