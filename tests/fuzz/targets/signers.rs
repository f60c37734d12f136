//! Lists of signers: whatever stands in one, nobody is trusted by a key that does not.

use standpipe::job::Moment;
use standpipe::sign::{Key, Signers, Trust};
use standpipe::source::Source;

/// Of nobody: 32 bytes that were chosen.
const OTHER: &str = "AAAAC3NzaC1lZDI1NTE5AAAAIAcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcH";

pub fn run(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let lines = text.lines().count();
    let named = text.contains(OTHER);
    let (signers, problems) = Signers::read(&Source::new("signers", text));
    assert!(problems.iter().all(|problem| problem.place.line() <= lines.max(1)), "{problems:?}");
    let at: Moment = "2026-06-01T12:00:00+00:00".parse().unwrap();
    for person in ["jo", "rita", "", "\u{1f527}"] {
        let trust = signers.judge(person, Key::read(OTHER).unwrap(), at);
        assert!(named || matches!(trust, Trust::Other | Trust::NoKey), "{person}: {trust:?}");
        assert_eq!(signers.knows(person), trust != Trust::NoKey);
    }
}
