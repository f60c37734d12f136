//! Random numbers that are the same on every machine and in every version of the program.

/// xoshiro256++ of Blackman and Vigna (2019), started through splitmix64 as its authors advise; both from memory, checked
/// below against their first published outputs. Own code and not a crate's, so that a result in a record can be had again
/// whatever becomes of the crate.
pub struct Random {
    state: [u64; 4],
    /// The second of two normal numbers that come together.
    spare: Option<f64>,
}

impl Random {
    /// A stream of its own for every part of the work, so that results do not depend on who does which part.
    pub fn new(seed: u64, stream: u64) -> Self {
        // The stream number is spread over all bits first: neighbouring numbers must not give neighbouring states.
        let mut mix = seed ^ splitmix(&mut stream.wrapping_add(0x5851_F42D_4C95_7F2D));
        let state = [splitmix(&mut mix), splitmix(&mut mix), splitmix(&mut mix), splitmix(&mut mix)];
        Self { state, spare: None }
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Between 0 and 1, neither of them.
    pub fn uniform(&mut self) -> f64 {
        ((self.next() >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    }

    /// Normal, mean 0, standard deviation 1: Box and Muller (1958), as JCGM 101:2008 C.4 has it, from memory.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        let (sine, cosine) = (2.0 * std::f64::consts::PI * self.uniform()).sin_cos();
        self.spare = Some(radius * sine);
        radius * cosine
    }
}

fn splitmix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_generator_that_it_says_it_is() {
        // published: test values of several libraries; splitmix64 from 0, xoshiro256++ from the state 1, 2, 3, 4.
        let mut state = 0;
        assert_eq!(splitmix(&mut state), 0xE220_A839_7B1D_CDAF);
        assert_eq!(splitmix(&mut state), 0x6E78_9E6A_A1B9_65F4);
        let mut random = Random { state: [1, 2, 3, 4], spare: None };
        let first: Vec<u64> = (0..4).map(|_| random.next()).collect();
        assert_eq!(first, [41_943_041, 58_720_359, 3_588_806_011_781_223, 3_591_011_842_654_386]);
    }

    #[test]
    fn its_numbers_have_the_moments_they_should() {
        let mut random = Random::new(1, 0);
        let count = 200_000;
        let mean = |values: &[f64], power: i32| values.iter().map(|x| x.powi(power)).sum::<f64>() / values.len() as f64;
        let uniform: Vec<f64> = (0..count).map(|_| random.uniform()).collect();
        assert!((mean(&uniform, 1) - 0.5).abs() < 3e-3 && (mean(&uniform, 2) - 1.0 / 3.0).abs() < 3e-3);
        let normal: Vec<f64> = (0..count).map(|_| random.normal()).collect();
        let moments = [mean(&normal, 1), mean(&normal, 2), mean(&normal, 3), mean(&normal, 4)];
        // Within about four standard errors of 0, 1, 0, 3.
        for (moment, (expected, error)) in moments.iter().zip([(0.0, 0.01), (1.0, 0.013), (0.0, 0.04), (3.0, 0.1)]) {
            assert!((moment - expected).abs() < error, "{moments:?}");
        }
        // Streams next to each other have nothing in common.
        let (mut one, mut other) = (Random::new(1, 1), Random::new(1, 2));
        let product: f64 = (0..count).map(|_| one.normal() * other.normal()).sum::<f64>() / f64::from(count);
        assert!(product.abs() < 0.01, "{product}");
    }
}
