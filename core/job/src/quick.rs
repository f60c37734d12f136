//! A plain hash for the ids of a job's own plan, which are looked up at every step of a walk. Nobody chooses them to make it slow.

use std::hash::{BuildHasherDefault, Hasher};

use indexmap::IndexMap;

pub(crate) type QuickMap<K, V> = IndexMap<K, V, BuildHasherDefault<Quick>>;

/// Multiplies, and nothing else.
#[derive(Default)]
pub(crate) struct Quick(u64);

impl Quick {
    fn add(&mut self, word: u64) {
        // 2^64 divided by the golden ratio, odd: multiples of it are spread evenly (Knuth, volume 3, 6.4).
        self.0 = (self.0.rotate_left(5) ^ word).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }
}

impl Hasher for Quick {
    fn write(&mut self, bytes: &[u8]) {
        let (words, rest) = bytes.as_chunks::<8>();
        words.iter().for_each(|word| self.add(u64::from_le_bytes(*word)));
        if !rest.is_empty() {
            let mut last = [0; 8];
            last[..rest.len()].copy_from_slice(rest);
            self.add(u64::from_le_bytes(last));
        }
    }

    fn write_u8(&mut self, byte: u8) {
        self.add(u64::from(byte));
    }

    fn write_usize(&mut self, number: usize) {
        self.add(number as u64);
    }

    fn finish(&self) -> u64 {
        // The table takes its place from the low bits, which a product mixes least.
        self.0 ^ (self.0 >> 32)
    }
}
