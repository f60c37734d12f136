//! When something was so: for certain, certainly not, or not to be told.

/// Parts of a window. What lies in neither `certain` nor `out` is not shown either way.
#[derive(Clone, Debug, PartialEq)]
pub struct Times {
    /// From when to when was looked, in seconds.
    pub window: (f64, f64),
    /// When it was so; rising and apart, ends included.
    pub certain: Vec<(f64, f64)>,
    /// When it was not, if only for one sample.
    pub out: Vec<(f64, f64)>,
    /// What was so, in words: `level was above 3 m`.
    pub what: String,
}

impl Times {
    /// When both were so.
    pub fn both(&self, other: &Times) -> Times {
        let window = (self.window.0.max(other.window.0), self.window.1.min(other.window.1));
        let mut out: Vec<(f64, f64)> = self.out.iter().chain(&other.out).copied().collect();
        out.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut joined: Vec<(f64, f64)> = Vec::new();
        for (from, to) in out {
            match joined.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        let what = format!("{} and {}", self.what, other.what);
        Times { window, certain: overlaps(&self.certain, &other.certain), out: joined, what }
    }

    /// What lies between the times at which it certainly was not so.
    fn possible(&self) -> Vec<(f64, f64)> {
        let mut possible = Vec::new();
        let mut from = self.window.0;
        for (start, end) in &self.out {
            if *start > from {
                possible.push((from, *start));
            }
            from = from.max(*end);
        }
        if self.window.1 > from || self.out.is_empty() {
            possible.push((from, self.window.1));
        }
        possible
    }

    /// Whether it was so without a break for that long; none where that is not shown.
    pub fn lasts(&self, seconds: f64) -> Option<bool> {
        let least = seconds * (1.0 - 1e-9);
        let reaches = |parts: &[(f64, f64)]| parts.iter().any(|(from, to)| to - from >= least);
        if reaches(&self.certain) {
            return Some(true);
        }
        if reaches(&self.possible()) { None } else { Some(false) }
    }

    /// Whether it held all through a stretch of time, in seconds; `None` where that can't be told.
    pub fn throughout(&self, span: (f64, f64)) -> Option<bool> {
        if self.out.iter().any(|(from, to)| *from <= span.1 && *to >= span.0) {
            return Some(false);
        }
        let covered = self.certain.iter().any(|(from, to)| *from <= span.0 + 1e-9 && *to >= span.1 - 1e-9);
        if covered { Some(true) } else { None }
    }

    /// Whether it ever held; `None` where that can't be told.
    pub fn ever(&self) -> Option<bool> {
        match (self.certain.is_empty(), self.possible().is_empty()) {
            (false, _) => Some(true),
            (true, true) => Some(false),
            (true, false) => None,
        }
    }

    /// The longest part that is certain.
    pub fn longest(&self) -> f64 {
        self.certain.iter().map(|(from, to)| to - from).fold(0.0, f64::max)
    }

    /// Seconds for which it held, taken together.
    pub fn total(&self) -> f64 {
        self.certain.iter().map(|(from, to)| to - from).sum()
    }
}

fn overlaps(a: &[(f64, f64)], b: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (mut i, mut j) = (0, 0);
    let mut both = Vec::new();
    while i < a.len() && j < b.len() {
        let (from, to) = (a[i].0.max(b[j].0), a[i].1.min(b[j].1));
        if from <= to {
            both.push((from, to));
        }
        if a[i].1 < b[j].1 {
            i += 1
        } else {
            j += 1
        };
    }
    both
}
