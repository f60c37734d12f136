//! Bytes to text: which encoding it is, told from the beginning.

use encoding_rs::{Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    Utf8,
    Utf16Le,
    Utf16Be,
    /// As browsers read it: with the signs of Windows in the gap.
    Latin1,
}

impl Encoding {
    pub fn words(self) -> &'static str {
        match self {
            Encoding::Utf8 => "UTF-8",
            Encoding::Utf16Le => "UTF-16 LE",
            Encoding::Utf16Be => "UTF-16 BE",
            Encoding::Latin1 => "Latin-1",
        }
    }

    pub fn parse(text: &str) -> Option<Self> {
        match text.to_lowercase().replace([' ', '_'], "-").as_str() {
            "utf-8" | "utf8" => Some(Encoding::Utf8),
            "utf-16-le" | "utf-16le" | "utf16le" => Some(Encoding::Utf16Le),
            "utf-16-be" | "utf-16be" | "utf16be" => Some(Encoding::Utf16Be),
            "latin-1" | "latin1" | "iso-8859-1" | "windows-1252" => Some(Encoding::Latin1),
            _ => None,
        }
    }

    /// The encoding, and how many bytes of a mark stand before the text.
    pub(super) fn sniff(head: &[u8]) -> (Self, usize) {
        match head {
            [0xEF, 0xBB, 0xBF, ..] => return (Encoding::Utf8, 3),
            [0xFF, 0xFE, ..] => return (Encoding::Utf16Le, 2),
            [0xFE, 0xFF, ..] => return (Encoding::Utf16Be, 2),
            _ => {}
        }
        // Digits and signs of a log are one byte and a zero in UTF-16.
        let pairs = (head.len() / 2).max(1);
        let zeros = |from: usize| head.iter().skip(from).step_by(2).filter(|byte| **byte == 0).count();
        if zeros(1) * 2 > pairs {
            return (Encoding::Utf16Le, 0);
        }
        if zeros(0) * 2 > pairs {
            return (Encoding::Utf16Be, 0);
        }
        match std::str::from_utf8(head) {
            // Cut within a letter at the end of what has come so far.
            Err(fault) if fault.error_len().is_some() => (Encoding::Latin1, 0),
            _ => (Encoding::Utf8, 0),
        }
    }

    /// What turns chunks into UTF-8; none where bytes can be read as they are, cell by cell.
    pub(super) fn decoder(self) -> Option<Decoder> {
        match self {
            Encoding::Utf16Le => Some(UTF_16LE.new_decoder_without_bom_handling()),
            Encoding::Utf16Be => Some(UTF_16BE.new_decoder_without_bom_handling()),
            Encoding::Utf8 | Encoding::Latin1 => None,
        }
    }

    /// The text of one cell.
    pub(super) fn text(self, cell: &[u8]) -> String {
        // A file whose first strange letter came late was taken for UTF-8.
        match std::str::from_utf8(cell) {
            Ok(text) if self != Encoding::Latin1 => text.to_owned(),
            _ => WINDOWS_1252.decode_without_bom_handling(cell).0.into_owned(),
        }
    }
}

/// The beginning of a file as text, to point at a line of it.
pub fn head_text(head: &[u8]) -> String {
    let (encoding, mark) = Encoding::sniff(head);
    let body = &head[mark..];
    match encoding.decoder() {
        None => encoding.text(body),
        Some(mut decoder) => {
            let mut text = Vec::new();
            decode(&mut decoder, body, true, &mut text);
            String::from_utf8_lossy(&text).into_owned()
        }
    }
}

/// Appends what a chunk means.
pub(super) fn decode(decoder: &mut Decoder, chunk: &[u8], last: bool, into: &mut Vec<u8>) {
    let room = decoder.max_utf8_buffer_length(chunk.len()).unwrap_or(chunk.len() * 3 + 16);
    let start = into.len();
    into.resize(start + room, 0);
    let (_, _, written, _) = decoder.decode_to_utf8(chunk, &mut into[start..], last);
    into.truncate(start + written);
}
