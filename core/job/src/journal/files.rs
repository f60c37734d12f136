//! The files of its folder that a journal names.

use std::collections::BTreeMap;

use super::{Contents, LARGEST_JOURNAL, LARGEST_PLAN, LINES, PLAN, evidence, keeps_apart, recover, texts};
use crate::event::Event;

/// By their names in the folder, with `/` between; how many bytes of each belong to the job at most. All that is needed to look
/// at it elsewhere, and nothing else.
pub fn files(contents: &Contents) -> BTreeMap<String, u64> {
    let mut files = BTreeMap::from([(LINES.to_owned(), LARGEST_JOURNAL), (PLAN.to_owned(), LARGEST_PLAN)]);
    let later = contents.later.iter().filter_map(|later| texts::later_name(&later.hash));
    let plans = contents.later.iter().filter_map(|later| later.text.as_ref().ok()).chain([&contents.plan]);
    let texts = plans.filter_map(|plan| texts::name_of(&plan.plan));
    files.extend(later.chain(texts).map(|name| (name, LARGEST_PLAN)));
    if keeps_apart(&contents.plan.plan) {
        files.insert(standpipe_apart::FILE.to_owned(), standpipe_apart::LARGEST);
    }
    for (_, evidence) in evidence::named(&contents.records) {
        let Some(name) = evidence::name_of(evidence) else { continue };
        // Of a stream as much as any event names.
        let bytes = evidence.of.as_ref().map_or(evidence::LARGEST, |part| part.bytes);
        let most = files.entry(name).or_default();
        *most = bytes.max(*most);
    }
    for record in &contents.records {
        let Event::Recovered { bytes, moved_to } = &record.event else { continue };
        if recover::is_aside(moved_to) {
            // One byte more shows that it is not what was moved.
            files.insert(moved_to.clone(), bytes.saturating_add(1));
        }
    }
    files
}
