//! As little of HTTP/1.1 as it takes to talk to the program and to a browser's driver, byte for byte.

use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub text: String,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, value)| value.as_str())
    }
}

/// One request on a connection of its own.
pub fn send(address: &str, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> io::Result<Answer> {
    let mut stream = TcpStream::connect(address)?;
    stream.set_read_timeout(Some(Duration::from_secs(60)))?;
    send_on(&mut stream, address, method, path, headers, body)
}

/// The same on a connection that is there.
pub fn send_on(
    stream: &mut (impl Read + Write),
    address: &str,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: &[u8],
) -> io::Result<Answer> {
    let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n", body.len());
    if !headers.iter().any(|(name, _)| *name == "Host") {
        head.push_str(&format!("Host: {address}\r\n"));
    }
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    stream.write_all(head.as_bytes())?;
    stream.write_all(b"\r\n")?;
    // A server that has refused already may not read on.
    let _ = stream.write_all(body);
    let mut bytes = Vec::new();
    let mut some = [0; 16 << 10];
    // Some keep the connection open all the same: the length says where the answer ends.
    while !is_whole(&bytes) {
        match stream.read(&mut some) {
            Ok(0) => break,
            Ok(count) => bytes.extend_from_slice(&some[..count]),
            Err(fault) if bytes.is_empty() => return Err(fault),
            Err(_) => break,
        }
    }
    read(&bytes).ok_or_else(|| io::Error::new(io::ErrorKind::UnexpectedEof, "no whole answer"))
}

fn is_whole(bytes: &[u8]) -> bool {
    let length = |answer: &Answer| answer.header("content-length")?.parse::<usize>().ok();
    let Some(end) = bytes.windows(4).position(|four| four == b"\r\n\r\n") else { return false };
    read(bytes).as_ref().and_then(length).is_some_and(|length| bytes.len() >= end + 4 + length)
}

fn read(bytes: &[u8]) -> Option<Answer> {
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n")?;
    let head = String::from_utf8_lossy(&bytes[..end]);
    let mut lines = head.lines();
    let status = lines.next()?.split(' ').nth(1)?.parse().ok()?;
    let headers: Vec<(String, String)> =
        lines.filter_map(|line| line.split_once(':')).map(|(name, value)| (name.into(), value.trim().into())).collect();
    let chunked =
        headers.iter().any(|(name, value)| name.eq_ignore_ascii_case("transfer-encoding") && value == "chunked");
    let body = &bytes[end + 4..];
    let body = if chunked { whole(body) } else { body.to_vec() };
    Some(Answer { status, headers, text: String::from_utf8_lossy(&body).into_owned() })
}

fn whole(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    while let Some(line) = rest.windows(2).position(|two| two == b"\r\n") {
        let length = usize::from_str_radix(String::from_utf8_lossy(&rest[..line]).trim(), 16).unwrap_or(0);
        if length == 0 || rest.len() < line + 2 + length {
            break;
        }
        body.extend_from_slice(&rest[line + 2..line + 2 + length]);
        rest = &rest[(line + 4 + length).min(rest.len())..];
    }
    body
}

/// `application/x-www-form-urlencoded`.
pub fn encoded(fields: &[(&str, &str)]) -> String {
    let plain = |text: &str| {
        text.bytes().fold(String::new(), |mut out, byte| {
            match byte {
                b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => out.push(byte as char),
                _ => out.push_str(&format!("%{byte:02X}")),
            }
            out
        })
    };
    let pairs: Vec<String> = fields.iter().map(|(name, value)| format!("{}={}", plain(name), plain(value))).collect();
    pairs.join("&")
}
