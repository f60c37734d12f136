//! The headers of a zip file, in the one form that is written and read.

/// Fixed parts of headers, in bytes.
pub const LOCAL: usize = 30;
pub const CENTRAL: usize = 46;
pub const END: usize = 22;

/// Version 1.0 is all that stored entries need.
const NEEDED: u16 = 10;
/// Names are UTF-8.
const FLAGS: u16 = 1 << 11;
const STORED: u16 = 0;
const MIDNIGHT: u16 = 0;
/// 1 January 1980, the first day that there is: a pack says nothing of when it was made.
const DAY: u16 = 1 << 5 | 1;

/// A file in a pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    pub name: String,
    pub crc: u32,
    pub size: u32,
    /// Where its local header begins.
    pub at: u32,
}

impl Entry {
    /// Where the next one begins. Both are far below what 64 bits hold.
    pub fn end(&self) -> u64 {
        u64::from(self.at) + (LOCAL + self.name.len()) as u64 + u64::from(self.size)
    }

    pub fn local(&self) -> Vec<u8> {
        let mut bytes = b"PK\x03\x04".to_vec();
        self.common(&mut bytes);
        bytes.extend(self.name.as_bytes());
        bytes
    }

    pub fn central(&self) -> Vec<u8> {
        let mut bytes = b"PK\x01\x02".to_vec();
        // Made by: no system whose rights or links could be said in the attributes, which are none.
        bytes.extend(NEEDED.to_le_bytes());
        self.common(&mut bytes);
        bytes.extend([0; 10]);
        bytes.extend(self.at.to_le_bytes());
        bytes.extend(self.name.as_bytes());
        bytes
    }

    /// What both headers have: up to the length of extra fields, of which there are none.
    fn common(&self, bytes: &mut Vec<u8>) {
        for field in [NEEDED, FLAGS, STORED, MIDNIGHT, DAY] {
            bytes.extend(field.to_le_bytes());
        }
        for field in [self.crc, self.size, self.size] {
            bytes.extend(field.to_le_bytes());
        }
        bytes.extend((self.name.len() as u16).to_le_bytes());
        bytes.extend([0; 2]);
    }
}

/// `size`, `at`: of the central directory.
pub fn end(count: u16, size: u32, at: u32) -> Vec<u8> {
    let mut bytes = b"PK\x05\x06\0\0\0\0".to_vec();
    bytes.extend(count.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    bytes.extend(size.to_le_bytes());
    bytes.extend(at.to_le_bytes());
    bytes.extend([0; 2]);
    bytes
}

/// A number in a header; 0 where there is none.
pub fn u16_at(bytes: &[u8], at: usize) -> u16 {
    bytes.get(at..at + 2).map_or(0, |field| u16::from_le_bytes([field[0], field[1]]))
}

pub fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | u32::from(u16_at(bytes, at + 2)) << 16
}
