//! The book of the workshop with its lines made here and not by the program, as somebody could who knows how.

use std::fs;
use std::path::Path;

use super::bench::Act;
use crate::audit::bench::sha256;

/// Of the jobs' begin, before anything was done.
const BEGUN: &str = "2026-11-24T07:00:00+01:00";

/// A value of a line that is a text, exchanged.
fn with(line: &str, key: &str, value: &str) -> String {
    let start = line.find(&format!("\"{key}\":\"")).unwrap() + key.len() + 4;
    let end = start + line[start..].find('"').unwrap();
    format!("{}{value}{}", &line[..start], &line[end..])
}

pub fn lines(jobs: &Path) -> Vec<String> {
    fs::read_to_string(jobs.join("book.jsonl")).unwrap().lines().map(str::to_owned).collect()
}

/// Writes a book of these lines, numbered and with hashes that fit. Returns the hash of the last.
pub fn write(jobs: &Path, lines: &[String]) -> String {
    let (mut prev, mut text) = (String::new(), String::new());
    for (index, line) in lines.iter().enumerate() {
        let line = with(line, "prev", &prev);
        let number = line.find("\"seq\":").unwrap() + "\"seq\":".len();
        let behind = number + line[number..].find(',').unwrap();
        let line = format!("{}{}{}", &line[..number], index + 1, &line[behind..]);
        prev = sha256(line.as_bytes());
        text.push_str(&line);
        text.push('\n');
    }
    fs::write(jobs.join("book.jsonl"), text).unwrap();
    prev
}

/// The same book, begun on the morning of the job whatever day it is.
pub fn begin(jobs: &Path) -> String {
    let mut lines = lines(jobs);
    lines[0] = with(&lines[0], "at", BEGUN);
    write(jobs, &lines)
}

/// A line for the signature of an act as it lies there.
pub fn entry(job: &Path, act: &Act, at: &str, late: bool) -> String {
    let text = act.text(job);
    let part = |start: &str| text.lines().find_map(|line| line.strip_prefix(start)).unwrap().to_owned();
    let (id, head, file) = (part("job: "), part("hash: "), sha256(&fs::read(act.file(job)).unwrap()));
    let folder = job.file_name().unwrap().to_str().unwrap();
    let (of, word, late) = (act.line, &act.act, if late { ",\"late\":true" } else { "" });
    format!(
        "{{\"format\":2,\"prev\":\"\",\"seq\":0,\"what\":\"signed\",\"job\":{id},\"folder\":\"{folder}\",\"of\":{of},\"head\":\"{head}\",\
         \"at\":\"{at}\"{late},\"signature\":{{\"act\":\"{word}\",\"file\":\"{file}\"}}}}"
    )
}

/// Enters the signature of an act at the book's end.
pub fn enter(jobs: &Path, job: &Path, act: &Act, at: &str, late: bool) -> String {
    let mut all = lines(jobs);
    all.push(entry(job, act, at, late));
    write(jobs, &all)
}

/// Takes lines of signatures out again.
pub fn leave_out(jobs: &Path, is_out: impl Fn(&str) -> bool) -> String {
    let mut all = lines(jobs);
    all.retain(|line| !(line.contains("\"what\":\"signed\"") && is_out(line)));
    write(jobs, &all)
}

/// What an authority would answer, without its signature: a stamp of the line that is the last one now (RFC 3161, 2.4.2).
pub fn stamp(jobs: &Path, time: &str) {
    let element = |kind: u8, content: &[u8]| {
        let length = [0x82, (content.len() >> 8) as u8, content.len() as u8];
        [&[kind], &length[..], content].concat()
    };
    let all = |kind: u8, parts: &[Vec<u8>]| element(kind, &parts.concat());
    let hash = sha256(lines(jobs).last().unwrap().as_bytes());
    let bytes: Vec<u8> = (0..32).map(|at| u8::from_str_radix(&hash[2 * at..2 * at + 2], 16).unwrap()).collect();
    let sha_256 = element(6, &[0x60, 0x86, 0x48, 0x01, 0x65, 0x03, 0x04, 0x02, 0x01]);
    let imprint = all(0x30, &[all(0x30, &[sha_256]), element(4, &bytes)]);
    let number = |number: u8| element(2, &[number]);
    let info = all(0x30, &[number(1), element(6, &[0x2a, 3]), imprint, number(9), element(0x18, time.as_bytes())]);
    let tst_info = element(6, &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x09, 0x10, 0x01, 0x04]);
    let content = all(0x30, &[tst_info, element(0xa0, &element(4, &info))]);
    let signed = all(0x30, &[number(3), element(0x31, &[]), content]);
    let signed_data = element(6, &[0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x07, 0x02]);
    let token = all(0x30, &[signed_data, element(0xa0, &signed)]);
    let answer = all(0x30, &[all(0x30, &[number(0)]), token]);
    fs::create_dir_all(jobs.join("book-stamps")).unwrap();
    fs::write(jobs.join(format!("book-stamps/{hash}.tsr")), answer).unwrap();
}
