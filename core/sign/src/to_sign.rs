//! What somebody did that nothing lies there for yet.

use standpipe_job::OpenJob;

use crate::act::{Deed, deeds, heads};
use crate::entered::Entered;
use crate::folder::all_beside;
use crate::judge::{Standing, signed};
use crate::kept::Unsigned;

/// What that person did from this event on and has not signed, each with the hash of its line.
///
/// Errors: journal or signatures can't be read.
pub fn to_sign(job: &OpenJob, since: u64, by: &str) -> Result<Vec<(Deed, String)>, Unsigned> {
    let own: Vec<Deed> = deeds(job.plan(), job.records(), since).into_iter().filter(|deed| deed.by == by).collect();
    if own.is_empty() {
        return Ok(Vec::new());
    }
    let unread = |fault: std::io::Error| Unsigned {
        message: format!("the journal or its signatures can't be read: {fault}"),
        help: "make the folder readable",
    };
    let heads = heads(job.dir()).map_err(unread)?;
    let beside = all_beside(job.dir()).map_err(unread)?;
    let (standing, _) = signed(&job.plan().job.id, &own, &heads, &beside, None, &Entered::new());
    let mut open: Vec<(Deed, String)> = Vec::new();
    for (deed, _) in own.into_iter().zip(standing).filter(|(_, it)| it.standing == Standing::Unsigned) {
        // A line may keep the same act twice; one signature is for both.
        let again = open.iter().any(|(before, _)| (before.line, before.act) == (deed.line, deed.act));
        if let Some(head) = (deed.line as usize).checked_sub(1).and_then(|at| heads.get(at)).filter(|_| !again) {
            open.push((deed, head.clone()));
        }
    }
    Ok(open)
}
