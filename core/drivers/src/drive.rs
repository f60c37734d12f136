//! A job and whoever answers it: the one loop that all of them share.

use standpipe_job::Moment;

use standpipe_job::{Given, Kept, NotKept, OpenJob};

/// Who answers a job: a person at a terminal, a file of answers.
///
/// It says what is given next and hears what became of it; that it counts only when it is on the disk, and once, is the
/// job's affair.
pub trait Driver {
    /// How it ends.
    type Left;

    fn job(&mut self) -> &mut OpenJob;

    /// The next input. It may take as long as it likes, and give the job by itself what happens meanwhile, such as
    /// readings. Leaving is no end of the job: that is in its journal.
    fn next(&mut self) -> Result<Given, Self::Left>;

    /// What became of the input that it gave last.
    fn told(&mut self, end: Result<Kept, NotKept>);
}

/// Gives a job what its driver says until that leaves it.
pub fn drive<D: Driver>(driver: &mut D, clock: &dyn Fn() -> Moment) -> D::Left {
    loop {
        let given = match driver.next() {
            Ok(given) => given,
            Err(left) => return left,
        };
        let end = driver.job().give(given, clock());
        driver.told(end);
    }
}
