//! A keyed hash: HMAC with SHA-256, by RFC 2104.

use sha2::{Digest, Sha256};

/// Bytes that SHA-256 takes at a time.
const BLOCK: usize = 64;

pub fn hmac(key: &[u8], parts: &[&[u8]]) -> [u8; 32] {
    let mut block = [0; BLOCK];
    match key.len() {
        0..=BLOCK => block[..key.len()].copy_from_slice(key),
        _ => block[..32].copy_from_slice(&Sha256::digest(key)),
    }
    let mut inner = Sha256::new_with_prefix(block.map(|byte| byte ^ 0x36));
    parts.iter().for_each(|part| inner.update(part));
    Sha256::new_with_prefix(block.map(|byte| byte ^ 0x5c)).chain_update(inner.finalize()).finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(bytes: &[u8]) -> String {
        bytes.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// RFC 4231, test cases 1, 2 and 6.
    #[test]
    fn it_is_what_the_standard_says() {
        let long = "Test Using Larger Than Block-Size Key - Hash Key First";
        for (key, text, expected) in [
            (vec![0x0b; 20], "Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"),
            (
                b"Jefe".to_vec(),
                "what do ya want for nothing?",
                "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
            ),
            (vec![0xaa; 131], long, "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"),
        ] {
            assert_eq!(hex(&hmac(&key, &[text.as_bytes()])), expected);
            let (one, two) = text.as_bytes().split_at(5);
            assert_eq!(hex(&hmac(&key, &[one, two])), expected, "in parts");
        }
    }
}
