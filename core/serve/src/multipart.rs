//! A form with a file in it, as browsers send it: RFC 7578. The body is whole by then, and bounded.

/// One field of the form.
#[derive(Debug, PartialEq, Eq)]
pub struct Part<'a> {
    pub name: String,
    /// The name of a file, where it is one.
    pub file: Option<String>,
    pub bytes: &'a [u8],
}

impl Part<'_> {
    /// As a field of an ordinary form.
    pub fn field(&self) -> (String, String) {
        (self.name.clone(), String::from_utf8_lossy(self.bytes).into_owned())
    }
}

/// More fields than any form of ours has.
const MOST: usize = 32;

/// The parts of a body; none where it is no such form, or breaks off.
pub fn read<'a>(kind: &str, body: &'a [u8]) -> Option<Vec<Part<'a>>> {
    let boundary = kind.strip_prefix("multipart/form-data")?.split_once("boundary=")?.1.trim().trim_matches('"');
    if boundary.is_empty() || boundary.len() > 70 {
        return None;
    }
    let line = [b"--", boundary.as_bytes()].concat();
    let between = [b"\r\n", line.as_slice()].concat();
    let mut rest = body.strip_prefix(line.as_slice())?;
    let mut parts = Vec::new();
    while let Some(part) = rest.strip_prefix(b"\r\n") {
        if parts.len() == MOST {
            return None;
        }
        let head_end = find(part, b"\r\n\r\n")?;
        let after = &part[head_end + 4..];
        let end = find(after, &between)?;
        let (name, file) = head(std::str::from_utf8(&part[..head_end]).ok()?)?;
        parts.push(Part { name, file, bytes: &after[..end] });
        rest = &after[end + between.len()..];
    }
    rest.starts_with(b"--").then_some(parts)
}

fn head(text: &str) -> Option<(String, Option<String>)> {
    let line = text.lines().find(|line| line.to_ascii_lowercase().starts_with("content-disposition:"))?;
    let value = |key: &str| {
        let (_, rest) = line.split_once(&format!("; {key}=\""))?;
        Some(rest.split_once('"')?.0.to_owned())
    };
    Some((value("name")?, value("filename")))
}

fn find(text: &[u8], wanted: &[u8]) -> Option<usize> {
    text.windows(wanted.len()).position(|window| window == wanted)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const KIND: &str = "multipart/form-data; boundary=xyz";

    #[test]
    fn fields_and_a_file_are_told_apart_and_bytes_stay_as_they_are() {
        let body = b"--xyz\r\nContent-Disposition: form-data; name=\"asks\"\r\n\r\ntag\r\n--xyz\r\nContent-Disposition: \
                     form-data; name=\"photo\"; filename=\"a.png\"\r\nContent-Type: image/png\r\n\r\n\x89P\r\n--x\0\r\n--xyz--\r\n";
        let parts = read(KIND, body).unwrap();
        assert_eq!(parts[0].field(), ("asks".to_owned(), "tag".to_owned()));
        assert_eq!(parts[1].file.as_deref(), Some("a.png"));
        assert_eq!(parts[1].bytes, b"\x89P\r\n--x\0");
    }

    #[test]
    fn what_breaks_off_or_is_something_else_is_no_form() {
        let body = b"--xyz\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\ntext";
        assert!(read(KIND, body).is_none());
        assert!(read("text/plain", b"--xyz--").is_none());
        assert!(read(KIND, b"").is_none());
        assert!(read(KIND, b"--xyz\r\nX: y\r\n\r\n1\r\n--xyz--").is_none());
    }
}
