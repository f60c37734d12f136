//! Numbers that nobody can guess.

/// 128 bits of the operating system's.
pub fn number() -> u128 {
    let mut bytes = [0; 16];
    // Without the system's randomness no device could be told from another: better none than a guessable one.
    #[allow(clippy::expect_used)]
    getrandom::fill(&mut bytes).expect("the operating system gives random numbers");
    u128::from_le_bytes(bytes)
}

/// A code of eight signs, 40 bits, that can be read out and typed: Crockford's base 32, which has no I, L, O or U.
pub fn code() -> String {
    const SIGNS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let number = number();
    (0..8).map(|at| SIGNS[(number >> (5 * at)) as usize % 32] as char).collect()
}

/// A code as it was typed: in any case, with spaces, and with the letters that are taken for digits.
pub fn read_code(typed: &str) -> String {
    let signs = typed.to_uppercase().chars().filter(char::is_ascii_alphanumeric).collect::<String>();
    signs.replace('O', "0").replace(['I', 'L'], "1")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_eight_signs_and_is_another_each_time() {
        let codes: std::collections::HashSet<String> = (0..200).map(|_| code()).collect();
        assert_eq!(codes.len(), 200);
        assert!(codes.iter().all(|code| code.len() == 8));
    }
}
