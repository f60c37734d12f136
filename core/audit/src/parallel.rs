//! Many journals at once. What is in memory at a time is one journal and a few plans a thread, and the findings. A job that
//! can't be judged is a line of the audit, never its end.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use super::journal::{Asked, Audited, audit};
use super::point::{Point, Verdict};
use standpipe_job::plan::Kept;

/// A thread gets by default a quarter of what the main one has; plans may be nested as deeply here as there.
const STACK: usize = 8 << 20;

/// In the order of the folders. `tell`: takes how many are done.
pub fn audit_all(folders: &[PathBuf], asked: &Asked, tell: &(dyn Fn(usize) + Sync)) -> Vec<Audited> {
    let done = AtomicUsize::new(0);
    on_all_cores(folders.len(), Kept::default, |plans, index| {
        let folder = &folders[index];
        let audited = guarded(folder, || audit(folder, asked, plans));
        if audited.defect {
            // What was built meanwhile may be half done.
            *plans = Kept::default();
        }
        tell(done.fetch_add(1, Ordering::Relaxed) + 1);
        audited
    })
}

/// What `one` makes of each number below `count`, in their order. Each thread has a state of its own.
pub fn on_all_cores<S, T: Send>(
    count: usize,
    state: impl Fn() -> S + Sync,
    one: impl Fn(&mut S, usize) -> T + Sync,
) -> Vec<T> {
    let threads = thread::available_parallelism().map_or(1, usize::from).min(count);
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, T)>> = Mutex::new(Vec::with_capacity(count));
    let work = || {
        let mut own = state();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return;
            }
            let made = one(&mut own, index);
            done.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push((index, made));
        }
    };
    thread::scope(|scope| {
        let mut started = 0;
        for _ in 1..threads {
            started += usize::from(thread::Builder::new().stack_size(STACK).spawn_scoped(scope, work).is_ok());
        }
        // This thread works too: where no other can be started, all the same.
        let _ = started;
        work();
    });
    let mut done = done.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, made)| made).collect()
}

/// Nothing of a journal outlives its own audit but plans, which whoever calls has to forget.
fn guarded(folder: &Path, audit: impl FnOnce() -> Audited) -> Audited {
    catch_unwind(AssertUnwindSafe(audit)).unwrap_or_else(|_| {
        let mut audited = Audited::new(folder);
        let mut point = Point::new("this program", &audited.folder);
        point.find(Verdict::NotShown, None, "a defect of this program ended the audit of this job");
        audited.points.push(point);
        audited.defect = true;
        audited.settle()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_made_once_and_they_come_in_their_order() {
        for count in [0, 1, 100] {
            let made = on_all_cores(count, || (), |(), index| index);
            assert_eq!(made, (0..count).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_defect_is_a_line_of_the_audit() {
        let audited = guarded(Path::new("jobs/17.job"), || panic!("on purpose"));
        assert_eq!((audited.job.as_str(), audited.verdict), ("17.job", Verdict::NotShown));
        assert!(audited.defect && audited.points[0].findings[0].message.contains("defect"));
    }
}
