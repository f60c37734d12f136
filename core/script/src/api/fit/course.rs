//! How a series goes on whose rate dies away: a bank of courses, each with its own constants, weighed by how well it foretold
//! every reading from those before.

/// What is held possible of a series before it is read. Constants in the unit of x; `tremble`, `ahead`, `wander` and `jump` are
/// shares of the rate that the series has at its liveliest.
pub(super) struct Beliefs {
    /// Constants with which the rate dies away.
    pub settles: Vec<f64>,
    /// Constants of what adds to the rate and is gone soon: of a beginning, and of what trembles.
    pub fades: Vec<f64>,
    pub trembles: Vec<f64>,
    /// How much more or less than later the rate may be at first, and how likely it is that it is at all.
    pub ahead: f64,
    pub ahead_share: f64,
    /// For each root of x.
    pub wander: f64,
    /// The rate may jump at once by so much, once in so long.
    pub jump: f64,
    pub every: f64,
}

/// Level, lasting rate and fading rate, with their covariances.
#[derive(Clone)]
pub(super) struct Course {
    settle: f64,
    fade: f64,
    tremble: f64,
    wander: f64,
    mean: [f64; 3],
    /// Of level and level, level and lasting, level and fading, lasting and lasting, lasting and fading, fading and fading.
    variance: [f64; 6],
    /// The logarithm of how likely the readings were, then a share of all courses.
    weight: f64,
}

/// A reading further off than so many standard deviations costs a course no more: it may be a wild one.
const WILD: f64 = 4.0;
/// Less likely than the best by this factor, and a course with a jump is followed no longer. Logarithm.
const HOPELESS: f64 = 12.0;
/// And by this one, it is no course to try a jump from.
const UNLIKELY: f64 = 5.0;
/// Places tried for a jump are no closer, and no more of them lie ahead of the last reading. Own choice: time against detail.
const PLACES: f64 = 6.0;
const APART: f64 = 45.0;
const FIRST_PLACE: f64 = 60.0;

impl Course {
    /// So much further on, if nothing is read meanwhile.
    fn on(&mut self, by: f64) {
        let (left_settle, left_fade) = ((-by / self.settle).exp(), (-by / self.fade).exp());
        let (to_settle, to_fade) = (self.settle * (1.0 - left_settle), self.fade * (1.0 - left_fade));
        let [level, lasting, fading] = self.mean;
        self.mean = [level + to_settle * lasting + to_fade * fading, left_settle * lasting, left_fade * fading];
        let [ll, ls, lf, ss, sf, ff] = self.variance;
        let by_wander = wandered(by, self.settle).map(|share| share * self.wander * self.wander);
        let by_tremble = wandered(by, self.fade).map(|share| share * 2.0 * self.tremble * self.tremble / self.fade);
        self.variance = [
            ll + 2.0 * (to_settle * ls + to_fade * lf + to_settle * to_fade * sf)
                + to_settle * to_settle * ss
                + to_fade * to_fade * ff
                + by_wander[0]
                + by_tremble[0],
            left_settle * (ls + to_settle * ss + to_fade * sf) + by_wander[1],
            left_fade * (lf + to_settle * sf + to_fade * ff) + by_tremble[1],
            left_settle * left_settle * ss + by_wander[2],
            left_settle * left_fade * sf,
            left_fade * left_fade * ff + by_tremble[2],
        ];
    }

    fn read(&mut self, value: f64, noise: f64) {
        let [ll, ls, lf, ss, sf, ff] = self.variance;
        let all = ll + noise * noise;
        let off = value - self.mean[0];
        let gain = [ll / all, ls / all, lf / all];
        for (mean, gain) in self.mean.iter_mut().zip(gain) {
            *mean += gain * off;
        }
        self.variance = [
            ll - gain[0] * ll,
            ls - gain[0] * ls,
            lf - gain[0] * lf,
            ss - gain[1] * ls,
            sf - gain[1] * lf,
            ff - gain[2] * lf,
        ];
        self.weight -= (all.ln() + (off * off / all).min(WILD * WILD)) / 2.0;
    }
}

