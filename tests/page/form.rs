//! A device without scripts: it reads pages and sends their forms.

use crate::http::{Answer, encoded, send};
use crate::server::Server;

pub struct Device {
    pub address: String,
    cookie: String,
}

impl Device {
    /// Lets a device in with a code; `person`: whose it is, where the code does not say so.
    pub fn pair(address: &str, code: &str, person: Option<&str>) -> Self {
        let mut fields = vec![("code", code)];
        fields.extend(person.map(|person| ("person", person)));
        let answer = post(address, "/pair", "", &fields);
        assert_eq!(answer.status, 303, "{}", answer.text);
        let cookie = answer.header("set-cookie").unwrap().split(';').next().unwrap().to_owned();
        Self { address: address.to_owned(), cookie }
    }

    /// The first, at the console.
    pub fn first(server: &Server, person: &str) -> Self {
        Self::pair(&server.address, &server.code(), Some(person))
    }

    /// Another device, let in from this one: a person's own, or one that several use.
    pub fn let_in(&self, whose: &str) -> Self {
        Self::pair(&self.address, &self.code_for(whose), None)
    }

    /// A code for one.
    pub fn code_for(&self, whose: &str) -> String {
        let answer = self.post("/devices", &[("for", whose)]);
        let code = between(&answer.text, "<p class=\"big\">", "</p>").unwrap_or_else(|| panic!("{}", answer.text));
        code.to_owned()
    }

    /// The same device at another server.
    pub fn at(self, address: &str) -> Self {
        Self { address: address.to_owned(), ..self }
    }

    pub fn get(&self, path: &str) -> Answer {
        send(&self.address, "GET", path, &[("Cookie", &self.cookie)], b"").unwrap()
    }

    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        post(&self.address, path, &self.cookie, fields)
    }

    /// What the page of a job says.
    pub fn page(&self, job: &str) -> String {
        self.get(&format!("/job/{job}")).text
    }

    /// Sends a form of the page as it stands: what is wanted, with what the page says it was made on.
    pub fn say(&self, job: &str, what: &str, fields: &[(&str, &str)]) -> Answer {
        let page = self.page(job);
        self.say_on(&page, job, what, fields)
    }

    /// The same on a page that was read before.
    pub fn say_on(&self, page: &str, job: &str, what: &str, fields: &[(&str, &str)]) -> Answer {
        let id = value(page, "id").unwrap_or_else(|| panic!("no form on the page: {page}"));
        let mut all = vec![("what", what), ("id", id)];
        if let (Some(asks), Some(since)) = (value(page, "asks"), value(page, "since")) {
            all.extend([("asks", asks), ("since", since)]);
        }
        // Items of a pass have a slash in their address, which stands on the page as HTML escapes it.
        let all: Vec<(&str, String)> = all.iter().map(|(name, value)| (*name, value.replace("&#x2f;", "/"))).collect();
        let mut all: Vec<(&str, &str)> = all.iter().map(|(name, value)| (*name, value.as_str())).collect();
        all.extend_from_slice(fields);
        self.post(&format!("/job/{job}/in"), &all)
    }

    /// The same, which is kept.
    pub fn keeps(&self, job: &str, what: &str, fields: &[(&str, &str)]) {
        let answer = self.say(job, what, fields);
        assert_eq!(answer.status, 303, "{what} {fields:?}: {}", words(&answer.text));
    }

    /// Attaches a photo to what is asked.
    pub fn photo(&self, job: &str, bytes: &[u8]) -> Answer {
        let page = self.page(job);
        let asks = value(&page, "asks").unwrap_or_default();
        let mut body = format!(
            "--line\r\nContent-Disposition: form-data; name=\"asks\"\r\n\r\n{asks}\r\n--line\r\nContent-Disposition: \
             form-data; name=\"photo\"; filename=\"../../a.png\"\r\nContent-Type: image/png\r\n\r\n"
        )
        .into_bytes();
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n--line--\r\n");
        let origin = format!("http://{}", self.address);
        let headers = [
            ("Cookie", self.cookie.as_str()),
            ("Origin", &origin),
            ("Content-Type", "multipart/form-data; boundary=line"),
        ];
        send(&self.address, "POST", &format!("/job/{job}/photo"), &headers, &body).unwrap()
    }

    pub fn cookie(&self) -> &str {
        &self.cookie
    }
}

pub fn post(address: &str, path: &str, cookie: &str, fields: &[(&str, &str)]) -> Answer {
    let origin = format!("http://{address}");
    let headers = [("Cookie", cookie), ("Origin", &origin), ("Content-Type", "application/x-www-form-urlencoded")];
    send(address, "POST", path, &headers, encoded(fields).as_bytes()).unwrap()
}

/// The value of the first hidden field of a name.
pub fn value<'a>(page: &'a str, name: &str) -> Option<&'a str> {
    between(page, &format!("name=\"{name}\" value=\""), "\"")
}

pub fn between<'a>(text: &'a str, before: &str, after: &str) -> Option<&'a str> {
    text.split_once(before)?.1.split_once(after).map(|(inside, _)| inside)
}

/// A page without its tags.
pub fn words(page: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for c in page.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                text.push(' ');
            }
            c if !inside => text.push(c),
            _ => {}
        }
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
