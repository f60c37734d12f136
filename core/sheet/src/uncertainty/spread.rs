//! How far a value may be off, and how its error is distributed.

use super::random::Random;

/// One source of error, in base units. The forms and their standard uncertainties: JCGM 100:2008 (GUM) 4.3, from memory;
/// the factors are checked against tests/reference/uncertainty.csv.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Error {
    /// A standard uncertainty.
    Normal(f64),
    /// Anywhere within this, either way: a limit of error of which no more is known, half a step of a display.
    Rectangular(f64),
    /// Within this, rather in the middle: the sum of two equal limits.
    Triangular(f64),
    /// Swings to and fro between the ends, and stays longest there: a thermostat.
    Arcsine(f64),
}

/// The sources of error of one value, independent of one another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread(pub Vec<Error>);

impl Error {
    /// Standard deviation, in base units.
    pub fn standard(self) -> f64 {
        match self {
            Error::Normal(standard) => standard,
            Error::Rectangular(half) => half / 3f64.sqrt(),
            Error::Triangular(half) => half / 6f64.sqrt(),
            Error::Arcsine(half) => half / 2f64.sqrt(),
        }
    }

    fn draw(self, random: &mut Random) -> f64 {
        match self {
            Error::Normal(standard) => standard * random.normal(),
            Error::Rectangular(half) => half * (2.0 * random.uniform() - 1.0),
            Error::Triangular(half) => half * (random.uniform() - random.uniform()),
            Error::Arcsine(half) => half * (2.0 * std::f64::consts::PI * random.uniform()).sin(),
        }
    }
}

impl Spread {
    /// Standard deviation, in base units.
    pub fn standard(&self) -> f64 {
        self.0.iter().map(|error| error.standard().powi(2)).sum::<f64>().sqrt()
    }

    /// One error, in base units.
    pub fn draw(&self, random: &mut Random) -> f64 {
        self.0.iter().map(|error| error.draw(random)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_drawn_has_the_standard_uncertainty_of_its_form() {
        for error in [Error::Normal(0.5), Error::Rectangular(0.5), Error::Triangular(0.5), Error::Arcsine(0.5)] {
            let mut random = Random::new(7, 0);
            let drawn: Vec<f64> = (0..100_000).map(|_| error.draw(&mut random)).collect();
            let mean = drawn.iter().sum::<f64>() / drawn.len() as f64;
            let standard = (drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / drawn.len() as f64).sqrt();
            assert!(
                mean.abs() < 6e-3 && (standard / error.standard() - 1.0).abs() < 0.01,
                "{error:?} {mean} {standard}"
            );
            let most = drawn.iter().fold(0.0f64, |most, x| most.max(x.abs()));
            assert!(matches!(error, Error::Normal(_)) || (0.49..=0.5).contains(&most), "{error:?} {most}");
        }
        let both = Spread(vec![Error::Normal(3.0), Error::Normal(4.0)]);
        assert_eq!(both.standard(), 5.0);
    }
}