/// What a drive of one adds to the variances of level, of both and of rate: the integrals of (settle (1 - e))^2,
/// settle (1 - e) e and e^2 with e = exp(-t / settle). Near zero the differences would lose their digits: there by series.
fn wandered(by: f64, settle: f64) -> [f64; 3] {
    let share = by / settle;
    if share < 1e-3 {
        return [by.powi(3) * (1.0 / 3.0 - share / 4.0), by * by * (1.0 - share) / 2.0, by * (1.0 - share)];
    }
    let (once, twice) = (-(-share).exp_m1(), -(-2.0 * share).exp_m1());
    let square = settle * settle;
    [square * (by - 2.0 * settle * once + settle * twice / 2.0), square * once * once / 2.0, settle * twice / 2.0]
}

/// The slope of the best line; 0 where there is none.
fn slope(x: &[f64], y: &[f64]) -> f64 {
    let count = x.len() as f64;
    let (across, up) = (x.iter().sum::<f64>() / count, y.iter().sum::<f64>() / count);
    let (mut xy, mut xx) = (0.0, 0.0);
    for (x, y) in x.iter().zip(y) {
        xy += (x - across) * (y - up);
        xx += (x - across) * (x - across);
    }
    if xx > 0.0 { xy / xx } else { 0.0 }
}

/// The courses at the last x, their weights adding up to one; none where nothing changes at all.
/// Source: a bank of Kalman filters weighed by their likelihoods (Kalman 1960; Magill 1965), a jump of the rate at a place that is
/// not known as further members of the bank, as in Adams and MacKay 2007; all from memory. Two constants, because two bodies that
/// warm one another have two (the lumped-capacitance model of any text on heat transfer).
pub(super) fn courses(x: &[f64], y: &[f64], noise: &[f64], beliefs: &Beliefs) -> Vec<Course> {
    let (Some(first), Some(last)) = (x.first(), x.last()) else { return Vec::new() };
    let half = x.len() / 2;
    let halves =
        if x.len() < 8 { 0.0 } else { slope(&x[..half], &y[..half]).abs().max(slope(&x[half..], &y[half..]).abs()) };
    let rate = slope(x, y).abs().max(halves);
    if rate <= 0.0 || !rate.is_finite() {
        return Vec::new();
    }
    let size = y.iter().chain(noise).fold(0.0f64, |most, value| most.max((value - y[0]).abs())).max(noise[0]);
    let mut all = Vec::new();
    for settle in &beliefs.settles {
        for fade in &beliefs.fades {
            for tremble in &beliefs.trembles {
                for (ahead, share) in [(0.0, 1.0 - beliefs.ahead_share), (beliefs.ahead, beliefs.ahead_share)] {
                    let at_first = (tremble * rate).powi(2) + (ahead * rate).powi(2);
                    all.push(Course {
                        settle: *settle,
                        fade: *fade,
                        tremble: tremble * rate,
                        wander: beliefs.wander * rate,
                        mean: [y[0], 0.0, 0.0],
                        variance: [(1e2 * size).powi(2), 0.0, 0.0, (3.0 * rate).powi(2), 0.0, at_first],
                        weight: share.ln(),
                    });
                }
            }
        }
    }
    let smooth = all.len();
    let (mut before, mut place) = (*first, first + FIRST_PLACE);
    for (index, ((x, y), noise)) in x.iter().zip(y).zip(noise).enumerate() {
        if *x >= place && beliefs.jump > 0.0 {
            let apart = APART.max((last - x) / PLACES);
            place = x + apart;
            let (jump, best) = ((beliefs.jump * rate).powi(2), best(&all[..smooth]));
            let share = (apart / beliefs.every / beliefs.settles.len() as f64).ln();
            for member in 0..smooth {
                if all[member].weight < best - UNLIKELY {
                    continue;
                }
                // What changes the rate may change how it settles too.
                for settle in &beliefs.settles {
                    let mut jumped = Course { settle: *settle, ..all[member].clone() };
                    jumped.variance[3] += jump;
                    jumped.variance[5] += jump / 4.0;
                    jumped.weight += share;
                    all.push(jumped);
                }
            }
        }
        for course in &mut all {
            course.on(x - before);
            course.read(*y, *noise);
        }
        before = *x;
        if index % 8 == 7 {
            let best = best(&all);
            let mut member = 0;
            all.retain(|course| {
                member += 1;
                member <= smooth || course.weight > best - HOPELESS
            });
        }
    }
    let best = best(&all);
    all.iter_mut().for_each(|course| course.weight = (course.weight - best).exp());
    all.retain(|course| course.weight > 1e-4);
    let sum: f64 = all.iter().map(|course| course.weight).sum();
    all.iter_mut().for_each(|course| course.weight /= sum);
    all
}

