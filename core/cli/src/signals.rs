//! Signals that end a job under way: the terminal is given back, and it is said that nothing is lost.

/// Whatever is recorded is on the disk before anything else is asked, so that there is nothing left to save; but a job that
/// vanishes without a word, or leaves a terminal that shows no keys, looks as if it had lost something.
#[cfg(unix)]
pub fn watch() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;

    // Where signals can't be had, they end the program as they always did.
    let Ok(mut signals) = Signals::new([SIGHUP, SIGINT, SIGTERM]) else { return };
    std::thread::spawn(move || {
        if let Some(signal) = signals.forever().next() {
            use std::io::Write;
            standpipe_drivers::terminal::give_back();
            let words = "interrupted: all that was recorded is saved; the same command goes on after it\n";
            let _ = std::io::stderr().lock().write_all(words.as_bytes());
            // As a shell counts: 128 and the number of the signal.
            std::process::exit(128 + signal);
        }
    });
}

#[cfg(not(unix))]
pub fn watch() {}
