//! A defect of this program: what is said of it, and how the run ends.

use std::io::Write;
use std::panic::{AssertUnwindSafe, PanicHookInfo, catch_unwind, set_hook};
use std::sync::atomic::{AtomicBool, Ordering};

use super::Exit;
use standpipe_diagnostic::columns::for_terminal;
use standpipe_drivers::terminal::give_back;

/// One was met, in whichever thread; the run goes on where only a part of it was lost, and says so in the end.
static MET: AtomicBool = AtomicBool::new(false);

/// Runs the program; a panic becomes a message of what to send, and an exit of its own.
pub fn guarded(run: impl FnOnce() -> Exit + std::panic::UnwindSafe) -> Exit {
    set_hook(Box::new(|panic| {
        MET.store(true, Ordering::Relaxed);
        give_back();
        // There is nobody to tell where standard error is gone too.
        let _ = std::io::stderr().lock().write_all(message(panic).as_bytes());
    }));
    let exit = catch_unwind(run).unwrap_or(Exit::Defect);
    if MET.load(Ordering::Relaxed) { Exit::Defect } else { exit }
}

/// Does what is done for each of many things; `None` where a defect ended it for this one. The run goes on with the others.
pub fn one_of_many<T>(run: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(run)).ok()
}

fn message(panic: &PanicHookInfo<'_>) -> String {
    let words = panic.payload();
    let what = words.downcast_ref::<&str>().copied().or_else(|| words.downcast_ref::<String>().map(String::as_str));
    let what = what.unwrap_or("no words");
    let place =
        panic.location().map_or_else(String::new, |at| format!(" at {}:{}:{}", at.file(), at.line(), at.column()));
    let command = std::env::args().nth(1).unwrap_or_default();
    for_terminal(
        &format!(
            "Error: a defect of standpipe ended this\n  \
               kept      what a job recorded before is on the disk, and the same command goes on after it\n  \
               do        please send these lines, and the files that led here if you may\n  \
               version   standpipe {} {} {}, `{command}`\n  \
               what      {what}{place}\n",
            env!("CARGO_PKG_VERSION"),
            std::env::consts::OS,
            std::env::consts::ARCH,
        ),
        false,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_an_exit_of_its_own() {
        assert_eq!(guarded(|| Exit::Well), Exit::Well);
        assert_eq!(guarded(|| panic!("on purpose")), Exit::Defect);
        // Also one that ended only a thread.
        MET.store(false, Ordering::Relaxed);
        let in_a_thread = || {
            let _ = std::thread::spawn(|| panic!("on purpose")).join();
            Exit::Well
        };
        assert_eq!(guarded(in_a_thread), Exit::Defect);
        MET.store(false, Ordering::Relaxed);
        let _ = std::panic::take_hook();
    }

    #[test]
    fn a_defect_in_one_of_many_is_no_end_of_the_others() {
        let done: Vec<Option<u32>> =
            (0..3).map(|number| one_of_many(|| if number == 1 { panic!("on purpose") } else { number })).collect();
        assert_eq!(done, [Some(0), None, Some(2)]);
    }
}
