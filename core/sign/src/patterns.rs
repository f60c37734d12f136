//! Lists of patterns, as PATTERNS of ssh_config(5) describes them: `*` and `?`, and `!` before what is not meant.

/// One matches, and none that begins with `!` does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Patterns(Vec<(bool, Vec<char>)>);

impl Patterns {
    /// None where one of them is empty.
    pub fn read(text: &str) -> Option<Self> {
        let one = |pattern: &str| {
            let (negated, rest) = pattern.strip_prefix('!').map_or((false, pattern), |rest| (true, rest));
            (!rest.is_empty()).then(|| (negated, rest.chars().collect()))
        };
        text.split(',').map(one).collect::<Option<_>>().map(Self)
    }

    pub fn fit(&self, text: &str) -> bool {
        let text: Vec<char> = text.chars().collect();
        let fitting = || self.0.iter().filter(|(_, pattern)| fits(pattern, &text));
        fitting().next().is_some() && !fitting().any(|(negated, _)| *negated)
    }
}

/// Remembers where the last `*` stood and gives it one character more when the rest does not fit: never worse than the product
/// of both lengths.
fn fits(pattern: &[char], text: &[char]) -> bool {
    let (mut at, mut in_text) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while in_text < text.len() {
        match pattern.get(at) {
            Some('*') => {
                star = Some((at, in_text));
                at += 1;
            }
            Some(c) if *c == '?' || *c == text[in_text] => {
                at += 1;
                in_text += 1;
            }
            _ => {
                let Some((back, taken)) = star else { return false };
                star = Some((back, taken + 1));
                (at, in_text) = (back + 1, taken + 1);
            }
        }
    }
    pattern[at..].iter().all(|c| *c == '*')
}
