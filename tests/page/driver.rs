//! A real browser, by the W3C's WebDriver protocol: <https://www.w3.org/TR/webdriver2/>.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value as Json, json};

use crate::http::send;

/// The driver, and the browsers that it started.
pub struct Driver {
    child: Child,
    address: String,
}

/// One window with cookies of its own.
pub struct Window<'a> {
    driver: &'a Driver,
    id: String,
    site: String,
}

impl Driver {
    /// None where no browser is installed that can be driven.
    pub fn start() -> Option<Self> {
        let mut child =
            Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn().ok()?;
        let mut lines = BufReader::new(child.stdout.take()?).lines().map_while(Result::ok);
        let port = lines.find_map(|line| {
            let port = line.split("on port ").nth(1)?.trim_end_matches('.');
            port.parse::<u16>().ok().filter(|port| *port != 0)
        });
        let Some(port) = port else {
            let _ = child.kill();
            return None;
        };
        // A driver that nobody listens to ends.
        std::thread::spawn(move || lines.for_each(drop));
        Some(Self { child, address: format!("127.0.0.1:{port}") })
    }

    /// A window as wide as a phone held upright.
    pub fn window(&self, site: &str, (width, height): (u32, u32)) -> Window<'_> {
        let args = json!([
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            format!("--window-size={width},{height}")
        ]);
        let wanted = json!({ "goog:chromeOptions": { "args": args }, "acceptInsecureCerts": true });
        let wanted = json!({ "capabilities": { "alwaysMatch": wanted } });
        let session = self.call("POST", "/session", &wanted).unwrap_or_else(|fault| panic!("no window: {fault}"));
        let window = Window {
            driver: self,
            id: session["sessionId"].as_str().unwrap().to_owned(),
            site: if site.contains("://") { site.to_owned() } else { format!("http://{site}") },
        };
        window.resize((width, height));
        window
    }

    fn call(&self, method: &str, path: &str, body: &Json) -> Result<Json, String> {
        let body = if method == "GET" { String::new() } else { body.to_string() };
        let headers = [("Content-Type", "application/json")];
        let answer = send(&self.address, method, path, &headers, body.as_bytes()).map_err(|fault| fault.to_string())?;
        let value: Json = serde_json::from_str(&answer.text).map_err(|fault| format!("{fault}: {}", answer.text))?;
        match answer.status {
            200 => Ok(value["value"].clone()),
            _ => Err(value["value"]["message"]
                .as_str()
                .unwrap_or_default()
                .lines()
                .next()
                .unwrap_or_default()
                .to_owned()),
        }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Window<'_> {
    fn call(&self, method: &str, path: &str, body: &Json) -> Result<Json, String> {
        self.driver.call(method, &format!("/session/{}{path}", self.id), body)
    }

    /// What the protocol has no words for, by the browser's own.
    pub fn tell(&self, command: &str, params: Json) {
        self.call("POST", "/goog/cdp/execute", &json!({ "cmd": command, "params": params })).unwrap();
    }

    /// A headless window is never as narrow as a phone: the page is told that it is.
    pub fn resize(&self, (width, height): (u32, u32)) {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": true });
        self.tell("Emulation.setDeviceMetricsOverride", size);
    }

    /// As when a phone's screen goes dark: the page is hidden, and nothing of it runs.
    pub fn sleep(&self) {
        self.tell("Page.setWebLifecycleState", json!({ "state": "frozen" }));
    }

    pub fn wake(&self) {
        self.tell("Page.setWebLifecycleState", json!({ "state": "active" }));
        // A browser shows a page again that was hidden where it comes to the front: another one has to be there for a moment.
        let ask = |method: &str, path: &str, body: Json| self.call(method, path, &body).unwrap();
        let page = ask("GET", "/window", Json::Null);
        let other = ask("POST", "/window/new", json!({ "type": "tab" }));
        ask("POST", "/window", json!({ "handle": other["handle"] }));
        ask("DELETE", "/window", json!({}));
        ask("POST", "/window", json!({ "handle": page }));
        self.tell("Page.bringToFront", json!({}));
    }

    pub fn dark(&self, dark: bool) {
        let scheme = json!({ "name": "prefers-color-scheme", "value": if dark { "dark" } else { "light" } });
        self.tell("Emulation.setEmulatedMedia", json!({ "features": [scheme] }));
    }

    pub fn go(&self, path: &str) {
        self.call("POST", "/url", &json!({ "url": format!("{}{path}", self.site) })).unwrap();
    }

    pub fn run(&self, script: &str, args: Json) -> Json {
        self.call("POST", "/execute/sync", &json!({ "script": script, "args": args })).unwrap()
    }

    fn find(&self, selector: &str) -> Result<String, String> {
        let found = self.call("POST", "/element", &json!({ "using": "css selector", "value": selector }))?;
        Ok(found.as_object().and_then(|it| it.values().next()?.as_str()).unwrap_or_default().to_owned())
    }

    pub fn has(&self, selector: &str) -> bool {
        self.find(selector).is_ok()
    }

    /// Taps what a selector finds, as soon as it is there and can be tapped.
    pub fn tap(&self, selector: &str) {
        self.patiently(&format!("tap {selector}"), || {
            let element = self.find(selector)?;
            self.call("POST", &format!("/element/{element}/click"), &json!({})).map(drop)
        });
    }

    pub fn write(&self, selector: &str, text: &str) {
        self.patiently(&format!("write into {selector}"), || {
            let element = self.find(selector)?;
            self.call("POST", &format!("/element/{element}/clear"), &json!({})).or_else(|fault| {
                if fault.contains("file") || fault.contains("edit") { Ok(Json::Null) } else { Err(fault) }
            })?;
            self.call("POST", &format!("/element/{element}/value"), &json!({ "text": text })).map(drop)
        });
    }

    /// Puts a file into the field for one.
    pub fn put_file(&self, selector: &str, path: &str) {
        self.patiently(&format!("put a file into {selector}"), || {
            let element = self.find(selector)?;
            self.call("POST", &format!("/element/{element}/value"), &json!({ "text": path })).map(drop)
        });
    }

    /// What the page says.
    pub fn text(&self) -> String {
        self.run("return document.body.innerText", json!([])).as_str().unwrap_or_default().to_owned()
    }

    /// Waits until the page says something.
    pub fn sees(&self, words: &str) {
        self.patiently(&format!("see `{words}`"), || match self.text().contains(words) {
            true => Ok(()),
            false => Err("it is not there".to_owned()),
        });
    }

    /// Tries for a while: pages change by themselves.
    pub fn patiently<T>(&self, what: &str, mut deed: impl FnMut() -> Result<T, String>) -> T {
        let begun = Instant::now();
        loop {
            match deed() {
                Ok(done) => return done,
                Err(fault) if begun.elapsed() > Duration::from_secs(15) => {
                    panic!("could not {what}: {fault}\n{}", self.text());
                }
                Err(_) => std::thread::sleep(Duration::from_millis(60)),
            }
        }
    }
}

impl Drop for Window<'_> {
    fn drop(&mut self) {
        // A driver that is killed leaves its browser.
        let _ = self.call("DELETE", "", &json!({}));
    }
}
