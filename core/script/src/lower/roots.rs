//! Solving for a zero in many lanes at once: each has a bracket of its own, and the function is worked out for all that
//! still look.

use super::abreast::{Group, LANES, Run, lanes};
use crate::api::{Bracket, Next};
use standpipe_quantity::close;

impl Run<'_> {
    /// Gives the lanes in which there is a zero.
    pub fn solve(&mut self, start: usize, ends: (u16, u16), x: u16, to: u16, group: Group) -> Group {
        let (low, high) = (self.rows[usize::from(ends.0)], self.rows[usize::from(ends.1)]);
        let (x, to) = (usize::from(x), usize::from(to));
        let free = self.free;
        let mut looks = self.keep(group, |run| run.holds(ends.0, ends.1, |low, high| low < high && !close(low, high)));
        self.look(x, &low, looks);
        looks = self.value(start, looks);
        let at_low = self.values;
        self.look(x, &high, looks);
        looks = self.value(start, looks);
        let mut brackets = [Bracket::default(); LANES];
        for lane in lanes(looks) {
            brackets[lane] = Bracket::new((low[lane], at_low[lane]), (high[lane], self.values[lane]));
            looks &= !(Group::from(!brackets[lane].has_zero()) << lane);
        }
        let mut found = 0;
        while looks != 0 {
            for lane in lanes(looks) {
                match brackets[lane].next() {
                    Next::Look(next) => self.rows[x][lane] = next,
                    Next::Zero(zero) => {
                        self.rows[to][lane] = zero;
                        found |= 1 << lane;
                    }
                }
            }
            looks &= !found;
            // Outside of the function nobody reads what it works out.
            self.free |= found;
            let tried = self.rows[x];
            looks = self.value(start, looks);
            for lane in lanes(looks) {
                brackets[lane].take(tried[lane], self.values[lane]);
            }
        }
        self.free = free | group & !found;
        found
    }

    fn look(&mut self, x: usize, at: &[f64; LANES], group: Group) {
        lanes(group).for_each(|lane| self.rows[x][lane] = at[lane]);
    }
}
