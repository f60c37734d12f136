//! Random numbers that have names: each is the same whatever else was drawn, on every machine and in every order of runs.

mod normal;
mod philox;

pub use normal::{below, quantile};
use philox::philox;

/// The draws of one run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Draws {
    pub seed: u64,
    pub run: u32,
}

impl Draws {
    /// Between 0 and 1, neither of them. `what` and `use_` name it: an address and what is done there, so that a step left
    /// out shifts no other draw.
    pub fn uniform(&self, what: &str, use_: &str) -> f64 {
        let name = hash(what, use_);
        let counter = [self.run, name as u32, (name >> 32) as u32, 0];
        let [low, high, ..] = philox(counter, [self.seed as u32, (self.seed >> 32) as u32]);
        let bits = u64::from(low) | u64::from(high) << 32;
        ((bits >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    }

    /// Normal, mean 0, standard deviation 1.
    pub fn normal(&self, what: &str, use_: &str) -> f64 {
        quantile(self.uniform(what, use_))
    }

    /// One of so many, from 0; `count` at least 1.
    pub fn one_of(&self, count: usize, what: &str, use_: &str) -> usize {
        ((self.uniform(what, use_) * count as f64) as usize).min(count - 1)
    }

    pub fn happens(&self, chance: f64, what: &str, use_: &str) -> bool {
        self.uniform(what, use_) < chance
    }
}

/// FNV-1a over both texts and a byte between them that neither can hold; 64 bits, constants from memory and checked below.
fn hash(what: &str, use_: &str) -> u64 {
    let bytes = what.bytes().chain(std::iter::once(0xff)).chain(use_.bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draw_has_its_name_and_nothing_else() {
        let draws = Draws { seed: 7, run: 4711 };
        assert_eq!(draws.uniform("look[2]", "time"), Draws { seed: 7, run: 4711 }.uniform("look[2]", "time"));
        let others = [
            Draws { seed: 8, run: 4711 }.uniform("look[2]", "time"),
            Draws { seed: 7, run: 4712 }.uniform("look[2]", "time"),
            draws.uniform("look[1]", "time"),
            draws.uniform("look[2]", "slip"),
            // What is cut elsewhere is another name.
            draws.uniform("look[2]t", "ime"),
        ];
        assert!(others.iter().all(|other| *other != draws.uniform("look[2]", "time")));
    }

    /// Moments of both distributions, within about four standard errors.
    #[test]
    fn draws_have_the_moments_they_should() {
        let count = 40_000;
        let all = |draw: &dyn Fn(Draws) -> f64, power: i32| {
            (0..count).map(|run| draw(Draws { seed: 1, run }).powi(power)).sum::<f64>() / f64::from(count)
        };
        let uniform = |draws: Draws| draws.uniform("a", "b");
        let normal = |draws: Draws| draws.normal("a", "b");
        assert!((all(&uniform, 1) - 0.5).abs() < 6e-3 && (all(&uniform, 2) - 1.0 / 3.0).abs() < 6e-3);
        for (power, expected, error) in [(1, 0.0, 0.02), (2, 1.0, 0.03), (3, 0.0, 0.08), (4, 3.0, 0.2)] {
            assert!((all(&normal, power) - expected).abs() < error, "moment {power}");
        }
    }

    /// The values of every machine: they are in records and reports. From the first run of this code, so they notice a
    /// change and prove nothing else; generator, hash and normal are held against published values where they are written.
    #[test]
    fn the_same_bits_come_everywhere() {
        assert_eq!(hash("", ""), 0xaf64_724c_8602_eb6e);
        let draws = Draws { seed: 7, run: 4711 };
        assert_eq!(draws.one_of(1, "x", "y"), 0);
        assert!(draws.happens(1.0, "x", "y") && !draws.happens(0.0, "x", "y"));
    }
}
