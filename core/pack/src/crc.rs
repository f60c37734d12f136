//! The check sum of zip files: CRC-32 of ISO-HDLC, the polynomial 0x04C11DB7 with its bits turned round.

const TABLE: [u32; 256] = table();

const fn table() -> [u32; 256] {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut rest = byte as u32;
        let mut bit = 0;
        while bit < 8 {
            rest = if rest & 1 == 1 { rest >> 1 ^ 0xEDB8_8320 } else { rest >> 1 };
            bit += 1;
        }
        table[byte] = rest;
        byte += 1;
    }
    table
}

/// Of what has come so far.
#[derive(Clone, Copy)]
pub struct Crc(u32);

impl Crc {
    pub fn new() -> Self {
        Self(u32::MAX)
    }

    pub fn update(&mut self, bytes: &[u8]) {
        self.0 = bytes.iter().fold(self.0, |sum, byte| sum >> 8 ^ TABLE[(sum as u8 ^ byte) as usize]);
    }

    pub fn sum(self) -> u32 {
        !self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of the catalogue of CRC algorithms (G. Cook) for CRC-32/ISO-HDLC.
    #[test]
    fn it_is_the_published_one() {
        let mut crc = Crc::new();
        crc.update(b"1234");
        crc.update(b"56789");
        assert_eq!(crc.sum(), 0xCBF4_3926);
        assert_eq!(Crc::new().sum(), 0);
    }
}
