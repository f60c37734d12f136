//! Signatures of OpenSSH and the texts that they stand under: whatever bytes are changed, one that still holds says the same.

use standpipe::sign::{NAMESPACE, Signature, read};

/// Signed by the key of the corpus.
const MESSAGE: &[u8] = b"hello\n";
const KEPT: &str = include_str!("../corpus/signatures/hello");

pub fn run(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(signature) = Signature::read(&text) {
        let own = Signature::read(KEPT).unwrap();
        if signature.key == own.key && signature.holds(MESSAGE, NAMESPACE) {
            assert_eq!(signature, own, "another signature of the same holds");
        }
        assert!(!signature.holds(b"hello", NAMESPACE) && !signature.holds(MESSAGE, "file"), "{text}");
    }
    if let Ok((said, at, _)) = read(bytes) {
        assert!(said.lines().last().is_some_and(|line| line.starts_with("at: ")), "{said}");
        assert_eq!(at.to_string().parse(), Ok(at), "{said}");
    }
}
