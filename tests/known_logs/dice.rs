//! Chance that comes out the same on every machine (splitmix64, by Steele, Lea and Flood 2014, from memory).

pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64, name: &str) -> Self {
        let mixed = name.bytes().fold(seed, |seed, byte| seed.wrapping_mul(1_099_511_628_211) ^ u64::from(byte));
        Self(mixed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.next() % all.len() as u64) as usize]
    }

    pub fn shuffle<T>(&mut self, all: &mut [T]) {
        for at in (1..all.len()).rev() {
            all.swap(at, (self.next() % (at as u64 + 1)) as usize);
        }
    }
}