fn best(all: &[Course]) -> f64 {
    all.iter().fold(f64::NEG_INFINITY, |best, course| best.max(course.weight))
}

const STEPS: usize = 120;

/// How far on from the last x the courses have risen above a target with each of some probabilities, which rise; those that are
/// not reached within `far` are left out. `by` is how far the moment from which is counted lies beyond the last x.
pub(super) fn reached(courses: &[Course], by: f64, target: f64, far: f64, shares: &[f64]) -> Vec<f64> {
    let mut found = Vec::new();
    let (mut share_before, mut at_before) = (0.0f64, 0.0);
    for step in 0..=STEPS {
        // Near ones are looked for in smaller steps.
        let at = far * (step as f64 / STEPS as f64).powf(1.5);
        let above = |course: &Course| {
            let mut course = course.clone();
            course.on(by + at);
            course.weight * below((course.mean[0] - target) / course.variance[0].max(1e-18).sqrt())
        };
        // What was above once has been there.
        let share = courses.iter().map(above).sum::<f64>().max(share_before);
        while let Some(wanted) = shares.get(found.len()).filter(|wanted| share >= **wanted) {
            let along = if step == 0 { 1.0 } else { (wanted - share_before) / (share - share_before) };
            found.push(at_before + (at - at_before) * along.clamp(0.0, 1.0));
        }
        (share_before, at_before) = (share, at);
    }
    found
}

/// The share of the normal distribution below z. Source: Abramowitz and Stegun 7.1.26, from memory, good to 1.5e-7.
fn below(z: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * z.abs() / std::f64::consts::SQRT_2);
    let terms = [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    let series = terms.iter().rev().fold(0.0, |sum, term| (sum + term) * t);
    let beyond = series * (-z * z / 2.0).exp() / 2.0;
    if z >= 0.0 { 1.0 - beyond } else { beyond }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_normal_distribution_is_that_of_the_tables() {
        // Any table of it.
        for (z, share) in
            [(0.0, 0.5), (1.0, 0.841_344_7), (1.644_853_6, 0.95), (-1.959_964, 0.025), (-3.0, 0.001_349_9)]
        {
            assert!((below(z) - share).abs() < 2e-7, "{z}: {}", below(z));
        }
    }

    /// Integrated in small steps instead.
    #[test]
    fn what_a_drive_adds_is_its_integral() {
        for (by, settle) in [(30.0, 100.0), (0.05, 100.0), (400.0, 100.0)] {
            let mut sums = [0.0; 3];
            for step in 0..20_000 {
                let left = (-(f64::from(step) + 0.5) / 20_000.0 * by / settle).exp();
                let reach = settle * (1.0 - left);
                for (sum, part) in sums.iter_mut().zip([reach * reach, reach * left, left * left]) {
                    *sum += part * by / 20_000.0;
                }
            }
            for (found, sum) in wandered(by, settle).iter().zip(sums) {
                assert!((found - sum).abs() < 1e-6 * sum, "{found} {sum}");
            }
        }
    }
}
