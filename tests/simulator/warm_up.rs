//! Writes rows of an invented warm-up to a file, as a reader would, faster than time:
//! `cargo run --example warm-up -- FILE [SPEED]`. Watch it with `standpipe run JOB.yaml --reader FILE`.

use std::error::Error;
use std::fs::OpenOptions;
use std::io::Write;
use std::thread::sleep;
use std::time::Duration;

/// A row every half second of the invented time.
const EVERY: f64 = 0.5;
const UNTIL: f64 = 3600.0;

/// Warms from 22 degC towards 85 degC, a third slower above 34 degC, where an invented cooler joins.
fn warmer(now: f64) -> f64 {
    let towards = if now > 34.0 { 0.67 } else { 1.0 };
    now + EVERY * towards * (85.0 - now) / 1800.0
}

/// Between -0.1 and 0.1, always the same row of numbers: a linear congruence with the constants of Numerical Recipes, from
/// memory.
fn jitter(state: &mut u32) -> f64 {
    *state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    0.2 * (f64::from(*state) / f64::from(u32::MAX)) - 0.1
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let path = arguments.next().ok_or("which file? `warm-up FILE [SPEED]`")?;
    let speed: f64 = arguments.next().map_or(Ok(1.0), |text| text.parse())?;
    if !(0.1..=1000.0).contains(&speed) {
        return Err("a speed lies between 0.1 and 1000".into());
    }
    let mut file = OpenOptions::new().create(true).write(true).truncate(true).open(path)?;
    writeln!(file, "Elapsed [s],Sump temperature [°C],Idle speed [rpm]")?;
    let (mut now, mut time, mut state) = (22.0, 0.0, 7);
    while time < UNTIL {
        let idle = 680.0 + 100.0 * jitter(&mut state);
        writeln!(file, "{time:.1},{:.1},{idle:.0}", now + jitter(&mut state))?;
        file.flush()?;
        sleep(Duration::from_secs_f64(EVERY / speed));
        time += EVERY;
        now = warmer(now);
    }
    Ok(())
}
