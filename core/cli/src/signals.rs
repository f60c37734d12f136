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

/// For work that can tell what it knows when it is broken off: an interrupt is noted here and ends nothing.
#[cfg(unix)]
pub fn noted() -> std::sync::Arc<std::sync::atomic::AtomicBool> {
    let noted = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    // A second one ends the program where the first has no effect; where signals can't be had, the first does.
    let _ = signal_hook::flag::register_conditional_shutdown(signal_hook::consts::SIGINT, 130, noted.clone());
    let _ = signal_hook::flag::register(signal_hook::consts::SIGINT, noted.clone());
    noted
}

#[cfg(not(unix))]
pub fn noted() -> std::sync::Arc<std::sync::atomic::AtomicBool> {
    std::sync::Arc::default()
}

#[cfg(not(unix))]
pub fn watch() {}
