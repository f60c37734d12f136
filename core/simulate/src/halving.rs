//! The inverse of a function that rises, by halving: it is as good as the function itself, and gives the same bits wherever that
//! does.

/// Where `f` comes to `wanted` between `low` and `high`; each turn halves what is left between them.
pub fn inverse(f: impl Fn(f64) -> f64, wanted: f64, (mut low, mut high): (f64, f64), turns: u32) -> f64 {
    for _ in 0..turns {
        let middle = 0.5 * (low + high);
        if f(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
