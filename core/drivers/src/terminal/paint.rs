//! Emphasis. Colour only adds to what a mark or the place on the screen says already.

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paint {
    Plain,
    /// What to do now.
    Strong,
    /// A caution, or a refusal.
    Warn,
    /// What is there to be looked up, not read.
    Faint,
    /// Must not be overlooked: invented data.
    Banner,
}

pub fn paint(text: &str, paint: Paint, colour: bool) -> String {
    let code = match paint {
        Paint::Plain => return text.to_owned(),
        _ if !colour || text.is_empty() => return text.to_owned(),
        Paint::Strong => "1",
        Paint::Warn => "33",
        Paint::Faint => "2",
        Paint::Banner => "7",
    };
    format!("\u{1b}[{code}m{text}\u{1b}[0m")
}
