//! Numbers of a report, in text and on a page alike.

use crate::count::Interval;

/// `2.4 (1.8 to 3.2)`
pub fn per_thousand(count: u64, jobs: u64, found: Interval) -> String {
    let share = count as f64 / jobs.max(1) as f64;
    format!("{} ({} to {})", figure(share * 1000.0), figure(found.low * 1000.0), figure(found.high * 1000.0))
}

pub fn figure(value: f64) -> String {
    match value.abs() {
        0.0 => "0".to_owned(),
        size if size < 1.0 => format!("{value:.2}"),
        size if size < 100.0 => format!("{value:.1}"),
        _ => format!("{value:.0}"),
    }
}

pub fn thousands(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// A number of three digits, without idle zeros.
pub fn plain(value: f64) -> String {
    let decimals = if value == 0.0 { 0.0 } else { 2.0 - libm::floor(libm::log10(value.abs())) };
    let text = format!("{value:.*}", decimals.clamp(0.0, 6.0) as usize);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}
