//! Seeded chance: the same numbers at every run.

/// SplitMix64 (Steele, Lea and Flood 2014), the constants from memory.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    pub fn one_of(&mut self, choices: &[f64]) -> f64 {
        choices[(self.share() * choices.len() as f64) as usize]
    }

    /// Box and Muller 1958.
    pub fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.share()).ln()).sqrt() * (std::f64::consts::TAU * self.share()).cos()
    }
}
